"""Several plugs in one photo: the order in which they lie, and each counted once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plugread.photo.firing_end import Candidate
from plugread.records import FiringEnd

_SAME_PLUG = 0.5
"""Two finds are one plug if their nose centres lie nearer than this share of the larger firing end's size (its area's root)."""
_COMPANY, _OTHER_SIZE, _ROW = 2, 1.7, 3
"""So many believed plugs are company for a doubted one; plugs of a row differ in size by less than a factor; plugs that show
how a row runs (our own choice)."""


def nose_centre(end: FiringEnd) -> tuple[float, float]:
    """Return the middle of the nose box, (x, y) in full-size pixels."""
    x, y, w, h = end.nose_box
    return x + w / 2, y + h / 2


def in_order(ends: Sequence[FiringEnd]) -> tuple[FiringEnd, ...]:
    """Return the plugs from left to right, or from top to bottom if the row stands upright.

    A row lying at an angle counts as lying when it is wider than high.
    """
    if len(ends) < 2:
        return tuple(ends)
    centres = np.array([nose_centre(end) for end in ends])
    across, down = np.ptp(centres, axis=0)
    along = centres[:, 0] if across >= down else centres[:, 1]
    return tuple(ends[k] for k in np.argsort(along, kind="stable"))


def counted_once(found: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """Return the plugs without second finds of the same one; a believed find stays rather than a doubted, then the surer."""
    kept: list[Candidate] = []
    for one in sorted(found, key=lambda c: (c.doubt is not None, -c.end.score if c.end else 0.0)):
        if not any(_same(one, other) for other in kept):
            kept.append(one)
    return tuple(kept)


def plugs_of_row(found: Sequence[Candidate], expected: int | None) -> tuple[FiringEnd, ...]:
    """Return the believed firing ends, and doubted ones that are plugs by the company they keep, in order.

    Beside others of its size a plug whose nose cannot be made out is still a plug: it counts, with a low score, so that it is
    not read. It needs believed company, or a known number of plugs that is not reached yet; a known number of like plugs, all
    doubted, is a row as well.
    """
    believed = [c for c in found if c.doubt is None and c.end is not None]
    doubted = [c for c in found if c.doubt is not None and c.doubt.a_plug and c.end is not None]
    if not believed and expected == len(doubted) and expected > 1:
        return in_order([c.end for c in doubted if c.end])
    if not believed or (expected is None and len(believed) < _COMPANY) or expected == 1:
        return in_order([c.end for c in believed if c.end])
    usual = float(np.median([c.reach for c in believed]))
    alike = [c for c in doubted if 1 / _OTHER_SIZE < c.reach / usual < _OTHER_SIZE]
    missing = len(alike) if expected is None else max(expected - len(believed), 0)
    added = sorted(alike, key=lambda c: abs(np.log(c.reach / usual)))[:missing]
    return in_order([c.end for c in (*believed, *added) if c.end])


def empty_places(found: Sequence[Candidate], shape: tuple[int, ...]) -> list[tuple[float, float, float]]:
    """Return where a row of three or more has room for a plug: (x, y) of its centre and the reach of its neighbours, pixels.

    Room is where the step from one plug to the next is about twice the usual, and one step beyond either end of the row.
    """
    believed = [c for c in found if c.doubt is None]
    if len(believed) < _ROW:
        return []
    centres = np.array([c.centre for c in believed])
    centres = centres[np.argsort(centres[:, 0] if np.ptp(centres[:, 0]) >= np.ptp(centres[:, 1]) else centres[:, 1])]
    steps = np.diff(centres, axis=0)
    usual = float(np.median(np.hypot(*steps.T)))
    places = [centres[0] - steps[0] * usual / np.hypot(*steps[0]), centres[-1] + steps[-1] * usual / np.hypot(*steps[-1])]
    for start, step in zip(centres, steps, strict=False):
        room = round(float(np.hypot(*step)) / usual)
        places += [start + step * k / room for k in range(1, room)]
    reach = float(np.median([c.reach for c in believed]))
    inside = [p for p in places if 0 < p[0] < shape[1] and 0 < p[1] < shape[0]]
    return [(float(p[0]), float(p[1]), reach) for p in inside]


def _same(one: Candidate, other: Candidate) -> bool:
    apart = float(np.hypot(one.centre[0] - other.centre[0], one.centre[1] - other.centre[1]))
    return apart < _SAME_PLUG * max(one.reach, other.reach)
