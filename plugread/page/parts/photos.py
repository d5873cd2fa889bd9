"""Takes pictures in, says what became of them, and lets the user put each at its cylinder."""

from __future__ import annotations

import re
from collections.abc import Container, Sequence
from dataclasses import replace

import streamlit as st

from plugread.notebook import draft as drafts
from plugread.notebook.draft import Draft, Shot
from plugread.page import state, words
from plugread.page.parts.camera import Picture, camera
from plugread.page.parts.folded import folded
from plugread.page.reads import View

TYPES = ["jpg", "jpeg", "png", "webp", "avif"]
LARGEST_MB = 25
NAME_LENGTH = 60


def take_in(draft: Draft, visit: str, refused: Container[int]) -> None:
    """Draw the camera button; what comes in is kept and placed at once. Photos of the `refused` cylinders cannot be read."""
    with st.container(key="camera"):
        again, wanted = draft.shot(draft.picked) is not None, not draft.pictured(draft.picked) or draft.picked in refused
        camera(
            visit, draft.picked, draft.received, again=again, wanted=wanted, key=state.scripted(state.fold("camera")), take=_taken
        )


def full_size(draft: Draft) -> None:
    """Draw the door for files as the camera wrote them."""
    with folded(words.FULL_SIZE, "full_size") as is_open:
        if not is_open:
            return
        st.caption(words.FULL_SIZE_HELP)
        as_row = st.checkbox(words.FULL_SIZE_ROW, key="full_row")
        key = f"upload.{st.session_state.get('uploads', 0)}"
        files = st.file_uploader(
            words.FULL_SIZE_LABEL, type=TYPES, accept_multiple_files=True, key=key, max_upload_size=LARGEST_MB
        )
    if files:
        st.session_state.uploads = (
            st.session_state.get("uploads", 0) + 1
        )  # a new uploader, so that the old one's bytes are let go
        kind = "row" if as_row else "one" if len(files) == 1 else "pick"
        _taken([Picture("", file.name, kind, draft.picked, file.getvalue()) for file in files])
        st.rerun()


def _taken(pictures: Sequence[Picture]) -> None:
    """Keep the pictures, place them, and tell what was not taken."""
    named = [replace(picture, name=plain_name(picture.name)) for picture in pictures]
    kept = [(picture, state.keep_photo(picture.data)) for picture in named]

    def step(draft: Draft) -> Draft:
        new = [(p, digest) for p, digest in kept if p.token not in draft.received]  # one sent again while it was being read
        for picture, _ in new:
            draft = drafts.took(draft, picture.token) if picture.token else draft
        rows = [(p, digest) for p, digest in new if p.kind == "row"]
        if rows:
            draft = drafts.with_row(draft, rows[-1][1], rows[-1][0].name)
        singles = [(p, digest) for p, digest in new if p.kind == "one"]
        for picture, digest in singles:
            draft = _placed(draft, [(digest, picture.name)], picture.cylinder)
        several = [(digest, p.name) for p, digest in new if p.kind == "pick"]
        if several:
            draft = _placed(draft, several, next(p.cylinder for p, _ in new if p.kind == "pick"))
        return draft

    state.change(step)


def plain_name(name: str) -> str:
    """Return a file's name without signs that the page would take for formatting or a link."""
    return re.sub(r"[^\w .-]", "_", name)[:NAME_LENGTH]


def _placed(draft: Draft, photos: Sequence[tuple[str, str]], first: int) -> Draft:
    names = dict(photos)
    for shot in drafts.repeated(draft, names):
        where = words.AGAIN_PLUG.format(n=shot.cylinder) if shot.cylinder else words.AGAIN_UNPLACED
        state.remark(words.AGAIN.format(name=names[shot.digest], where=where))
    return drafts.on_from_photo(draft, drafts.place(draft, photos, first))


# ---- which photo is which cylinder -------------------------------------------------------------------------


