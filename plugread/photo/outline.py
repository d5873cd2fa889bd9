"""Is a plain area a sheet? Its outline must be straight, and two of its sides must be edges of its own."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Corners = NDArray[np.int32]

# Our own limits: tolerance of the polygon (share of its length), share of it that must be covered, sides of its own and the share
# of their length that shows a step (log of any channel) with neither the plug nor the picture's frame behind it.
_TOLERANCE, _FILL, _OWN_SIDES, _OWN_SHARE, _STEP, _STEP_REACH_PX = 0.03, 0.86, 2, 0.6, 0.12, 5
# A longer strip is a plank, a mat's rib or a shadow; with more sides of its own a sheet may be more slender, and smaller.
_MOST_SLENDER, _MOST_SLENDER_WHOLE, _WHOLE_SIDES, _WHOLE_LEAST = 4.5, 5.0, 3, 0.8


def straight_outline(
    area: Mask, plug: Mask, level: NDArray[np.float32], *, least_px: float = 0.0
) -> tuple[NDArray[np.uint8], int] | None:
    """Return the area with small holes closed and the number of sides that are its own if it looks like a sheet, else None.

    Parameters
    ----------
    area, plug : bool of shape (h, w); the plug may cover part of the sheet, the picture's frame may cut it.
    level : log red, green and blue, a little blurred, float32 of shape (h, w, 3).
    least_px : no sheet is narrower.
    """
    filled = np.asarray(cv2.morphologyEx(area.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8)), np.uint8)
    corners = _polygon(filled)
    if corners is None:
        return None
    near_plug = cv2.dilate(plug.astype(np.uint8), np.ones((11, 11), np.uint8)) > 0
    shape = cv2.fillPoly(np.zeros(area.shape, np.uint8), [corners], (1,)) > 0
    covered = (filled > 0) | near_plug
    if (shape & covered).sum() < _FILL * shape.sum() or filled.sum() < 0.5 * shape.sum():
        return None
    own = _own_sides(corners, near_plug, level)
    return (filled, own) if own >= _OWN_SIDES and _wide_enough(corners, own, least_px) else None


def _wide_enough(corners: Corners, own: int, least_px: float) -> bool:
    _, sides, _ = cv2.minAreaRect(corners.astype(np.float32))
    if own >= _WHOLE_SIDES:
        return bool(min(sides) >= max(_WHOLE_LEAST * least_px, max(sides) / _MOST_SLENDER_WHOLE))
    return bool(min(sides) >= max(least_px, max(sides) / _MOST_SLENDER))


def _polygon(filled: NDArray[np.uint8]) -> Corners | None:
    """Return three to six corners (n, 2) of the area's convex hull, or None if it has more."""
    outlines, _ = cv2.findContours(filled, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    hull = cv2.convexHull(max(outlines, key=cv2.contourArea))
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
