"""Where the threaded part stands in the upright picture: its rows, and its two edges there as straight lines."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.measure.axis import UprightPlug

Floats = NDArray[np.float64]

LEAST_ROWS = 40
OUTLINE_PITCHES = (-0.2, 0.3)
"""Strip along the mean outline that shows crests against the ground, in pitches from inside to outside."""
FRONT_REACH, FRONT_COLUMNS, COLUMN_PX = 0.9, 61, 3
"""The side of the thread that faces the lens: columns out to this share of its radius, how many, and how wide each."""
FRONT = np.linspace(-FRONT_REACH, FRONT_REACH, FRONT_COLUMNS)
"""Where these columns stand, in radii from the axis."""


@dataclass(frozen=True, eq=False)
class Silhouette:
    """The threaded part: first and last row, and left and right edge (u) at each row between, shape (rows,)."""

    first: int
    last: int
    left: Floats
    right: Floats

    @property
    def width(self) -> float:
        """Width across in upright pixels."""
        return float(np.median(self.right - self.left))

    @property
    def middle_row(self) -> float:
        """Row half-way along."""
        return (self.first + self.last - 1) / 2


def silhouette(plug: UprightPlug) -> Silhouette | None:
    """Return where the thread stands, or None where too little of it is in view."""
    body = plug.probability("thread") > 0.5
    widths = body.sum(1)
    full = widths > 0.75 * np.percentile(widths[widths > 0], 90) if (widths > 0).any() else widths > 0
    rows = np.nonzero(full)[0]
    if len(rows) < LEAST_ROWS:
        return None
    first, last = int(np.percentile(rows, 2)), int(np.percentile(rows, 98))
    span = np.arange(first, last)
    lefts = body[rows].argmax(1).astype(np.float64)
    rights = body.shape[1] - body[rows, ::-1].argmax(1).astype(np.float64)
    return Silhouette(first, last, _line(rows, lefts, span), _line(rows, rights, span))


def _line(rows: NDArray[np.int_], edge: Floats, span: NDArray[np.int_]) -> Floats:
    keep = np.abs(edge - np.median(edge)) < 0.1 * (edge.max() - edge.min() + 8) + 6
    slope, offset = np.polyfit(rows[keep], edge[keep], 1)
    return np.asarray(slope * span + offset)


def outline_strips(plug: UprightPlug, sides: Silhouette) -> list[Floats]:
    """Return grey values along both silhouettes, each of shape (rows, columns), columns from inside to outside."""
    pitch = sides.width / 11
    across = np.arange(OUTLINE_PITCHES[0] * pitch, OUTLINE_PITCHES[1] * pitch, max(1.0, pitch / 24))
    return [_sampled(plug, sides, edge[:, None] + outward * across) for edge, outward in ((sides.left, -1), (sides.right, 1))]


def front_columns(plug: UprightPlug, sides: Silhouette) -> Floats:
    """Return grey values down the side that faces the lens, shape (rows, `FRONT_COLUMNS`), columns standing at `FRONT`."""
    middle, radius = (sides.left + sides.right) / 2, (sides.right - sides.left) / 2
    wide = np.asarray(cv2.blur(plug.grey, (COLUMN_PX, 1)), np.float32)
    return _sampled(plug, sides, middle[:, None] + radius[:, None] * FRONT, wide)


def _sampled(plug: UprightPlug, sides: Silhouette, u: Floats, grey: NDArray[np.float32] | None = None) -> Floats:
    grey = plug.grey if grey is None else grey
    columns = np.clip(np.rint(u).astype(int), 0, grey.shape[1] - 1)
    return np.asarray(grey[np.arange(sides.first, sides.last)[:, None], columns], dtype=np.float64)
