"""Turns the plug upright: axis direction from the parts, then the photo resampled with the axis along the columns.

In the upright frame v (rows) runs along the axis, growing from the firing end towards the hex, u (columns) runs across; one
upright pixel is one full-size pixel, or several where the shell is wider than any edge needs (see `MOST_ACROSS_PX`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.pixels import halved
from plugread.records import PARTS, Box, FiringEnd, PartMap, Photo

Floats = NDArray[np.float64]
POINT_SURE = 0.3
"""Key points of the finder below this confidence are not used."""
MOST_APART_DEG = 20.0
"""Key points that point further than this from the line through the parts' centres are not believed."""
MARGIN = 1.25
"""How much wider than the shell the upright picture is."""
MOST_ACROSS_PX = 1000
"""The upright picture is no wider: some 55 pixels per mm, finer than a phone's lens draws."""
_SHOWN = slice(PARTS.index("nose"), PARTS.index("thread") + 1)
"""The parts the upright picture reaches over: the firing end and the thread, not hex and insulator behind it."""


@dataclass(frozen=True, eq=False)
class UprightPlug:
    """One firing end, turned upright.

    Parameters
    ----------
    rgb : float32 of shape (h, w, 3), encoded 0-1.
    part : float32 of shape (9, h, w), part probabilities in the same frame; only of nose, centre, strap, rim and thread, else 0.
    to_photo : float64 of shape (2, 3), upright (u, v, 1) -> full-size (x, y).
    step : upright pixels per pixel of the part map it came from.
    shrink : full-size pixels per upright pixel.
    """

    rgb: NDArray[np.float32]
    part: NDArray[np.float32]
    to_photo: Floats
    step: float
    shrink: float = 1.0

    @cached_property
    def grey(self) -> NDArray[np.float32]:
        """Mean of the channels, 0-1, shape (h, w)."""
        return np.asarray(cv2.transform(self.rgb, np.full((1, 3), 1 / 3, np.float32)), np.float32).reshape(self.rgb.shape[:2])

    def probability(self, *names: str) -> NDArray[np.float32]:
        """Return the summed probability of the named parts, shape (h, w)."""
        return np.asarray(sum(self.part[PARTS.index(name)] for name in names), dtype=np.float32)


def upright(photo: Photo, end: FiringEnd) -> UprightPlug | None:
    """Return the firing end with its axis along the rows' direction, or None where no axis can be found."""
    axis = _first_axis(end)
    if axis is None:
        return None
    for _ in range(3):
        axis = _straightened(end.parts, *axis)
    return _resampled(photo, end.parts, *axis)


def _first_axis(end: FiringEnd) -> tuple[Floats, Floats] | None:
    """Return (a point on the axis, unit direction towards the hex) from the centres of front and back parts."""
    front = _centre(end.parts, ("nose", "centre", "strap"))
    back = _centre(end.parts, ("thread", "hex"))
    if front is None or back is None:
        return None
    along = back - front
    points = {name: np.array(point[:2]) for name, point in end.key_points.items() if point[2] >= POINT_SURE}
    if {"axis_front", "axis_back"} <= points.keys():
        pointed = points["axis_back"] - points["axis_front"]
        if pointed @ along > np.cos(np.radians(MOST_APART_DEG)) * np.hypot(*pointed) * np.hypot(*along):
            front, along = points["axis_front"], pointed
    length = float(np.hypot(*along))
    return (front, along / length) if length > 4 * end.parts.step else None


def _centre(parts: PartMap, names: tuple[str, ...]) -> Floats | None:
    weight = sum(parts.probability[PARTS.index(name)] for name in names)
    weight = np.where(weight > 0.5, weight, 0.0)
    if weight.sum() < 12:
        return None
    rows, columns = np.nonzero(weight)
    w = weight[rows, columns]
    x = parts.x0 + (np.average(columns, weights=w) + 0.5) * parts.step
    y = parts.y0 + (np.average(rows, weights=w) + 0.5) * parts.step
    return np.array([x, y])


def _straightened(parts: PartMap, origin: Floats, along: Floats) -> tuple[Floats, Floats]:
    """Return the axis corrected by the midline of the threaded part, found slice by slice across the axis."""
    body = parts.probability[PARTS.index("thread")] > 0.5
    rows, columns = np.nonzero(body)
    if len(rows) < 30:
        return origin, along
    xy = np.stack([parts.x0 + (columns + 0.5) * parts.step, parts.y0 + (rows + 0.5) * parts.step], -1) - origin
    v, u = xy @ along, xy @ np.array([along[1], -along[0]])
    slices = np.round((v - v.min()) / (2 * parts.step)).astype(int)
    low, high = np.full(slices.max() + 1, np.inf), np.full(slices.max() + 1, -np.inf)
    np.minimum.at(low, slices, u)
    np.maximum.at(high, slices, u)
    wide = high - low > 0.8 * np.median(high[high > low] - low[high > low])
    if wide.sum() < 6:
        return origin, along
    at = np.nonzero(wide)[0] * 2 * parts.step + v.min()
    slope, offset = _robust_line(at, (low[wide] + high[wide]) / 2)
    across = np.array([along[1], -along[0]])
    turned = along + slope * across
    return origin + offset * across, turned / np.hypot(*turned)


