"""Case files: what is read, and that each contradiction gets one clear line."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from plugread.casefile import load_case, parse_case
from plugread.errors import CaseError

FOUR: dict[str, Any] = {
    "engine": {
        "layout": "inline",
        "cylinders": 4,
        "firing_order": [1, 3, 4, 2],
        "induction": "port_injection",
        "closed_loop": True,
        "ignition": "distributor",
        "head": "aluminium",
        "plug": {"thread": "M14x1.25", "seat": "gasket", "electrode": "nickel", "gap_mm": 0.8, "distance_km": 42000},
    },
    "signs": {"seen": ["rough_idle"], "not_seen": ["coolant_loss"]},
    "plug": [{"cylinder": 1, "photo": "c1.jpg", "seen": ["carbon_fouled"], "not_seen": ["nose_cracked"], "gap_mm": 0.95}],
    "check": [{"id": "compression_dry", "unit": "psi", "values": {"1": 150, "2": 148, "3": 90, "4": 149}}],
}


def changed(*path: str | int, to: Any = None) -> dict[str, Any]:
    """The good case with one value replaced (or removed when `to` is the ellipsis)."""
    case: Any = copy.deepcopy(FOUR)
    at = case
    for key in path[:-1]:
        at = at[key]
    if to is ...:
        del at[path[-1]]
    else:
        at[path[-1]] = to
    return case


def test_a_good_case_is_read_whole() -> None:
    """Engine, signs, plugs and checks arrive with their numbers, cylinders as whole numbers."""
    case = parse_case(FOUR)
    assert case.engine.firing_order == (1, 3, 4, 2)
    assert case.engine.plug.distance_km == 42000
    assert case.plugs[0].seen == ("carbon_fouled",)
    assert case.checks[0].values == {1: 150.0, 2: 148.0, 3: 90.0, 4: 149.0}
    assert (case.signs_seen, case.signs_not_seen) == (("rough_idle",), ("coolant_loss",))


def test_json_of_the_same_shape_reads_the_same() -> None:
    """TOML tables and JSON objects give equal cases."""
    assert parse_case(json.dumps(FOUR)) == parse_case(FOUR)


@pytest.mark.parametrize(
    ("case", "words"),
    [
        (changed("engine", to=...), r"the \[engine\] table is missing"),
        (changed("engine", "layout", to="in-line"), "unknown layout 'in-line'; did you mean 'inline'"),
        (changed("engine", "cylinders", to=4.5), "cylinders is 4.5, not a whole number"),
        (changed("engine", "firing_order", to=[1, 3, 4]), "firing_order"),
        (changed("engine", "firing_order", to=[1, 3, 3, 2]), "firing_order"),
        (changed("engine", "closed_loop", to="yes"), "closed_loop is 'yes'"),
        (changed("engine", "plug", "gap_mm", to=-0.8), "gap_mm is -0.8"),
        (changed("signs", "seen", to=["ruff_idle"]), "unknown sign 'ruff_idle'; did you mean 'rough_idle'"),
        (changed("signs", "seen", to=["coolant_loss"]), "'coolant_loss' is both seen and not seen"),
        (changed("plug", 0, "cylinder", to=7), "there is no cylinder 7; the engine has 1, 2, 3, 4"),
        (changed("plug", to=[{"cylinder": 1}, {"cylinder": 1}]), "cylinder 1 has two"),
        (changed("plug", 0, "seen", to=["carbon_foul"]), "unknown reading 'carbon_foul'; did you mean 'carbon_fouled'"),
        (changed("plug", 0, "sean", to=[]), "unknown field 'sean'"),
        (changed("check", 0, "id", to="compresion_dry"), "unknown check 'compresion_dry'; did you mean 'compression_dry'"),
        (changed("check", 0, "values", to={"9": 150}), "there is no cylinder '9'"),
        (changed("check", 0, "values", to={"1": "high"}), "'high', not a number"),
        (changed("plugs", to=[]), "unknown field 'plugs'; did you mean 'plug'"),
    ],
)
def test_each_contradiction_gets_one_line(case: dict[str, Any], words: str) -> None:
    """The message names the place, the value found and what to do, on one line."""
    with pytest.raises(CaseError, match=words) as caught:
        parse_case(case)
    assert "\n" not in str(caught.value)


def test_broken_toml_names_the_line(tmp_path: Path) -> None:
    """A file that is no TOML is refused with the file's name and the parser's line."""
    path = tmp_path / "case.toml"
    path.write_text("[engine\nlayout = 3", encoding="utf-8")
    with pytest.raises(CaseError, match=r"case\.toml: not a case file: .*line 1"):
        load_case(path)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    """A file that is not there is named, with what to give instead."""
    with pytest.raises(CaseError, match=r"nowhere\.toml: cannot be opened.*give a TOML or JSON"):
        load_case(tmp_path / "nowhere.toml")


def test_photos_are_looked_for_beside_the_case(tmp_path: Path) -> None:
    """The case remembers the folder its file lies in."""
    path = tmp_path / "case.json"
    path.write_text(json.dumps(FOUR), encoding="utf-8")
    assert load_case(path).base_dir == str(tmp_path)
