"""What the last check's result moved in the ranking: the ranking with it against the one without, never a guess."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape

import streamlit as st

from plugread import pipeline
from plugread.chances import in_words
from plugread.errors import PlugreadError
from plugread.notebook import draft as drafts
from plugread.notebook.draft import Draft, to_case
from plugread.page import check_words, reads, words
from plugread.page.parts.causes import cause_name
from plugread.page.reads import Listed, View
from plugread.records import CauseRank, Diagnosis
from plugread.rules.tables import Check, Rules

NOTICED = 0.05
"""A chance that moved by less is not told, unless another cause has come first."""
MOST_TOLD = 3


@dataclass(frozen=True)
class Move:
    """How far one cause's chance moved; `cause` None stands for "none of these", `first` = it has come first with this."""

    cause: CauseRank | None
    before: float
    after: float
    first: bool = False


def moves(before: Listed, after: Listed) -> tuple[Move, ...]:
    """Return the moves worth telling, the new first cause before the others, those by how far they moved; () for none."""
    was = {_place(cause): cause.probability for cause in before[0]}
    told = [Move(cause, was[_place(cause)], cause.probability) for cause in after[0] if _place(cause) in was]
    told.append(Move(None, before[1], after[1]))
    if before[0] and after[0] and _place(before[0][0]) != _place(after[0][0]):
        told = [replace(move, first=move.cause is after[0][0]) for move in told]
    worth = [move for move in told if move.first or abs(move.after - move.before) >= NOTICED]
    return tuple(sorted(worth, key=lambda move: (not move.first, -abs(move.after - move.before)))[:MOST_TOLD])


def _place(cause: CauseRank) -> tuple[str, tuple[int, ...]]:
    return cause.id, cause.cylinders


def last_check(draft: Draft) -> str | None:
    """Return the id of the check whose result was entered last; None if no result stands."""
    return next((entry.id for entry in reversed(draft.checks) if drafts.told(entry)), None)


def without(draft: Draft, check_id: str) -> Draft:
    """Return the draft as it would be had this check not been done."""
    return replace(draft, checks=tuple(entry for entry in draft.checks if entry.id != check_id))


def moved(draft: Draft, view: View, diagnosis: Diagnosis, rules: Rules) -> None:
    """Say what came out of the last check and how far it moved which chance; nothing where it moved none noticeably."""
    check = rules.checks.get(last_check(draft) or "")
    if check is None:
        return
    try:
        before = reads.causes_of(without(draft, check.id), view)
    except PlugreadError as problem:  # without this check the others may contradict one another
        st.caption(check_words.MOVED_UNKNOWN.format(why=words.sentence(str(problem))))
        return
    if found := moves(before, (diagnosis.causes, diagnosis.none_listed)):
        st.html(_html(_came_out(check, pipeline.check_outcomes(to_case(draft))), found, rules))


def _came_out(check: Check, outcomes: Mapping[tuple[str, int | None], str]) -> str:
    """Return what came out, by outcome; the ordinary one is named only where it is the only one."""
    places = [(o, sorted(n or 0 for (i, n), came in outcomes.items() if (i, came) == (check.id, o.id))) for o in check.outcomes]
    seen = [(o, where) for o, where in places if where]
    telling = [(o, where) for o, where in seen if not o.fallthrough] or seen
    return check_words.came_out(check.name, [(o.name, [n for n in where if n]) for o, where in telling])


def _html(said: str, found: Sequence[Move], rules: Rules) -> str:
    title = f'<p class="pr-small">{escape(check_words.MOVED_TITLE)}</p><p><b>{escape(said)}</b></p>'
    return f'<section class="pr-moved" role="status">{title}<ul>{"".join(_item(move, rules) for move in found)}</ul></section>'


def _item(move: Move, rules: Rules) -> str:
    """Return one move: up or down as a sign and in words, the cause, its chance before and after."""
    up = move.after > move.before
    way = check_words.MOVED_UP if up else check_words.MOVED_DOWN
    name = cause_name(move.cause, rules) if move.cause else words.CAUSES_NONE
    tag = f' <span class="pr-tag">{escape(check_words.MOVED_FIRST)}</span>' if move.first else ""
    to = f' <span aria-hidden="true">→</span> <span class="pr-hide">{escape(check_words.MOVED_TO)}</span> '
    chances = f"<span>{_chance(move.before)}</span>{to}<b>{_chance(move.after)}</b>"
    head = f'<span class="pr-hide">{escape(way)}: </span>{escape(name)}{tag}'
    return f'<li class="{"up" if up else "down"}">{head}<span class="chances">{chances}</span></li>'


def _chance(probability: float) -> str:
    return f"{escape(in_words(probability))} ({probability:.0%})"
