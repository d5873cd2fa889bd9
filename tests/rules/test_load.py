"""What the loader makes of the rule files."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from plugread.errors import RuleBaseError
from plugread.rules.load import load_rules, own_folder
from plugread.rules.tables import Rules


@pytest.fixture(scope="module")
def rules() -> Rules:
    return load_rules()


def test_own_rule_base_loads_from_a_copy(rules: Rules, tmp_path: Path) -> None:
    """The same files in another folder give the same rule base."""
    for path in own_folder().glob("*.toml"):
        shutil.copy(path, tmp_path)
    assert load_rules(tmp_path) == rules


def test_look_rows_are_chances(rules: Rules) -> None:
    """Each row of the look table sums to one and leaves no look impossible."""
    sums = {state: pytest.approx(1.0, abs=1e-12) for state in rules.looks}
    assert {state: sum(row.values()) for state, row in rules.looks.items()} == sums
    assert min(min(row.values()) for row in rules.looks.values()) > 0.0


def test_every_look_is_most_often_read_as_itself(rules: Rules) -> None:
    """No state of a firing end is read as another more often than as itself."""
    assert {state: max(row, key=row.__getitem__) for state, row in rules.looks.items()} == {state: state for state in rules.looks}


def test_last_outcome_alone_falls_through(rules: Rules) -> None:
    """In every check the last outcome, and only the last, is the one seen when no other fires."""
    for check in rules.checks.values():
        assert [outcome.fallthrough for outcome in check.outcomes] == [False] * (len(check.outcomes) - 1) + [True], check.id


def test_answers_stand_with_their_outcome(rules: Rules) -> None:
    """A head gasket between two cylinders answers to 'low' of the dry compression test (US Army TM 10-3930-647-14&P)."""
    low = rules.checks["compression_dry"].outcomes[0]
    assert low.id == "low"
    assert "head_gasket_between" in {answer.cause for answer in low.answers}


def test_scales_keep_the_order_of_their_words(rules: Rules) -> None:
    """A stronger word never has a smaller number."""
    for scale in (rules.scales.prior, rules.scales.link, rules.scales.look):
        assert list(scale.values()) == sorted(scale.values(), reverse=True)
    for scale in (rules.scales.leak, rules.scales.severity, rules.scales.put_right):
        assert list(scale.values()) == sorted(scale.values())


def test_faulty_folder_is_refused_with_all_its_faults(tmp_path: Path) -> None:
    """A folder with two faults is refused once, naming both."""
    for path in own_folder().glob("*.toml"):
        shutil.copy(path, tmp_path)
    links = tmp_path / "links_oil.toml"
    text = links.read_text("utf-8")
    links.write_text(text.replace("rings_worn", "rings_wron", 1).replace('"usually"', '"usualy"', 1), "utf-8")
    with pytest.raises(RuleBaseError, match=r"(?s)rings_wron.*usualy|usualy.*rings_wron"):
        load_rules(tmp_path)


def test_empty_folder_is_refused(tmp_path: Path) -> None:
    """A folder without rule files is refused, not read as an empty rule base."""
    with pytest.raises(RuleBaseError, match="no rule files"):
        load_rules(tmp_path)
