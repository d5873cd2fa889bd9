"""Turns the plug upright: axis direction from the parts, then the photo resampled with the axis along the columns.

In the upright frame v (rows) runs along the axis, growing from the firing end towards the hex, u (columns) runs across;
one upright pixel is one full-size pixel.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.records import PARTS, FiringEnd, PartMap, Photo

Floats = NDArray[np.float64]
POINT_SURE = 0.3
"""Key points of the finder below this confidence are not used."""
MARGIN = 1.25
"""How much wider than the shell the upright picture is."""


@dataclass(frozen=True, eq=False)
class UprightPlug:
    """One firing end, turned upright.

    Parameters
    ----------
    rgb : float32 of shape (h, w, 3), encoded 0-1.
    part : float32 of shape (9, h, w), part probabilities in the same frame.
    to_photo : float64 of shape (2, 3), upright (u, v, 1) -> full-size (x, y).
    step : full-size pixels per pixel of the part map it came from.
    """

    rgb: NDArray[np.float32]
    part: NDArray[np.float32]
    to_photo: Floats
    step: float

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
    points = {name: np.array(point[:2]) for name, point in end.key_points.items() if point[2] >= POINT_SURE}
    if {"axis_front", "axis_back"} <= points.keys():
        front, back = points["axis_front"], points["axis_back"]
    along = back - front
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
    """Cut the firing end out with the axis upright, at full-size pixels."""
    across = np.array([along[1], -along[0]])
    inside = parts.probability[1:8].sum(0) > 0.5
    rows, columns = np.nonzero(inside)
    xy = np.stack([parts.x0 + (columns + 0.5) * parts.step, parts.y0 + (rows + 0.5) * parts.step], -1) - origin
    v, u = xy @ along, xy @ across
    half = MARGIN * float(np.percentile(np.abs(u), 98))
    top, bottom = float(np.percentile(v, 0.5)) - 4 * parts.step, float(v.max())
    size = (int(2 * half), int(bottom - top))
    if min(size) < 16 or max(size) > 6000:
        return None
    corner = origin + top * along - half * across
    to_photo = np.stack([across, along, corner], -1)
    source = photo.rgb
    white = 255 if source.dtype == np.uint8 else 65535
    shift = np.array([[1 / photo.scale, 0, -0.5 + 0.5 / photo.scale], [0, 1 / photo.scale, -0.5 + 0.5 / photo.scale]])
    rgb = _warped(source, _chained(shift, to_photo), size) / np.float32(white)
    to_map = np.array([[1 / parts.step, 0, -parts.x0 / parts.step - 0.5], [0, 1 / parts.step, -parts.y0 / parts.step - 0.5]])
    part = np.stack([_warped(plane, _chained(to_map, to_photo), size) for plane in parts.probability])
    return UprightPlug(rgb, part, to_photo, parts.step)


def _chained(outer: Floats, inner: Floats) -> Floats:
    """Return the 2x3 map that applies `inner` first, then `outer`."""
    return np.asarray((np.vstack([outer, [0, 0, 1]]) @ np.vstack([inner, [0, 0, 1]]))[:2])


def _warped(
    plane: NDArray[np.uint8] | NDArray[np.uint16] | NDArray[np.float32], to_source: Floats, size: tuple[int, int]
) -> NDArray[np.float32]:
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpAffine(plane, to_source, size, flags=flags, borderMode=cv2.BORDER_REPLICATE), dtype=np.float32)
