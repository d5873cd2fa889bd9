"""The photos measured, on all cores, and put into groups that must not be split between learning and checking."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from plugread.reading.portrait import Portrait
from plugread.reading.training.lessons import Lesson
from plugread.records import Box

Floats = NDArray[np.float64]
Look = Callable[[Path, Box | None], Portrait]
"""Opens and measures one photo, in any thread; the nose box says which firing end is meant."""
Progress = Callable[[int, int], None]
"""Called with (done, of) after each photo."""

SAME_BITS = 20
"""Firing ends whose fingerprints differ in so few of 256 bits are one picture saved twice (our own, on re-saved renders)."""
FEWEST_PLUGS = 3
"""A reading with fewer plugs cannot be checked and is not learned; pictures of one saved twice count as one."""
_KINDS = ("engine", "light", "plug")
"""What photos may share, widest first: fuel, owner and light; light; deposits."""


@dataclass(frozen=True, eq=False)
class Study:
    """What is learned from: m photos, n features.

    `x` (m, n), NaN where nothing was measured; `reading`, `plug` and `group` one a photo; `rules` the likelihoods by the colour
    rules, `white` how the light was taken out; `grouped_by` is "engine", "light" or "plug"; `passed_over` a line for each photo
    left out.
    """

    x: Floats
    reading: NDArray[np.str_]
    plug: NDArray[np.str_]
    group: NDArray[np.intp]
    rules: tuple[dict[str, float], ...]
    white: tuple[str, ...]
    grouped_by: str
    passed_over: tuple[str, ...]
    too_few: dict[str, int]
    """Readings with photos of fewer than `FEWEST_PLUGS` plugs, and how many they have."""


def look_at(lessons: Sequence[Lesson], look: Look, *, jobs: int, progress: Progress | None = None) -> list[Portrait]:
    """Return a portrait of each lesson, measured `jobs` at a time (what measures lets go of the interpreter)."""
    from joblib import Parallel, delayed

    work = Parallel(n_jobs=jobs, prefer="threads", return_as="generator")
    portraits = []
    for portrait in work(delayed(look)(lesson.path, lesson.nose) for lesson in lessons):
        portraits.append(portrait)
        if progress is not None:
            progress(len(portraits), len(lessons))
    return portraits


def study(lessons: Sequence[Lesson], portraits: Sequence[Portrait]) -> Study:
    """Return what can be learned from: readable photos of readings with enough plugs, grouped."""
    both = list(zip(lessons, portraits, strict=True))
    passed = [f"{one.reading}/{one.path.name}: {_first(portrait.why)}" for one, portrait in both if portrait.vector is None]
    pairs, contrary = _without_twins_of_two_minds([pair for pair in both if pair[1].vector is not None])
    pairs, too_few = _with_enough_plugs(pairs)
    group, by = _groups(pairs)
    return Study(
        x=np.array([portrait.vector for _, portrait in pairs], np.float64),
        reading=np.array([one.reading for one, _ in pairs], np.str_),
        plug=np.array([one.plug for one, _ in pairs], np.str_),
        group=group,
        rules=tuple(dict(portrait.rules) for _, portrait in pairs),
        white=tuple(portrait.white or "" for _, portrait in pairs),
        grouped_by=by,
        passed_over=(*passed, *contrary),
        too_few=too_few,
    )


def _first(why: str | None) -> str:
    """Return what is wrong, without what to do about it: the photo is taken already."""
    return (why or "").split("; ")[0]


Pairs = list[tuple[Lesson, Portrait]]


def _with_enough_plugs(pairs: Pairs) -> tuple[Pairs, dict[str, int]]:
    """Leave out the readings with too few plugs, and return how many plugs those have."""
    group = _linked([one.plug for one, _ in pairs], _twins_of(pairs))
    plugs = _groups_in_each([one.reading for one, _ in pairs], group)
    too_few = {reading: count for reading, count in plugs.items() if count < FEWEST_PLUGS}
    return [pair for pair in pairs if pair[0].reading not in too_few], too_few


def _groups_in_each(reading: Sequence[str], group: Sequence[str]) -> dict[str, int]:
    """Return how many groups each reading has photos in, readings in alphabetical order."""
    seen = {*zip(reading, group, strict=True)}
    return {name: sum(one == name for one, _ in seen) for name in sorted({*reading})}


# ---- near-duplicates -------------------------------------------------------------------------------------


def twins(prints: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the pairs of photos whose fingerprints (m, 256) are nearly the same."""
    signs = np.where(prints, 1.0, -1.0).astype(np.float32)
    differing = (signs.shape[1] - signs @ signs.T) / 2
    first, second = np.nonzero(np.triu(differing <= SAME_BITS, 1))
    return list(zip(first.tolist(), second.tolist(), strict=True))


def _twins_of(pairs: Pairs) -> list[tuple[int, int]]:
    prints = [portrait.fingerprint for _, portrait in pairs if portrait.fingerprint is not None]
    return twins(np.array(prints)) if len(prints) == len(pairs) > 1 else []


def _without_twins_of_two_minds(pairs: Pairs) -> tuple[Pairs, list[str]]:
    """Leave out near-duplicates that were given different readings."""
    bad = {
        index: other
        for i, j in _twins_of(pairs)
        if pairs[i][0].reading != pairs[j][0].reading
        for index, other in ((i, j), (j, i))
    }
    lines = [
        f"{pairs[i][0].reading}/{pairs[i][0].path.name}: the same picture stands under {pairs[j][0].reading}; left out"
        for i, j in sorted(bad.items())
    ]
    return [pair for k, pair in enumerate(pairs) if k not in bad], lines


# ---- groups ----------------------------------------------------------------------------------------------


def _groups(pairs: Pairs) -> tuple[NDArray[np.intp], str]:
    """Return the group of each photo by the widest kind of which every reading has enough, twins together, and that kind."""
    reading, plugs = [one.reading for one, _ in pairs], [one.plug for one, _ in pairs]
    same = [*_twins_of(pairs), *((k, plugs.index(plug)) for k, plug in enumerate(plugs))]
    for kind in _KINDS:
        names = [getattr(one, kind) or "" for one, _ in pairs]
        heads = _linked(names, same)
        if all(names) and min(_groups_in_each(reading, heads).values(), default=0) >= FEWEST_PLUGS:
            break
    return np.unique(np.array(heads, np.str_), return_inverse=True)[1], kind


def _linked(names: Sequence[str], pairs: Iterable[tuple[int, int]]) -> list[str]:
    """Return for each name one that stands for all it is linked with through `pairs` of positions."""
    leader = {name: name for name in names}

    def head(name: str) -> str:
        while leader[name] != name:
            name = leader[name]
        return name

    for i, j in pairs:
        leader[head(names[i])] = head(names[j])
    return [head(name) for name in names]
