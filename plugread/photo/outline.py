"""Is a plain area a sheet? Its outline must be straight, and two of its sides must be edges of its own."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Corners = NDArray[np.int32]

# Our own limits: tolerance of the polygon (share of its length), share of it that must be covered, sides of its own and the share
# of their length that shows a step (log of any channel) with neither the plug nor the picture's frame behind it; a longer strip
# is a plank, a mat's rib or a shadow. So near the frame an edge is not the area's own; fewer free pixels of it tell nothing.
_TOLERANCE, _FILL, _OWN_SIDES, _OWN_SHARE, _STEP, _STEP_REACH_PX, _MOST_SLENDER = 0.03, 0.8, 2, 0.6, 0.12, 5, 5.0
_FRAME_PX, _LEAST_SEEN = 3, 10


@dataclass(frozen=True, eq=False)
class Outline:
    """The outline of a plain area with straight sides.

    `filled` is the area with small holes closed, uint8 of shape (h, w); `own_sides` how many sides are edges of its own;
    `covered` the share of the polygon that it and the plug fill; `ragged` how far its edge lies off the polygon, mean, in units
    of the square root of its area; `narrow_px` and `slender` its shorter side and how much longer the other is.
    """

    filled: NDArray[np.uint8]
    own_sides: int
    covered: float
    ragged: float
    narrow_px: float
    slender: float


def straight_outline(area: Mask, plug: Mask, level: NDArray[np.float32]) -> Outline | None:
    """Return the outline of an area if it may be that of a sheet, else None.

    Parameters
    ----------
    area, plug : bool of shape (h, w); the plug may cover part of the sheet, the picture's frame may cut it.
    level : log red, green and blue, a little blurred, float32 of shape (h, w, 3).
    """
    filled = np.asarray(cv2.morphologyEx(area.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8)), np.uint8)
    edge = _edge(filled)
    corners = _polygon(edge)
    if corners is None:
        return None
    near_plug = cv2.dilate(plug.astype(np.uint8), np.ones((11, 11), np.uint8)) > 0
    shape = cv2.fillPoly(np.zeros(area.shape, np.uint8), [corners], (1,)) > 0
    covered = float((shape & ((filled > 0) | near_plug)).sum()) / float(shape.sum())
    if covered < _FILL or filled.sum() < 0.5 * shape.sum():
        return None
    own = _own_sides(corners, near_plug, level)
    _, sides, _ = cv2.minAreaRect(corners.astype(np.float32))
    slender = max(sides) / max(min(sides), 1e-6)
    if own < _OWN_SIDES or slender > _MOST_SLENDER:
        return None
    ragged = _ragged(edge, corners, near_plug) / float(np.sqrt(area.sum()))
    return Outline(filled, own, covered, ragged, float(min(sides)), float(slender))


def _edge(filled: NDArray[np.uint8]) -> Corners:
    outlines, _ = cv2.findContours(filled, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return np.asarray(max(outlines, key=cv2.contourArea), np.int32)


def _ragged(edge: Corners, corners: Corners, near_plug: Mask) -> float:
    """Return the mean distance in pixels of the edge from the polygon where neither plug nor frame makes it; large if unseen."""
    height, width = near_plug.shape
    x, y = edge[::2, 0].T
    inside = (x >= _FRAME_PX) & (y >= _FRAME_PX) & (x < width - _FRAME_PX) & (y < height - _FRAME_PX)
    free = np.stack([x, y], -1)[inside & ~near_plug[y, x]].astype(np.float64)
    if len(free) < _LEAST_SEEN:
        return float(np.hypot(height, width))
    start, along = corners.astype(np.float64), np.roll(corners, -1, 0) - corners.astype(np.float64)
    apart = free[:, None] - start
    share = np.clip((apart * along).sum(-1) / np.maximum((along**2).sum(-1), 1e-9), 0, 1)
    return float(np.hypot(*(apart - share[..., None] * along).transpose(2, 0, 1)).min(1).mean())


def _polygon(edge: Corners) -> Corners | None:
    """Return three to six corners (n, 2) of an edge's convex hull, or None if it has more."""
    hull = cv2.convexHull(edge)
    corners = cv2.approxPolyDP(hull, _TOLERANCE * cv2.arcLength(hull, True), True)[:, 0]
    return np.asarray(corners, np.int32) if 3 <= len(corners) <= 6 else None


def _own_sides(corners: Corners, near_plug: Mask, level: NDArray[np.float32]) -> int:
    """Return how many sides are edges of the area itself: a step in level, not the plug's outline, not the frame."""
    middle = corners.mean(0)
    return sum(_is_own(a, b, middle, near_plug, level) for a, b in zip(corners, np.roll(corners, -1, 0), strict=True))


def _is_own(a: Corners, b: Corners, middle: NDArray[np.float64], near_plug: Mask, level: NDArray[np.float32]) -> bool:
    along = (b - a).astype(np.float64)
    length = float(np.hypot(*along))
    if length < 8:
        return False
    outward = np.array([along[1], -along[0]]) / length
    outward = outward if outward @ ((a + b) / 2 - middle) > 0 else -outward
    line = a + np.linspace(0.1, 0.9, 25)[:, None] * along
    inside = np.rint(line - _STEP_REACH_PX * outward).astype(int)
    outside = np.rint(line + _STEP_REACH_PX * outward).astype(int)
    height, width = level.shape[:2]
    seen = ((outside >= 0) & (outside < (width, height)) & (inside >= 0) & (inside < (width, height))).all(1)
    if seen.sum() < _OWN_SHARE * len(line):
        return False
    (xi, yi), (xo, yo) = inside[seen].T, outside[seen].T
    step = np.abs(level[yi, xi] - level[yo, xo]).max(-1) > _STEP
    return bool((step & ~near_plug[yo, xo]).sum() >= _OWN_SHARE * len(line))
