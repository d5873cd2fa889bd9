"""Under a plug's photo: keep it as a lesson with one tap, or take it back."""

from __future__ import annotations

from functools import partial

import streamlit as st

from plugread.errors import StoreError
from plugread.notebook.draft import Draft
from plugread.page import state, teach_words, words
from plugread.page.reader import taught
from plugread.page.reads import View
from plugread.records import Box, PlugRead
from plugread.rules.tables import Rules


def lesson(draft: Draft, view: View, number: int, rules: Rules) -> None:
    """Draw what can be taught with the photo of one plug; nothing where it was not read, or comes with a sample engine."""
    plug = view.plugs.get(number)
    if plug is None or plug.reading.status == "refused" or draft.sample:
        return
    reading, ticked = _reading(draft, plug, number, rules)
    try:
        kept = taught().reading_of(_plug(number), _digest(draft, number))
    except StoreError as problem:
        st.warning(words.sentence(str(problem)), icon=":material/info:")
        return
    if kept is not None:
        st.caption(teach_words.KEPT.format(name=_name(kept, rules)))
        key = state.box(f"unteach{number}")
        st.button(teach_words.FORGET, key=key, on_click=_forget, args=(number,), icon=":material/undo:")
    if reading is None or reading == kept:
        return
    label = (teach_words.KEEP_TICKED if ticked else teach_words.KEEP_SHOWN).format(name=_name(reading, rules))
    keep = partial(_keep, draft, plug, number, reading)
    st.button(label, key=state.box(f"teach{number}"), on_click=keep, icon=":material/school:")
    st.caption(teach_words.KEEP_HELP)


def _reading(draft: Draft, plug: PlugRead, number: int, rules: Rules) -> tuple[str | None, bool]:
    """Return the one reading the user ticked, else what the photo shows by itself, and whether it was ticked."""
    seen = [i for i in draft.entry(number).seen if i in rules.findings and rules.findings[i].kind == "firing_end"]
    if seen:
        return (seen[0], True) if len(seen) == 1 else (None, True)
    return (plug.reading.top if plug.reading.status == "read" else None), False


def _name(reading: str, rules: Rules) -> str:
    """Return the everyday name of a reading, short enough for a button on a phone."""
    return _full_name(reading, rules).split(" (")[0]


def _full_name(reading: str, rules: Rules) -> str:
    return rules.findings[reading].name.lower() if reading in rules.findings else words.plain(reading)


def _plug(number: int) -> str:
    """Return what a plug of this visit is called for good."""
    return f"{st.session_state.visit}-c{number}"


def _digest(draft: Draft, number: int) -> str:
    """Return the photo a plug was read from: its own, else the row's."""
    shot = draft.shot(number)
    return shot.digest if shot is not None else draft.row.digest if draft.row is not None else ""


def _keep(draft: Draft, plug: PlugRead, number: int, reading: str) -> None:
    shot, digest = draft.shot(number), _digest(draft, number)
    name = shot.name if shot is not None else draft.row.name if draft.row is not None else ""
    data = state.photo_source()(digest)
    box = _told_box(plug) if shot is None or shot.spot is not None else None
    try:
        taught().keep(reading, _plug(number), digest, data, name=name, light=st.session_state.visit, nose=box)
    except StoreError as problem:
        state.remark(words.sentence(str(problem)))


def _told_box(plug: PlugRead) -> Box | None:
    """Return which nose is meant, for photos where the finder alone would not know."""
    return plug.end.nose_box if plug.end is not None else None


def _forget(number: int) -> None:
    try:
        taught().forget(_plug(number))
    except StoreError as problem:
        state.remark(words.sentence(str(problem)))
