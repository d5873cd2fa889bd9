"""The boxes for a check's result: numbers a cylinder, one number for the engine, or one of its outcomes in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import streamlit as st

from plugread.notebook import draft as drafts
from plugread.notebook.draft import Draft
from plugread.page import check_words, state, words
from plugread.records import CheckEntry
from plugread.rules.tables import Check

Field = Literal["values", "lengths_m"]


@dataclass(frozen=True)
class Measure:
    """How a measured check is entered: units it may come in, one value for the engine or one a cylinder.

    `book_value` = the book's value or range stands beside it; `where` = where air is heard; `lengths` = how long each lead is.
    """

    units: tuple[str, ...]
    whole_engine: bool = False
    book_value: bool = False
    where: bool = False
    lengths: bool = False


PRESSURES = ("psi", "bar", "kPa")
MEASURES: Mapping[str, Measure] = {
    "compression_dry": Measure(PRESSURES),
    "compression_wet": Measure(PRESSURES),
    "leak_down": Measure(("percent",), where=True),
    "lead_resistance": Measure(("kohm",), lengths=True),
    "plug_resistor": Measure(("kohm",)),
    "coil_resistance": Measure(("kohm", "ohm")),
    "plug_insulation": Measure(("Mohm",)),
    "fuel_pressure": Measure(("bar", "kPa", "psi"), whole_engine=True, book_value=True),
    "injector_balance": Measure(("kPa",)),
    "base_timing": Measure(("deg",), whole_engine=True, book_value=True),
    "oil_use_log": Measure(("litre_per_1000_km",), whole_engine=True),
}


def result(check: Check, cylinders: Sequence[int], draft: Draft, place: str) -> None:
    """Draw the boxes of one check; every change is kept at once. `place` tells the same check on two pages apart."""
    measure = MEASURES.get(check.id)
    if measure is None:
        _worded(check, cylinders, draft, place)
    elif measure.whole_engine:
        _engine_number(check, measure, draft, place)
    else:
        _cylinder_numbers(check, measure, cylinders, draft, place)


def done(draft: Draft, check_id: str) -> bool:
    """Return whether anything was entered for a check."""
    return any(entry.id == check_id and drafts.told(entry) for entry in draft.checks)


def _entry(draft: Draft, check_id: str, cylinder: int | None = None) -> CheckEntry | None:
    return next((entry for entry in draft.checks if (entry.id, entry.cylinder) == (check_id, cylinder)), None)


# ---- in words ----------------------------------------------------------------------------------------------


def _worded(check: Check, cylinders: Sequence[int], draft: Draft, place: str) -> None:
    places: Sequence[int | None] = [None] if check.per == "engine" else cylinders
    names = {outcome.id: outcome.name for outcome in check.outcomes}
    for number in places:
        key = state.box(f"{place}.{check.id}.{number}")
        label = check_words.RESULT if number is None else check_words.RESULT_AT.format(n=number)
        entry = _entry(draft, check.id, number)
        st.pills(
            label, list(names), default=entry.outcome if entry else None, format_func=lambda i: names[i], key=key,
            on_change=_worded_in, args=(key, check.id, number), wrap=True,
        )  # fmt: skip
        if entry and (advice := next((o.advice for o in check.outcomes if o.id == entry.outcome), "")):
            st.caption(advice)
    _rest(check, [n for n in places if n is not None and _entry(draft, check.id, n) is None], place)


def _rest(check: Check, open_places: Sequence[int], place: str) -> None:
    """Offer to enter the ordinary outcome for all cylinders that have none yet, in one tap."""
    ordinary = next((outcome for outcome in check.outcomes if outcome.fallthrough), None)
    if ordinary is None or len(open_places) < 2:
        return
    label = check_words.REST.format(outcome=ordinary.name, where=words.about_cylinders(open_places))
    st.button(
        label, key=state.box(f"{place}.{check.id}.rest"), on_click=_rest_in, args=(check.id, ordinary.id, open_places),
        icon=":material/done_all:",
    )  # fmt: skip


def _rest_in(check_id: str, outcome: str, open_places: Sequence[int]) -> None:
    def step(draft: Draft) -> Draft:
        for number in open_places:
            draft = drafts.record(draft, CheckEntry(check_id, number, outcome))
        return draft

    state.change(step)
    state.fresh_boxes()


def _worded_in(key: str, check_id: str, number: int | None) -> None:
    outcome = st.session_state[key]
    if outcome is None:
        state.change(lambda d: drafts.without_check(d, check_id, number))
    else:
        state.change(lambda d: drafts.record(d, CheckEntry(check_id, number, outcome)))


# ---- in numbers --------------------------------------------------------------------------------------------


def _unit(check: Check, measure: Measure, old: CheckEntry, place: str) -> str:
    """Ask for the unit where there is a choice; a change of unit keeps the numbers as they were typed."""
    if len(measure.units) == 1:
        return measure.units[0]
    key = state.box(f"{place}.{check.id}.unit")
    now = old.unit or measure.units[0]
    unit = st.segmented_control(
        check_words.UNIT, measure.units, default=now, required=True, key=key, format_func=check_words.unit
    )
    if unit and unit != now and (old.values or old.value is not None):
        state.change(lambda d: drafts.record(d, replace(old, unit=unit)))
        st.rerun()
    return unit or now


def _cylinder_numbers(check: Check, measure: Measure, cylinders: Sequence[int], draft: Draft, place: str) -> None:
    old = _entry(draft, check.id) or CheckEntry(check.id)
    unit = _unit(check, measure, old, place)
    for number in cylinders:
        label = check_words.RESULT_AT.format(n=number)
        with st.container(horizontal=True, vertical_alignment="center", key=state.box(f"line.{place}.{check.id}.{number}")):
            st.html(f'<span class="pr-label" aria-hidden="true">{label}</span>', width="content")
            _number(check.id, number, "values", (f"{label}, {check_words.unit(unit)}", check_words.unit(unit)), old, unit, place)
            if measure.lengths:
                said = (check_words.LEAD_LENGTH.format(n=number), check_words.LEAD_METRES)
                _number(check.id, number, "lengths_m", said, old, unit, place)
            if measure.where and number in old.values:
                _where(check, old, number, place)
    if measure.lengths:
        st.caption(check_words.LEAD_HELP)


def _number(check_id: str, number: int, field: Field, said: tuple[str, str], old: CheckEntry, unit: str, place: str) -> None:
    """Draw the box for one number of one cylinder; `said` is its name and what stands in it while it is empty."""
    now: Mapping[int, float] = getattr(old, field)
    key = state.number_box(f"{place}.{check_id}.{field}.{number}", now.get(number))
    st.number_input(
        said[0], min_value=0.0, value=None, step=None, format="%g", key=key, width=130, placeholder=said[1],
        on_change=_number_in, args=(key, check_id, number, field, unit), label_visibility="collapsed",
    )  # fmt: skip


def _number_in(key: str, check_id: str, number: int, field: Field, unit: str) -> None:
    typed = st.session_state[key]

    def step(draft: Draft) -> Draft:
        old = _entry(draft, check_id) or CheckEntry(check_id)
        before: Mapping[int, float] = getattr(old, field)
        now = {n: v for n, v in before.items() if n != number} | ({number: float(typed)} if typed is not None else {})
        now = dict(sorted(now.items()))
        entry = replace(old, unit=unit, values=now) if field == "values" else replace(old, unit=unit, lengths_m=now)
        entry = replace(entry, where={n: w for n, w in entry.where.items() if n in entry.values})
        return drafts.record(draft, entry) if entry.values or entry.lengths_m else drafts.without_check(draft, check_id, None)

    state.change(step)


def _where(check: Check, old: CheckEntry, number: int, place: str) -> None:
    key = state.box(f"{place}.{check.id}.{number}.where")
    places = list(check_words.LEAKS_TO)
    now = old.where.get(number)
    st.selectbox(
        check_words.LEAK_WHERE, places, index=places.index(now) if now in places else None, key=key, width=220,
        format_func=lambda i: check_words.LEAKS_TO[i], placeholder=check_words.LEAK_NOWHERE, on_change=_where_in,
        args=(key, check.id, number),
    )  # fmt: skip


def _where_in(key: str, check_id: str, number: int) -> None:
    heard = st.session_state[key]

    def step(draft: Draft) -> Draft:
        old = _entry(draft, check_id) or CheckEntry(check_id)
        where = {n: w for n, w in old.where.items() if n != number} | ({number: heard} if heard else {})
        return drafts.record(draft, replace(old, where=where))

    state.change(step)


def _engine_number(check: Check, measure: Measure, draft: Draft, place: str) -> None:
    old = _entry(draft, check.id) or CheckEntry(check.id)
    unit = _unit(check, measure, old, place)
    low, high = _book(old)
    boxes = {"value": (check_words.VALUE, old.value)}
    if measure.book_value:
        boxes |= {"low": (check_words.SPEC, low)} | ({"high": (check_words.SPEC_TO, high)} if low is not None else {})
    with st.container(horizontal=True, key=state.box(f"{place}.{check.id}.row")):
        for field, (label, now) in boxes.items():
            key = state.number_box(f"{place}.{check.id}.{field}", now)
            st.number_input(
                f"{label}, {check_words.unit(unit)}", value=None, step=None, format="%g", key=key,
                placeholder=check_words.unit(unit), on_change=_engine_number_in, args=(key, check.id, field, unit), width=230,
            )  # fmt: skip


def _book(entry: CheckEntry) -> tuple[float | None, float | None]:
    """Return the book's value, or the two ends of its range."""
    return entry.spec if isinstance(entry.spec, tuple) else (entry.spec, None)


def _engine_number_in(key: str, check_id: str, field: str, unit: str) -> None:
    typed = st.session_state[key]

    def step(draft: Draft) -> Draft:
        old = _entry(draft, check_id) or CheckEntry(check_id)
        low, high = _book(old)
        told = {"value": old.value, "low": low, "high": high} | {field: float(typed) if typed is not None else None}
        low, high = told["low"], told["high"] if told["low"] is not None else None
        spec = (low, high) if low is not None and high is not None else low
        nothing = told["value"] is None and spec is None
        entry = replace(old, unit=unit, value=told["value"], spec=spec)
        return drafts.without_check(draft, check_id, None) if nothing else drafts.record(draft, entry)

    state.change(step)
