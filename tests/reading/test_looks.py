"""The table of looks: sound, sourced, and every fault named."""

from __future__ import annotations

import re
from importlib import resources

import pytest

from plugread.errors import RuleBaseError
from plugread.reading.looks import load_looks, parse_looks

TEXT = resources.files("plugread.reading").joinpath("looks.toml").read_text(encoding="utf-8")


def test_how_common_the_looks_are_sums_to_about_one() -> None:
    """Shares of all photographed plugs."""
    assert sum(look.common for look in load_looks().look.values()) == pytest.approx(1, abs=0.05)


def test_every_look_names_sources_of_the_rule_base() -> None:
    """Each row says whose words it puts into numbers, by the ids of the rule base."""
    text = resources.files("plugread.rules").joinpath("sources.toml").read_text(encoding="utf-8")
    known = set(re.findall(r'^id = "(\w+)"', text, re.MULTILINE))
    for look in load_looks().look.values():
        assert {source.split(":")[0] for source in look.sources} <= known
        assert look.sources


def test_normal_is_the_commonest_look() -> None:
    """Most plugs people photograph are healthy."""
    looks = load_looks().look
    assert max(looks, key=lambda name: looks[name].common) == "normal"


def test_dangerous_looks_are_rare() -> None:
    """Melted, struck, broken: one in a hundred or fewer."""
    looks = load_looks().look
    assert all(looks[name].common <= 0.012 for name in ("preignition_melt", "struck", "nose_piece_missing", "metal_specks"))


FAULTS = {
    "no words": (r'words = "scattered.*"', "", "splash_fouled: words is missing"),
    "spread of zero": (r"89, 0, 4, 4\.5, 1\.5, 3, 1\.0", "89, 0, 4, 0, 1.5, 3, 1.0", "lean_white: colour .* three spreads > 0"),
    "borrowed from nowhere": (r'colour_of = "overheated"', 'colour_of = "scorched"', "'scorched' is no look with a colour"),
    "chance above one": (r"dark = 0\.85", "dark = 1.85", r"dark = 1\.85 is no chance"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_of_the_table_is_named(fault: str) -> None:
    """The message names look, field and value."""
    found, put, words = FAULTS[fault]
    broken = re.sub(found, put, TEXT)
    assert broken != TEXT
    with pytest.raises(RuleBaseError, match=words):
        parse_looks(broken)


def test_all_faults_are_listed_at_once() -> None:
    """Two faults, two lines."""
    broken = re.sub(r"dark = 0\.85", "dark = 1.85", re.sub(r'colour_of = "overheated"', 'colour_of = "scorched"', TEXT))
    with pytest.raises(RuleBaseError) as caught:
        parse_looks(broken)
    assert len(str(caught.value).splitlines()) == 2
