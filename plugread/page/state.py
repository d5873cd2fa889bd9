"""The visit this browser tab works on: found by the address, changed step by step, every change written at once.

The store holds the truth. A reload, the back button, another tab or a restart of the server all read it again.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import Any

import streamlit as st

from plugread import casefile
from plugread.errors import PlugreadError, StoreError
from plugread.notebook.draft import Draft
from plugread.notebook.engines import usual
from plugread.notebook.samples import draft_of_case, sample_names
from plugread.notebook.store import Kept, Store, default_path, new_id
from plugread.page import words
from plugread.resources import samples_dir

Step = Callable[[Draft], Draft]

LOOK_AGAIN_S = 5
"""Photos taken with the phone show on the screen beside it after this long at most."""


def store() -> Store:
    """Return the notebook of this machine."""
    return Store(default_path())


def current() -> Kept:
    """Return the visit of this tab in its newest state; a new one if the address names none."""
    st.session_state.setdefault("tab", new_id())
    if "sample" in st.query_params and "visit" not in st.query_params:
        open_sample(str(st.query_params.pop("sample")))
    visit = st.query_params.get("visit") or st.session_state.get("visit") or new_id()
    st.query_params["visit"] = visit
    kept = _found(visit)
    _notice_others(kept)
    st.session_state.visit, st.session_state.revision = visit, kept.revision
    return kept


def _found(visit: str) -> Kept:
    unsaved = st.session_state.get("unsaved")
    if unsaved is not None and unsaved.id == visit:
        return unsaved  # type: ignore[no-any-return]
    try:
        kept = store().find(visit)
        return kept or Kept(visit, 0, st.session_state.tab, "", _blank())
    except StoreError as problem:
        _remark(words.NOT_KEPT.format(why=problem))
        return Kept(visit, 0, st.session_state.tab, "", _blank())


def _blank() -> Draft:
    """Return an empty draft for the engine used last."""
    if "blank" not in st.session_state:
        try:
            last = store().last()
        except StoreError:  # told where the visit itself is looked for
            last = None
        st.session_state.blank = Draft(last.draft.engine if last else usual())
    return st.session_state.blank  # type: ignore[no-any-return]


def _notice_others(kept: Kept) -> None:
    """Say so when another tab has changed the visit since this one last looked, and let the input boxes start afresh."""
    known = st.session_state.get("revision")
    same = st.session_state.get("visit") == kept.id
    if same and known is not None and kept.revision > known and kept.writer != st.session_state.tab:
        fresh_boxes()
        _remark(words.OTHER_TAB)


@st.fragment(run_every=LOOK_AGAIN_S)
def look_again() -> None:
    """Look now and then whether another tab or phone has changed the visit, and draw the page again if so."""
    visit, known = st.session_state.get("visit"), st.session_state.get("revision", 0)
    with contextlib.suppress(StoreError):  # told at the next full run
        kept = store().find(visit) if visit else None
        if kept is not None and kept.revision > known and kept.writer != st.session_state.get("tab"):
            st.rerun()


def change(step: Step) -> Draft:
    """Apply one change to the newest state of this tab's visit and keep it."""
    visit, tab = st.session_state.visit, st.session_state.tab
    before = st.session_state.get("revision", 0)
    unsaved = st.session_state.get("unsaved")
    start = unsaved.draft if unsaved is not None and unsaved.id == visit else _blank()
    try:
        kept = store().change(visit, (lambda _: step(start)) if unsaved is not None else step, tab, blank=start)
    except StoreError as problem:
        kept = Kept(visit, before, tab, "", step(start if unsaved is not None else _last_known()))
        st.session_state.unsaved = kept
        _remark(words.NOT_KEPT.format(why=problem))
        return kept.draft
    st.session_state.unsaved = None
    if before and kept.revision > before + 1:
        fresh_boxes()
        _remark(words.OTHER_TAB)
    st.session_state.revision = kept.revision
    return kept.draft


def _last_known() -> Draft:
    """Return the newest draft that can still be read, for when writing fails."""
    return _found(st.session_state.visit).draft


def keep_photo(data: bytes) -> str:
    """Keep a photo and return its digest; if the disk is full it stays in this tab's memory."""
    from plugread.notebook.store import digest_of

    try:
        return store().keep_photo(data)
    except StoreError as problem:
        digest = digest_of(data)
        st.session_state.setdefault("unsaved_photos", {})[digest] = data
        _remark(words.NOT_KEPT.format(why=problem))
        return digest


def photo_source() -> Callable[[str], bytes]:
    """Return what finds the bytes of a photo of this visit by its digest, from any thread."""
    held: dict[str, bytes] = st.session_state.get("unsaved_photos", {})
    kept = store()
    return lambda digest: held[digest] if digest in held else kept.photo(digest)


def open_sample(name: str) -> None:
    """Start a new visit from a sample engine."""
    st.session_state.setdefault("tab", new_id())
    if name not in sample_names(samples_dir()):
        _remark(words.NO_SAMPLE.format(name=name))
        return
    try:
        case = casefile.load_case(samples_dir() / name / "case.toml")
        draft, photos = draft_of_case(case, sample=name)
    except PlugreadError as problem:
        _remark(words.TROUBLE.format(what=problem))
        return
    for data in photos.values():
        keep_photo(data)
    go_to(new_id())
    change(lambda _: draft)


def new_visit() -> None:
    """Start a new visit of the same engine, the earlier one stays in the notebook."""
    engine = _found(st.session_state.visit).draft.engine
    st.session_state.blank = Draft(engine)
    go_to(new_id())


def go_to(visit: str) -> None:
    """Make another visit the one of this tab."""
    st.session_state.visit, st.session_state.revision, st.session_state.unsaved = visit, 0, None
    st.query_params["visit"] = visit
    fresh_boxes()


# ---- input boxes and remarks ---------------------------------------------------------------------------------


def box(name: str) -> str:
    """Return the key of an input box; a new one whenever the boxes must take their values from the draft again."""
    return f"{name}.{st.session_state.get('visit', '')}.{st.session_state.get('epoch', 0)}"


def scripted(key: str) -> str:
    """Return the key of a part drawn by a script of ours; Streamlit refuses those with "__", which an address may bring in."""
    return key.replace("_", "-")


def number_box(name: str, value: float | None) -> str:
    """Return the key of a number box that starts at `value`; afterwards it holds what was typed, nothing included."""
    key = box(name)
    st.session_state.setdefault(key, value)
    return key


def fold(name: str) -> str:
    """Return the key of a part that folds open; it stays as the user left it for as long as the visit is the same."""
    return f"{name}.{st.session_state.get('visit', '')}"


def fresh_boxes() -> None:
    """Let every input box start again from the draft."""
    st.session_state.epoch = st.session_state.get("epoch", 0) + 1


def value(name: str) -> Any:
    """Return what an input box holds now."""
    return st.session_state.get(box(name))


def _remark(text: str) -> None:
    remarks = st.session_state.setdefault("remarks", [])
    if text not in remarks:
        remarks.append(text)


remark = _remark


def remarks() -> list[str]:
    """Return what is to be told once, and forget it."""
    return st.session_state.pop("remarks", [])  # type: ignore[no-any-return]