def _robust_line(x: Floats, y: Floats) -> tuple[float, float]:
    """Fit y = slope x + offset, dropping points more than 3 robust deviations off (twice)."""
    keep = np.ones(len(x), bool)
    slope, offset = 0.0, float(np.median(y))
    for _ in range(3):
        slope, offset = np.polyfit(x[keep], y[keep], 1)
        off = np.abs(y - slope * x - offset)
        keep = off <= 3 * 1.4826 * np.median(off[keep]) + 1e-6
        if keep.sum() < 4:
            break
    return float(slope), float(offset)


def _resampled(photo: Photo, parts: PartMap, origin: Floats, along: Floats) -> UprightPlug | None:
    """Cut the firing end and its thread out with the axis upright, at full size or at what is needed of it."""
    across = np.array([along[1], -along[0]])
    rows, columns = np.nonzero(parts.probability[_SHOWN].sum(0) > 0.5)
    if not len(rows):
        return None
    xy = np.stack([parts.x0 + (columns + 0.5) * parts.step, parts.y0 + (rows + 0.5) * parts.step], -1) - origin
    v, u = xy @ along, xy @ across
    half = MARGIN * float(np.percentile(np.abs(u), 98))
    top, bottom = float(np.percentile(v, 0.5)) - 4 * parts.step, float(v.max())
    shrink = max(2 * half / MOST_ACROSS_PX, 1.0)
    size = (int(2 * half / shrink), int((bottom - top) / shrink))
    if min(size) < 16 or max(size) > 6000:
        return None
    middle = (shrink - 1) / 2 * (across + along)  # of the first upright pixel, from that of the first full-size pixel
    to_photo = np.stack([shrink * across, shrink * along, origin + top * along - half * across + middle], -1)
    rgb = _picture(photo, to_photo, size, shrink / photo.scale)
    to_map = np.array([[1 / parts.step, 0, -parts.x0 / parts.step - 0.5], [0, 1 / parts.step, -parts.y0 / parts.step - 0.5]])
    part = np.zeros((len(PARTS), size[1], size[0]), np.float32)
    for k in range(_SHOWN.start, _SHOWN.stop):
        part[k] = _warped(parts.probability[k], _chained(to_map, to_photo), size)
    return UprightPlug(rgb, part, to_photo, parts.step / shrink, shrink)


def _picture(photo: Photo, to_photo: Floats, size: tuple[int, int], shrink: float) -> NDArray[np.float32]:
    """Return the upright picture, encoded 0-1; what is to shrink by two or more is averaged two by two first."""
    x, y, w, h = _covered(photo, to_photo, size)
    source, scale = photo.rgb[y : y + h, x : x + w], float(photo.scale)
    while shrink >= 2:
        source = halved(source)
        shrink, scale = shrink / 2, scale * 2
    start = np.array([x, y]) * photo.scale
    shift = np.array([[1 / scale, 0, (0.5 - start[0]) / scale - 0.5], [0, 1 / scale, (0.5 - start[1]) / scale - 0.5]])
    white = np.float32(np.iinfo(photo.rgb.dtype).max)
    return _warped(source, _chained(shift, to_photo), size) / white


def _covered(photo: Photo, to_photo: Floats, size: tuple[int, int]) -> Box:
    """Return the box (x, y, w, h) of decoded pixels that an upright picture of `size` shows, a little more on each side."""
    corners = to_photo @ np.array([[0, size[0], 0, size[0]], [0, 0, size[1], size[1]], [1, 1, 1, 1]], np.float64)
    low, high = corners.min(1) / photo.scale - 4, corners.max(1) / photo.scale + 4
    height, width = photo.rgb.shape[:2]
    x, y = (int(np.clip(low[0], 0, width - 4)), int(np.clip(low[1], 0, height - 4)))
    return x, y, max(int(np.clip(high[0], 0, width)) - x, 4), max(int(np.clip(high[1], 0, height)) - y, 4)


def _chained(outer: Floats, inner: Floats) -> Floats:
    """Return the 2x3 map that applies `inner` first, then `outer`."""
    return np.asarray((np.vstack([outer, [0, 0, 1]]) @ np.vstack([inner, [0, 0, 1]]))[:2])


def _warped(
    plane: NDArray[np.uint8] | NDArray[np.uint16] | NDArray[np.float32], to_source: Floats, size: tuple[int, int]
) -> NDArray[np.float32]:
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpAffine(plane, to_source, size, flags=flags, borderMode=cv2.BORDER_REPLICATE), dtype=np.float32)