def arrange(draft: Draft, view: View) -> None:
    """Offer to change which photo belongs to which cylinder; open by itself when a photo has no place."""
    own = [shot for shot in draft.shots if draft.row is None or shot.digest != draft.row.digest]
    left = [shot for shot in own if shot.cylinder is None]
    if left:
        one = len(left) == 1
        st.warning(
            words.UNPLACED.format(n=len(left), s="" if one else "s", it="it" if one else "they", v="s" if one else ""),
            icon=":material/help:",
        )
    if len(own) > 1 or left:
        with folded(words.PHOTOS_TITLE, "arrange", start_open=bool(left)) as is_open:
            if is_open:
                st.caption(words.PHOTOS_HELP)
                for shot in sorted(own, key=lambda s: (s.cylinder is None, s.cylinder or 0)):
                    _place_of(shot, draft, view)
    if draft.row is not None:
        with folded(words.ROW_TITLE, "row_order") as is_open:
            if is_open:
                _row_order(draft)


def _place_of(shot: Shot, draft: Draft, view: View) -> None:
    places: list[int | None] = [*draft.cylinders, None]
    key = state.box(f"at.{shot.digest}")
    with st.container(horizontal=True, vertical_alignment="center", key=f"{key}.row"):
        st.image(_thumbnail(shot, view), alt=words.PHOTO_ALT.format(name=shot.name), width=72)
        st.segmented_control(
            words.PHOTO_AT.format(name=shot.name), places, default=shot.cylinder, required=True, key=key, wrap=True,
            on_change=_moved, format_func=lambda n: words.PHOTO_NOWHERE if n is None else str(n), args=(key, shot),
        )  # fmt: skip


def _thumbnail(shot: Shot, view: View) -> bytes:
    """Return the close-up of a photo's plug; the photo itself where no plug was found in it yet."""
    seen, k = view.seen.get(shot.cylinder or 0, (None, 0))
    close_up = seen.close_ups[k] if seen is not None and 0 <= k < len(seen.close_ups) else b""
    return close_up or state.photo_source()(shot.digest)


def _moved(key: str, shot: Shot) -> None:
    cylinder = st.session_state[key]
    state.change(lambda d: drafts.drop(d, shot) if cylinder is None else drafts.move(d, shot, cylinder))
    state.fresh_boxes()


def _row_order(draft: Draft) -> None:
    assert draft.row is not None
    st.caption(words.ROW_HELP)
    with st.container(horizontal=True, key="row_places"):
        for k, number in enumerate(draft.row.cylinders):
            key = state.box(f"row.{k}")
            cylinders = list(draft.row.cylinders)
            st.selectbox(
                words.ROW_PLACE.format(k=k + 1),
                sorted(cylinders),
                index=sorted(cylinders).index(number),
                key=key,
                width=110,
                on_change=_row_swapped,
                args=(key, k),
            )
    with st.container(horizontal=True, key="row_buttons"):
        st.button(words.ROW_TURN, key="row_turn", on_click=_row_turned, icon=":material/swap_horiz:")
        st.button(words.ROW_REMOVE, key="row_remove", on_click=_row_removed, icon=":material/delete:")


def left_out(draft: Draft, found: int) -> None:
    """Where fewer plugs were found in the row than the engine has: ask which, so that the others can be used."""
    row = draft.row
    if row is None or not 0 < found < len(row.cylinders):
        return
    missing = len(row.cylinders) - found
    key = state.box("left_out")
    st.pills(
        words.ROW_LEFT_OUT.format(n=missing, s="" if missing == 1 else "s"), row.cylinders, selection_mode="multi", key=key,
        on_change=_left_out, args=(key, missing), wrap=True,
    )  # fmt: skip


def _left_out(key: str, missing: int) -> None:
    out = list(st.session_state[key])
    if len(out) == missing:
        state.change(lambda d: drafts.order_row(d, [n for n in d.row.cylinders if n not in out]) if d.row else d)
        state.fresh_boxes()


def _row_swapped(key: str, k: int) -> None:
    cylinder = int(st.session_state[key])
    state.change(lambda d: drafts.swap_in_row(d, k, cylinder))
    state.fresh_boxes()


def _row_turned() -> None:
    state.change(lambda d: drafts.order_row(d, tuple(reversed(d.row.cylinders))) if d.row else d)
    state.fresh_boxes()


def _row_removed() -> None:
    state.change(drafts.without_row)
    state.fresh_boxes()
