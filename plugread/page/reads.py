"""Photos read and cases diagnosed for the page, each kept for as long as its bytes and settings stay the same."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np
import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from plugread import pipeline
from plugread.colour import lab_to_hex
from plugread.errors import PlugreadError
from plugread.notebook.draft import Draft, Spot, box_at, to_case
from plugread.page import state, words
from plugread.page.reader import reader
from plugread.records import CauseRank, Diagnosis, Explained, PhotoRead, PlugRead, PlugType, Ranking
from plugread.rules.tables import Rules

READS_KEPT, ANSWERS_KEPT = 64, 64
READERS = 2
PATIENCE_S = 0.15
"""Nothing is said about a reading that takes less than this."""
NOT_OPENED = Explained(b"", ())
Listed = tuple[Sequence[CauseRank], float]
"""Causes, the likeliest first, and the chance that none of those listed is present."""
Found = TypeVar("Found")


@dataclass(frozen=True, eq=False)
class Seen:
    """One photo read: what the pipeline found, the picture that explains it with its lines, and a close-up of each plug."""

    photo: PhotoRead
    explained: Explained
    close_ups: tuple[bytes, ...]

    @property
    def picture(self) -> bytes:
        """The picture that explains the photo, as JPEG; empty where the photo could not be opened."""
        return self.explained.picture


@dataclass(frozen=True, eq=False)
class View:
    """Everything read for a draft: by cylinder the plug, the photo it comes from, and what stood in the way."""

    plugs: Mapping[int, PlugRead]
    seen: Mapping[int, tuple[Seen, int]]
    problems: Mapping[int, str]
    key: str = ""
    """Stands for the photos and settings behind `plugs`: equal keys, equal plugs."""
    row: tuple[str, Seen] | None = None
    """What stood in the way of reading the row photo, and what was found in it."""


@st.cache_resource(max_entries=READS_KEPT, show_spinner=False)
def _seen(
    digest: str, name: str, spot: Spot | None, expected: int | None, plug: PlugType, by: str, _photo: Callable[[str], bytes],
    _model: Any,
) -> Seen:  # fmt: skip
    data = _photo(digest)
    photo = _read(data, name, spot, expected, plug, _model)
    if photo.size is None:
        return Seen(photo, NOT_OPENED, ())
    explained, close_ups = pipeline.explain_picture(data, photo), pipeline.close_ups(data, photo)
    return Seen(replace(photo, plugs=tuple(_light(plug) for plug in photo.plugs)), explained, close_ups)


def _read(data: bytes, name: str, spot: Spot | None, expected: int | None, plug: PlugType, model: Any) -> PhotoRead:
    """Read the photo; where a nose was pointed at, a box as large as the nose found there overrides the finder."""
    photo = pipeline.read_photo(data, name=name, expected=expected, plug=plug, model=model)
    if spot is None or photo.size is None:
        return photo
    like = photo.plugs[0].end.nose_box if photo.plugs and photo.plugs[0].end else None
    return pipeline.read_photo(data, name=name, nose_box=box_at(spot, photo.size, like), plug=plug, model=model)


def _light(plug: PlugRead) -> PlugRead:
    """Return the plug without its maps, which are large and were only needed to draw the picture."""
    if plug.end is None:
        return plug
    parts = replace(plug.end.parts, probability=np.zeros((9, 0, 0), np.float32))
    return replace(plug, end=replace(plug.end, parts=parts), nose_mask=None)


def read_all(draft: Draft) -> View:
    """Read every placed photo of a draft, two at a time, saying in place which one is being read if it takes a while."""
    jobs, place, (by, model) = _jobs(draft), st.empty(), reader()
    key = repr([(args, cylinders, by) for _, args, cylinders in jobs])
    last: View | None = st.session_state.get("view")
    if last is not None and last.key == key:
        return last
    read = _read_jobs(jobs, place, by, model)
    view = _view(jobs, read, key)
    if all(one.photo.size is not None for one in read):
        st.session_state.view = view
    return view


def _view(jobs: Sequence[Job], read: Sequence[Seen], key: str) -> View:
    """Sort what was read by cylinder."""
    plugs: dict[int, PlugRead] = {}
    seen: dict[int, tuple[Seen, int]] = {}
    problems: dict[int, str] = {}
    row: tuple[str, Seen] | None = None
    for (_, _, cylinders), one in zip(jobs, read, strict=True):
        if len(one.photo.plugs) == len(cylinders):
            for j, number in enumerate(cylinders):
                plugs[number], seen[number] = one.photo.plugs[j], (one, j)
                problems.pop(number, None)
        elif len(cylinders) > 1:
            row = (_row_trouble(one.photo, len(cylinders)), one)
        else:
            problems[cylinders[0]] = one.photo.why or words.no_single_plug(len(one.photo.plugs))
            seen[cylinders[0]] = (one, -1)
    problems |= {n: plug.reading.why or "" for n, plug in plugs.items() if plug.reading.status == "refused"}
    return View(plugs, seen, problems, key, row)


def _read_jobs(jobs: Sequence[Job], place: DeltaGenerator, by: str, model: Any) -> list[Seen]:
    """Read in the order of the jobs; a photo that cannot be read at all comes back as refused, with the reason."""
    photo = state.photo_source()
    found: list[Seen] = []
    pool = ThreadPoolExecutor(READERS)
    try:
        waiting = [pool.submit(_seen, *args, by, photo, model) for _, args, _ in jobs]
        for k, ((what, args, _), answer) in enumerate(zip(jobs, waiting, strict=True)):
            if not wait([answer], timeout=PATIENCE_S).done:
                place.progress(k / len(jobs), text=words.READING.format(what=what))
            try:
                found.append(answer.result())
            except PlugreadError as problem:
                found.append(Seen(PhotoRead(args[1], "refused", str(problem), None, None, ()), NOT_OPENED, ()))
    finally:
        pool.shutdown(wait=False, cancel_futures=True)
    place.empty()
    return found


Job = tuple[str, tuple[str, str, Spot | None, int | None, PlugType], tuple[int, ...]]
"""What is read in words, the arguments of the reading, and the cylinders it is for."""


def _jobs(draft: Draft) -> list[Job]:
    """Return what must be read: the row first, so that a photo of one plug beats its place in the row."""
    spec = draft.engine.plug
    jobs: list[Job] = []
    if draft.row is not None:
        jobs.append(
            (words.READING_ROW, (draft.row.digest, draft.row.name, None, len(draft.row.cylinders), spec), draft.row.cylinders)
        )
    for shot in sorted((s for s in draft.shots if s.cylinder is not None), key=lambda s: s.cylinder or 0):
        assert shot.cylinder is not None
        jobs.append(
            (words.READING_ONE.format(n=shot.cylinder), (shot.digest, shot.name, shot.spot, None, spec), (shot.cylinder,))
        )
    return jobs


def _row_trouble(photo: PhotoRead, wanted: int) -> str:
    if photo.status == "refused" and not photo.plugs:
        return photo.why or ""
    return words.ROW_COUNT.format(found=len(photo.plugs), wanted=wanted)


# ---- the answer --------------------------------------------------------------------------------------------


def rules() -> Rules:
    """Return the package's rule base."""
    return pipeline.default_rules()


