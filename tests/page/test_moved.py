"""What a check's result moved: worked out from the ranking with it and the one without, told in the page's words."""

from __future__ import annotations

import re

import pytest

from plugread import pipeline
from plugread.chances import in_words
from plugread.errors import CaseError
from plugread.notebook import draft as drafts
from plugread.notebook.draft import Draft, to_case
from plugread.notebook.engines import usual
from plugread.page import check_words
from plugread.page.parts import moved
from plugread.page.parts.moved import Move, last_check, moves, without
from plugread.page.reads import Listed, View
from plugread.records import CauseRank, CheckEntry

LOW_ON_3 = CheckEntry("compression_dry", unit="psi", values={1: 150.0, 2: 148.0, 3: 90.0, 4: 151.0})


def ranking(none_listed: float = 0.1, **chances: float) -> Listed:
    """Causes of cylinder 3, the likeliest first."""
    ranked = sorted(chances.items(), key=lambda item: -item[1])
    return [CauseRank(name, "cylinder", (3,), chance) for name, chance in ranked], none_listed


def told(before: Listed, after: Listed) -> list[tuple[str, float, float, bool]]:
    return [(m.cause.id if m.cause else "none", m.before, m.after, m.first) for m in moves(before, after)]


def test_what_comes_first_is_told_first() -> None:
    """A cause that has come first stands before those that moved as far, each with its chance before and after."""
    before, after = ranking(gasket=0.12, coil=0.5, lead=0.2), ranking(gasket=0.41, coil=0.15, lead=0.18)
    assert told(before, after) == [("gasket", 0.12, 0.41, True), ("coil", 0.5, 0.15, False)]


def test_nothing_is_told_where_nothing_moved_noticeably() -> None:
    """Moves under five of a hundred, with the same cause first, are not worth a word."""
    assert moves(ranking(gasket=0.5, coil=0.2), ranking(gasket=0.54, coil=0.16)) == ()


def test_another_cause_first_is_told_however_little_it_moved() -> None:
    """Two causes that change places are told, for the list reads otherwise now."""
    assert told(ranking(gasket=0.3, coil=0.31), ranking(gasket=0.32, coil=0.3)) == [("gasket", 0.3, 0.32, True)]


def test_no_more_than_three_moves_and_none_of_these_among_them() -> None:
    """Of many moves the three longest are told; "none of these" counts like a cause."""
    before = ranking(0.6, a=0.4, b=0.3, c=0.2, d=0.2)
    assert [m[0] for m in told(before, ranking(0.1, a=0.8, b=0.05, c=0.1, d=0.14))] == ["none", "a", "b"]


def test_a_cause_without_a_chance_before_is_not_guessed_at() -> None:
    """A cause that one of the rankings does not hold has no move, whatever its place."""
    assert told(ranking(coil=0.6), ranking(gasket=0.7, coil=0.6)) == []


@pytest.mark.parametrize("after", [LOW_ON_3, CheckEntry("swap_plug", 3, "moved")])
def test_the_result_entered_last_counts(after: CheckEntry) -> None:
    """Of two checks the later one is told of; taken back, the earlier one is again; a lead's length alone is no result."""
    draft = drafts.record(drafts.record(Draft(usual()), CheckEntry("pcv_check", None, "works")), after)
    assert last_check(draft) == after.id
    assert last_check(drafts.record(draft, CheckEntry("lead_resistance", lengths_m={1: 0.5}))) == after.id
    assert last_check(drafts.without_check(draft, after.id, after.cylinder)) == "pcv_check"
    assert [entry.id for entry in without(draft, after.id).checks] == ["pcv_check"]
    assert last_check(Draft(usual())) is None


def test_moves_of_the_real_reasoning_are_the_difference_of_two_rankings() -> None:
    """Low compression on an oily plug: each chance told is the one the ranking has without the result, and with it."""
    before = drafts.tick(Draft(usual()), 3, ["oil_fouled"], ["oil_fouled"])
    after = drafts.record(before, LOW_ON_3)
    without_it, with_it = (pipeline.list_causes(to_case(draft), {}) for draft in (without(after, LOW_ON_3.id), after))
    found = moves(without_it, with_it)
    assert found[0].cause == with_it[0][0] and found[0].first and found[0].after > found[0].before + 0.3
    chances = [{(c.id, c.cylinders): c.probability for c in one[0]} for one in (without_it, with_it)]
    for move in found:
        assert move.cause is not None
        assert [move.before, move.after] == [one[move.cause.id, move.cause.cylinders] for one in chances]


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({1: 150.0, 2: 148.0, 3: 90.0, 4: 151.0}, "Compression, dry: low (cylinder 3)"),
        ({1: 150.0, 2: 80.0, 3: 90.0, 4: 151.0}, "Compression, dry: low (cylinders 2 and 3)"),
        ({1: 150.0, 2: 148.0, 3: 149.0, 4: 151.0}, "Compression, dry: normal (cylinders 1, 2, 3 and 4)"),
    ],
)
def test_what_came_out(values: dict[int, float], said: str) -> None:
    """The outcome the values count as is named with its cylinders; the ordinary one only where it is the only one."""
    draft = drafts.record(Draft(usual()), CheckEntry("compression_dry", unit="psi", values=values))
    check = pipeline.default_rules().checks["compression_dry"]
    assert moved._came_out(check, pipeline.check_outcomes(to_case(draft))) == said


def test_moves_are_said_in_the_words_of_the_ranking() -> None:
    """Chances stand as words and figure, as in the list of causes; up and down differ in more than the sign's shape."""
    up = Move(CauseRank("head_gasket_between", "pair", (2, 3), 0.41), 0.12, 0.41, first=True)
    down = Move(None, 0.3, 0.1)
    html = moved._html("Compression, dry: low", [up, down], pipeline.default_rules())
    text = re.sub("<[^>]*>", "", html)
    for chance in (0.12, 0.41, 0.3, 0.1):
        assert f"{in_words(chance)} ({chance:.0%})" in text
    assert text.count(check_words.MOVED_FIRST) == 1
    assert f"{check_words.MOVED_UP}: " in text and f"{check_words.MOVED_DOWN}: None of these" in text


def test_what_cannot_be_told_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the list without the last check cannot be worked out the page says so, and why, instead of nothing."""

    def fails(*_: object) -> None:
        raise CaseError("two results contradict each other", "take one back")

    said: list[str] = []
    monkeypatch.setattr(moved.reads, "causes_of", fails)
    monkeypatch.setattr(moved.st, "caption", said.append)
    draft = drafts.record(Draft(usual()), CheckEntry("compression_dry", unit="psi", values={1: 150.0, 2: 90.0}))
    moved.moved(draft, View({}, {}, {}), None, pipeline.default_rules())  # type: ignore[arg-type]
    assert len(said) == 1
    assert "cannot be told" in said[0] and "contradict" in said[0]
