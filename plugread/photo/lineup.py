"""Several plugs in one photo: the order in which they lie, and each counted once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plugread.records import FiringEnd

_SAME_NOSE = 0.5
"""Two finds are one plug if their nose centres lie nearer than this share of the larger nose's diagonal (our own choice)."""


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


def counted_once(ends: Sequence[FiringEnd]) -> tuple[FiringEnd, ...]:
    """Return the plugs without second finds of the same nose; the surer find stays."""
    kept: list[FiringEnd] = []
    for end in sorted(ends, key=lambda e: -e.score):
        if not any(_same(end, other) for other in kept):
            kept.append(end)
    return tuple(kept)


def _same(one: FiringEnd, other: FiringEnd) -> bool:
    (ax, ay), (bx, by) = nose_centre(one), nose_centre(other)
    size = max(np.hypot(*one.nose_box[2:]), np.hypot(*other.nose_box[2:]))
    return bool(np.hypot(ax - bx, ay - by) < _SAME_NOSE * size)
