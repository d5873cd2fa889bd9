"""The tool against the bank: shares over the whole bank, and what may never happen in any single case."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache

import pytest

from plugread.casefile import parse_case
from plugread.errors import CaseError
from plugread.pipeline import default_rules, diagnose_case
from plugread.records import Diagnosis
from tests.cases.bank import HERE, KEYS, KINDS, MARKS, BankCase, answer, faults, load_case_files

BANK = load_case_files()
BAD = load_case_files(HERE / "bad")
BARS = {"first_any": 0.90, "top3_all": 0.97, "never_first": 1.00, "verdicts": 0.95, "first_checks_any": 0.90, "below": 1.00}
"""Least share of the cases with that expectation in which it must hold; our own bars, no source."""


@cache
def answered(name: str) -> Diagnosis:
    return answer(next(case for case in BANK if case.name == name))


def named(case: BankCase) -> str:
    return case.name


@pytest.mark.parametrize("key", BARS)
def test_share_of_the_bank(key: str) -> None:
    """Over the whole bank the expectation holds at least as often as its bar says."""
    results = {case.name: faults(case, answered(case.name))[key] for case in BANK if key in case.expect}
    wrong = [f"{name}: {fault}" for name, fault in results.items() if fault]
    share = 1 - len(wrong) / len(results)
    assert share >= BARS[key], "\n".join([f"{key} holds in {share:.3f} of {len(results)}, bar {BARS[key]}", *wrong])


@pytest.mark.parametrize("case", BANK, ids=named)
def test_probabilities_are_sorted(case: BankCase) -> None:
    """Each case runs, and its causes come sorted with probabilities inside 0 to 1."""
    given = [cause.probability for cause in answered(case.name).causes]
    assert given == sorted(given, reverse=True) and all(0 <= p <= 1 for p in given)


@pytest.mark.parametrize("case", [case for case in BANK if "never_first" in case.expect], ids=named)
def test_never_first(case: BankCase) -> None:
    """No cause that a mechanic would laugh at stands first."""
    assert MARKS["never_first"](case.expect, answered(case.name)) is None


@pytest.mark.parametrize("case", [case for case in BANK if case.expect["verdicts"] == ["do_not_run"]], ids=named)
def test_danger_stops_the_engine(case: BankCase) -> None:
    """Metal, melted or missing parts and coolant in the cylinder always say: do not run."""
    assert answered(case.name).verdict.action == "do_not_run"


@pytest.mark.parametrize("case", [case for case in BANK if case.expect["verdicts"] == ["carry_on"]], ids=named)
def test_a_sound_engine_is_left_alone(case: BankCase) -> None:
    """Harmless looks never send anybody looking for a fault."""
    assert answered(case.name).verdict.action == "carry_on"


@pytest.mark.parametrize("case", BAD, ids=named)
def test_bad_input_is_refused_in_one_line(case: BankCase) -> None:
    """A case that contradicts itself is refused in one line that names what was found."""
    words = "".join(f"(?=.*{re.escape(word)})" for word in case.expect["error_contains"])
    with pytest.raises(CaseError, match=rf"^{words}.+\Z"):
        diagnose_case(parse_case(case.text), shakes=0)


# ---- the bank itself -------------------------------------------------------------------------------------


def test_every_case_states_its_ground() -> None:
    """Each case has a known kind, a source and a reason."""
    assert [c.name for c in BANK if c.expect["kind"] not in KINDS or not c.expect["source"] or not c.expect["why"]] == []


def test_every_expectation_is_marked() -> None:
    """No case expects anything the marking does not know."""
    assert {key for case in BANK for key in case.expect} <= set(KEYS)


def test_common_practice_is_marked_as_such() -> None:
    """`common practice, no source` stands beside exactly the cases of that kind."""
    unsourced = {case.name for case in BANK if case.expect["source"] == "common practice, no source"}
    assert unsourced == {case.name for case in BANK if case.expect["kind"] == "common_practice"}


def test_most_cases_come_from_print() -> None:
    """At least 75 cases, more than half of them published or built from a published rule."""
    kinds = Counter(case.expect["kind"] for case in BANK)
    assert len(BANK) >= 75 and kinds["published"] + kinds["rule"] > len(BANK) / 2


def test_every_reading_is_seen_in_some_case() -> None:
    """No reading of the rule base goes untried."""
    seen = {reading for case in BANK for plug in parse_case(case.text).plugs for reading in plug.seen}
    assert {finding.id for finding in default_rules().findings.values() if finding.level == "cylinder"} - seen == set()


def test_every_cause_is_wanted_in_some_case() -> None:
    """No cause of the rule base goes without a case in which it is the answer, or one of them."""
    entries = [entry for case in BANK for key in ("first_any", "top3_all") for entry in case.expect.get(key, [])]
    wanted = {name.partition("@")[0] for entry in entries for name in entry.split("|")}
    assert set(default_rules().causes) - wanted == set()