def answer(draft: Draft, view: View, on_ranking: Callable[[Ranking], None] | None = None) -> Diagnosis:
    """Return the diagnosis of the draft with what its photos gave.

    `on_ranking` is called with the ranked causes as soon as they stand, unless the whole answer is at hand.

    Raises
    ------
    CaseError
        What was entered contradicts itself.
    """
    case, kept = to_case(draft), _answers()
    key = repr((case, view.key))
    found = kept.get(key)
    if found is None:
        found = _keep(kept, key, pipeline.diagnose_case(case, reads=_usable(view), on_ranking=on_ranking, between=_give_way))
    return found


def causes_of(draft: Draft, view: View) -> Listed:
    """Return the causes of a draft that is not the one on show: those of the answer it once had, or else worked out and kept."""
    case, kept = to_case(draft), _lists()
    key = repr((case, view.key))
    answered, found = _answers().get(key), kept.get(key)
    if answered is not None:
        return answered.causes, answered.none_listed
    if found is None:
        _give_way()
        found = _keep(kept, key, pipeline.list_causes(case, _usable(view)))
    return found


def _keep(kept: OrderedDict[str, Found], key: str, found: Found) -> Found:
    """Keep what was worked out, dropping the oldest, and return it."""
    kept[key] = found
    while len(kept) > ANSWERS_KEPT:
        kept.popitem(last=False)
    return found


def _usable(view: View) -> dict[int, PlugRead]:
    return {n: plug for n, plug in view.plugs.items() if plug.reading.status != "refused"}


def _give_way() -> None:
    """Stop this run if a newer tick or number waits: reading the session's state is where a run gives way to the next."""
    st.session_state.get("visit")


@st.cache_resource(max_entries=1, show_spinner=False)
def _answers() -> OrderedDict[str, Diagnosis]:
    """Return the answers worked out so far, for all tabs, the oldest first."""
    return OrderedDict()


@st.cache_resource(max_entries=1, show_spinner=False)
def _lists() -> OrderedDict[str, Listed]:
    """Return the lists of causes worked out beside the answers, the oldest first."""
    return OrderedDict()


def colour_of(plug: PlugRead | None) -> str | None:
    """Return the measured nose colour as #rrggbb, or None."""
    lab = plug.measures.lab if plug is not None else None
    return lab_to_hex(lab) if lab is not None else None
