"""The bench: the whole job on one page, from the photos to the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from plugread.engine import Engine
from plugread.errors import PlugreadError
from plugread.notebook.draft import Draft
from plugread.notebook.samples import sample_names
from plugread.page import reads, state, words
from plugread.page.parts.causes import causes, causes_html, finding_name, less_likely
from plugread.page.parts.compare import compare
from plugread.page.parts.drawing import Place
from plugread.page.parts.folded import folded
from plugread.page.parts.legend import legend
from plugread.page.parts.lesson import lesson
from plugread.page.parts.next_check import next_check
from plugread.page.parts.photos import arrange, full_size, left_out, take_in
from plugread.page.parts.plan import plan
from plugread.page.parts.plots import plots
from plugread.page.parts.plug_card import measured, plug_card
from plugread.page.parts.spot import WHOLE
from plugread.page.parts.strip import strip
from plugread.page.parts.ticks import signs, ticks
from plugread.page.parts.verdict import verdict
from plugread.page.reads import View
from plugread.records import Comparison, Diagnosis, Ranking
from plugread.resources import samples_dir
from plugread.rules.tables import Rules


def page() -> None:
    """Draw the bench."""
    kept = state.current()
    draft = kept.draft
    strip(draft)
    with st.container(key="welcome"):
        if draft.empty:
            st.header(words.START_TITLE, anchor=False)
            st.text(words.START_TEXT)
    left, right = st.columns([1, 1], gap="large")
    with left:
        drawn, buttons, told = st.container(key="drawn"), st.container(key="buttons"), st.container(key="told")
    with right:
        places = Places(st.container(key="first"), st.container(key="ranking"), st.empty(), st.container(key="rest"))
    with told:
        for remark in state.remarks():
            st.warning(remark, icon=":material/info:")
        view = reads.read_all(draft)
        diagnosis = _answer(draft, view, places)
        _problems(draft, view)
    draft = _led(draft, diagnosis)
    with drawn:
        _plan(draft, view, diagnosis)
    with left:
        _plug(draft, view, diagnosis)
        _photos(draft, view, kept.id, buttons)
    _answers(draft, view, diagnosis, places)
    _foot(draft, diagnosis)


def _samples() -> None:
    """Offer the sample engines."""
    names = [name for name in words.SAMPLES if name in sample_names(samples_dir())]
    if names:
        st.caption(words.SAMPLE_TITLE)
        with st.container(horizontal=True, key="samples"):
            for name in names:
                st.button(
                    words.SAMPLES[name],
                    key=f"sample.{name}",
                    on_click=state.open_sample,
                    args=(name,),
                    icon=":material/play_circle:",
                )


def _answer(draft: Draft, view: View, places: Places) -> Diagnosis | None:
    """Return the diagnosis, or None while nothing is known or what was entered contradicts itself (then it is said)."""
    if draft.empty or not (view.plugs or draft.plugs or draft.checks or draft.signs_seen):
        return None

    def ranked(ranking: Ranking) -> None:
        if draft.answer_may_show:
            places.rank(ranking, replace(draft, picked=_lead_to(draft, ranking.comparison)), view)
            places.wait()

    try:
        return reads.answer(draft, view, ranked)
    except PlugreadError as problem:
        st.error(words.sentence(str(problem)), icon=":material/error:")
        return None


def _led(draft: Draft, diagnosis: Diagnosis | None) -> Draft:
    """Return the draft, just after its photos were let speak with the first plug that stands out picked."""
    if diagnosis is None:
        return draft
    number = _lead_to(draft, diagnosis.comparison)
    st.session_state.pop("lead", None)
    return draft if number == draft.picked else state.change(lambda d: replace(d, picked=number))


def _lead_to(draft: Draft, found: Comparison) -> int:
    """Return the plug to show: the picked one, or just after the photos were let speak the first that stands out."""
    return found.odd[0] if st.session_state.get("lead") and found.odd else draft.picked


def _foot(draft: Draft, diagnosis: Diagnosis | None) -> None:
    """Draw the foot of the page: the verdict, or the button that lets the photos speak."""
    if draft.empty:
        return
    if draft.answer_may_show:
        verdict(diagnosis, words.VERDICT_START, reads.rules())
        return
    with st.bottom:
        st.button(words.SHOW, key="show", on_click=_show, width="stretch", icon=":material/visibility:")
        looked = sum(draft.looked(n) for n in draft.cylinders)
        st.caption(words.SHOW_WAITS.format(looked=looked, all=len(draft.cylinders)))


# ---- the drawing and the picked plug -----------------------------------------------------------------------


def _plan(draft: Draft, view: View, diagnosis: Diagnosis | None) -> None:
    odd = diagnosis.comparison.odd if diagnosis is not None and draft.answer_may_show else ()
    places = [_place(draft, view, n, n in odd) for n in draft.cylinders]
    plan(Engine(draft.engine), places, draft.picked, key="plan", pick=_pick)
    if len(draft.cylinders) > 1:
        key = state.box("pick")
        st.session_state[key] = draft.picked  # a tap on the drawing, or a number key, may have picked it
        st.segmented_control(
            words.PICK_LABEL, draft.cylinders, required=True, key=key, on_change=_picked, args=(key,),
            label_visibility="collapsed",
        )  # fmt: skip


def _picked(key: str) -> None:
    _pick(int(st.session_state[key]))


def _pick(number: int) -> None:
    state.change(lambda d: replace(d, picked=number))


def _problems(draft: Draft, view: View) -> None:
    """Say which photos cannot be read, and why; every one of them, not only that of the plug on show."""
    if view.row is not None:
        trouble, seen = view.row
        st.error(words.sentence(trouble), icon=":material/no_photography:")
        if seen.picture:
            st.image(seen.picture, alt=words.ROW_ALT, width="stretch")
            legend(seen.explained.lines, seen.photo.size or (1, 1), WHOLE, spot=False)
        left_out(draft, len(seen.photo.plugs))
    same: dict[str, list[int]] = {}
    for number, problem in sorted(view.problems.items()):
        same.setdefault(problem, []).append(number)
    for problem, numbers in same.items():
        st.error(words.refused(numbers, problem), icon=":material/no_photography:")
    _to_refused(sorted(view.problems), draft.picked)


def _to_refused(numbers: Sequence[int], picked: int) -> None:
    """Lead to the plugs whose photos must be taken again."""
    others = [number for number in numbers if number != picked]
    if others:
        with st.container(horizontal=True, key="refused"):
            for number in others:
                label = words.CAMERA_AGAIN.format(n=number)
                st.button(label, key=f"again{number}", on_click=_pick, args=(number,), icon=":material/photo_camera:")


def _place(draft: Draft, view: View, number: int, odd: bool) -> Place:
    plug = view.plugs.get(number)
    if number in view.problems:
        return Place(number, "refused", None, odd)
    if plug is None:
        return Place(number, "ticked" if draft.looked(number) else "empty", None, odd)
    colour = reads.colour_of(plug) if draft.answer_may_show else None  # it would say what the user is asked to see first
    return Place(number, "unsure" if plug.reading.status == "unsure" else "read", colour, odd)


def _plug(draft: Draft, view: View, diagnosis: Diagnosis | None) -> None:
    """Draw the picked plug: photo, question, and what the photo says once that may be shown."""
    number = draft.picked
    plug_card(draft, view, number)
    if draft.answer_may_show:
        measured(view, diagnosis, draft, number, reads.rules())
    ticks(draft, number, reads.rules())
    if draft.answer_may_show:
        lesson(draft, view, number, reads.rules())


def _photos(draft: Draft, view: View, visit: str, buttons: DeltaGenerator) -> None:
    """Draw the ways in for photos: at the top while one is missing or refused, folded away once every plug is read."""
    read = all(n in view.plugs and n not in view.problems for n in draft.cylinders)
    if read and all(shot.cylinder is not None for shot in draft.shots):
        with folded(words.PHOTOS_MORE, "photos_more") as is_open:
            if is_open:
                take_in(draft, visit, view.problems)
                full_size(draft)
                arrange(draft, view)
        return
    with buttons:
        take_in(draft, visit, view.problems)
        if draft.empty:
            _samples()
        if any(shot.cylinder is None for shot in draft.shots):
            arrange(draft, view)
    full_size(draft)
    if all(shot.cylinder is not None for shot in draft.shots):
        arrange(draft, view)


def _show() -> None:
    state.change(lambda d: replace(d, shown=True))
    st.session_state.lead = True


# ---- the answers -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Places:
    """Where the answer stands: what must be said first, the ranking, and what takes longer to work out.

    A run that works out a new answer draws the ranking first and puts the ranges into it at the end; the earlier answer's rest
    stays in its place meanwhile.
    """

    first: DeltaGenerator
    ranking: DeltaGenerator
    waiting: DeltaGenerator
    rest: DeltaGenerator
    drawn: list[DeltaGenerator] = field(default_factory=list)
    """The list of causes, once it is drawn."""

    def rank(self, found: Ranking | Diagnosis, draft: Draft, view: View) -> None:
        """Draw the plugs side by side and the causes, or the causes anew where they are drawn already."""
        rules = reads.rules()
        if self.drawn:
            self.drawn[0].html(causes_html(found.causes, found.none_listed, rules))
            return
        with self.ranking:
            compare(found.comparison, view, draft, rules, key="compare", pick=_pick)
            self.drawn.append(causes(found.causes, found.none_listed, rules))

    def wait(self) -> None:
        """Say that the rest is on its way, where no earlier answer fills its place meanwhile."""
        if st.session_state.get("answered") != st.session_state.visit:
            self.waiting.caption(words.THINKING)


def _answers(draft: Draft, view: View, diagnosis: Diagnosis | None, places: Places) -> None:
    if diagnosis is None or not draft.answer_may_show:
        return
    rules = reads.rules()
    with places.first:
        missing = [n for n in draft.cylinders if n not in view.plugs and not draft.looked(n)]
        if missing and draft.plugs + draft.shots:
            st.info(words.MISSING.format(which=words.about_cylinders(missing)), icon=":material/photo_camera:")
        for finding, number in diagnosis.verdict.stops:
            st.error(words.stop(finding_name(finding, rules), number, rules.findings[finding].stop), icon=":material/dangerous:")
    places.rank(diagnosis, draft, view)
    places.waiting.empty()
    with places.rest:
        _rest(draft, view, diagnosis, rules)
    st.session_state.answered = st.session_state.visit


def _rest(draft: Draft, view: View, diagnosis: Diagnosis, rules: Rules) -> None:
    less_likely(diagnosis.causes, rules)
    next_check(draft, view, diagnosis, rules)
    signs(draft, rules)
    plots(draft, view, diagnosis, rules)
    notes = [*diagnosis.cautions, *diagnosis.notes]
    if notes:
        with folded(words.MORE_NOTES, "notes") as is_open:
            for note in notes if is_open else ():
                st.text(words.sentence(note))
    st.caption(words.BOOK_FIRST)
