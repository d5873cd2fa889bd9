"""Each kind of fault, once: a sound rule base is copied, one place is spoilt, and the fault must be named with its place."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from plugread.rules.load import own_folder
from plugread.rules.validate import faults, main

SPOILT = {
    "broken TOML": ("bands.toml", "[[band]]", "[[band", r"bands.toml: not valid TOML"),
    "unknown table": ("bands.toml", "[[band]]", "[[bnad]]", r"no table is called 'bnad'"),
    "unknown field": ("bands.toml", "unit = ", "unitt = ", r"bands.toml: band compression_dry: no field 'unitt'.*'unit'"),
    "missing field": ("bands.toml", "unit = ", "# unit = ", r"band compression_dry: unit is missing"),
    "empty text": ("readings_outside.toml", 'name = "Corona stain"', 'name = ""', r"finding corona_stain: name: is empty"),
    "wrong kind": (
        "readings_outside.toml",
        "severity = 0",
        'severity = "0"',
        r"finding corona_stain: severity: '0' is not a whole",
    ),
    "unknown word": ("causes_groups.toml", 'scope="bank"', 'scope="bnak"', r"bank_mixture_rich: scope: 'bnak' .*'bank'"),
    "unknown prior": ("causes_groups.toml", '"uncommon"', '"uncomon"', r"bank_mixture_rich: prior: 'uncomon' .*'uncommon'"),
    "unknown cause": (
        "links_oil.toml",
        "rings_worn",
        "ring_worn",
        r"links_oil.toml: link ring_worn -> oil_fouled: cause: .*'rings_worn'",
    ),
    "unknown finding": ("links_oil.toml", '"oil_fouled"', '"oil_foled"', r"rings_worn -> oil_foled: finding: .*'oil_fouled'"),
    "unknown caution": (
        "checks_engine.toml",
        "crank_disabled",
        "crank_disable",
        r"check compression_dry: cautions: .*'crank_disabled'",
    ),
    "unknown check": (
        "patterns.toml",
        "air_filter_look",
        "air_filter_lok",
        r"all_alike_sooty: first_checks: .*'air_filter_look'",
    ),
    "unknown band": ("checks_engine.toml", 'bands = "leak_down"', 'bands = "leakdown"', r"check leak_down: bands: .*'leak_down'"),
    "band of another check": (
        "checks_engine.toml",
        'bands = "leak_down"',
        'bands = "oil_use"',
        r"bands: oil_use belongs to check oil_use_log",
    ),
    "limit not a number": (
        "bands.toml",
        "low_share = 0.75",
        'low_share = "low"',
        r"band compression_dry: limits.low_share: 'low'",
    ),
    "unknown need": ("causes_groups.toml", "layout=", "laoyut=", r"needs: an engine has no 'laoyut'.*'layout'"),
    "unknown need value": ("causes_groups.toml", '"vee"', '"v"', r"needs.layout: 'v' is not known"),
    "unknown source": ("links_oil.toml", "faa_ac43:8-16", "faa_ac34:8-16", r"sources: 'faa_ac34' .*'faa_ac43'"),
    "source without place": ("links_oil.toml", "faa_ac43:8-16", "faa_ac43", r"sources: 'faa_ac43' names no place"),
    "handbook without source": (
        "bands.toml",
        "sources = [",
        "sources = [] # [",
        r"band compression_dry: sources: grade 'handbook' needs",
    ),
    "always without source": (
        "links_oil.toml",
        'strength="sometimes", grade="common_practice"',
        'strength="always", grade="common_practice"',
        r"strength: 'always' needs a source",
    ),
    "severity out of range": (
        "readings_outside.toml",
        "severity = 0",
        "severity = 7",
        r"corona_stain: severity: 7 is outside 0 to 4",
    ),
    "danger without stop": ("readings_outside.toml", "stop = ", "# stop = ", r"finding gas_past_insulator: stop is missing"),
    "stop without danger": ("readings_outside.toml", "danger = true", "danger = false", r"gas_past_insulator: danger is missing"),
    "sign of a cylinder": ("signs.toml", 'level="engine"', 'level="cylinder"', r"finding short_trips: level: a sign belongs"),
    "id twice": ("causes_groups.toml", "bank_mixture_lean", "bank_mixture_rich", r"cause bank_mixture_rich: stands 2 times"),
    "link twice": ("links_oil.toml", 'cause="pcv_fault"', 'cause="rings_worn"', r"link rings_worn -> oil_fouled: stands 2 times"),
    "no fallthrough": ("checks_engine.toml", ", fallthrough=true", "", r"outcome normal: fallthrough: the last outcome"),
    "no false alarm": ("checks_engine.toml", ', false_alarm="rare_sign"', "", r"outcome low: false_alarm is missing"),
    "answer to no outcome": ("checks_engine.toml", '{outcome="low"', '{outcome="lwo"', r"answer \w+: outcome: 'lwo' .*'low'"),
    "chance outside 0 to 1": ("scales.toml", "= 0.98", "= 1.0", r"scales.toml: scales link: always: 1.0 is not strictly"),
    "scale word not a number": ("scales.toml", "= 0.98", '= "sure"', r"scales link: always: 'sure' is not a number"),
    "unknown scale": ("scales.toml", "= 0.98", "= 0.98\n[scales.luck]\nsome = 1", r"scales luck: not a scale"),
    "loss unknown": ("scales.toml", "hourly", "hourely", r"losses: hourly is missing"),
    "negative loss": ("scales.toml", "hourly = 25.0", "hourly = -25.0", r"losses: hourly: -25.0 is not a number from 0 up"),
    "caution empty": ("cautions.toml", 'waste = "', 'waste = "" # "', r"caution waste: is not a sentence"),
    "look row too full": ("looks.toml", "normal = 0.80", "normal = 0.95", r"looks normal: names 1.11 in all"),
    "look unknown": ("looks.toml", "loose_powder = 0.04", "loose_power = 0.04", r"looks normal: 'loose_power' is not a reading"),
    "look not a chance": ("looks.toml", "normal = 0.80", 'normal = "much"', r"looks normal: normal: 'much' is not a chance"),
    "look missing": ("looks.toml", "\nstruck = {", "\nstuck = {", r"looks: 'struck' is missing"),
    "dominance missing": ("looks.toml", '"lean_white", "worn",', '"lean_white",', r"order dominance: 'worn' is missing"),
    "dominance twice": ("looks.toml", '"lean_white", "worn",', '"lean_white", "worn", "worn"', r"'worn' stands more than once"),
}


def spoil(folder: Path, file: str, good: str, bad: str) -> None:
    for path in own_folder().glob("*.toml"):
        shutil.copy(path, folder)
    text = (folder / file).read_text("utf-8")
    assert good in text
    (folder / file).write_text(text.replace(good, bad, 1), "utf-8")


def test_own_rule_base_has_no_fault() -> None:
    """The rule base that comes with the package is sound."""
    assert faults(own_folder()) == []


@pytest.mark.parametrize("kind", SPOILT)
def test_fault_is_named_with_its_place(kind: str, tmp_path: Path) -> None:
    """The spoilt place is named, with the nearest known word where there is one."""
    file, good, bad, message = SPOILT[kind]
    spoil(tmp_path, file, good, bad)
    found = faults(tmp_path)
    assert any(re.search(message, line) for line in found), found


def test_one_fault_hides_no_other(tmp_path: Path) -> None:
    """A file that is not TOML at all leaves the faults of the other files in the list."""
    spoil(tmp_path, "links_oil.toml", "rings_worn", "rings_wron")
    (tmp_path / "cautions.toml").write_text("[caution", "utf-8")
    found = "\n".join(faults(tmp_path))
    assert "cautions.toml: not valid TOML" in found
    assert "rings_wron" in found


def test_row_that_is_no_table_is_a_fault(tmp_path: Path) -> None:
    """A bare word in a list of rows is reported, not a crash."""
    spoil(tmp_path, "links_oil.toml", "link = [", 'link = [ "rings",')
    assert any("link row 1: no field 'not a row'" in line for line in faults(tmp_path))


def test_command_leaves_with_one_and_all_faults(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The command prints every fault on stderr, nothing on stdout, and leaves with 1."""
    spoil(tmp_path, "links_oil.toml", "rings_worn", "rings_wron")
    assert main([str(tmp_path)]) == 1
    printed = capsys.readouterr()
    assert "rings_wron" in printed.err
    assert printed.out == ""


def test_command_leaves_with_nought_for_the_own_rule_base(capsys: pytest.CaptureFixture[str]) -> None:
    """Without faults the command leaves with 0 and stderr stays empty."""
    assert main([]) == 0
    assert capsys.readouterr().err == ""
