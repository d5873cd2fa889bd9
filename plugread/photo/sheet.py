"""White paper and grey cards in a photo: plain, neutral, straight-edged areas, found by geometry and looked at sceptically."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.photo.estimate import background_pixels, estimated_light, plug_mask
from plugread.pixels import Mask, clip_box, clipped, crop_linear, crop_valid, to_linear
from plugread.records import Box, FiringEnd, Photo

Floats = NDArray[np.float64]
Kind = Literal["paper", "card"]

# Limits of this program (our own): side the search runs at; steepest change of log luminance from pixel to pixel on a plain
# surface; smallest and largest share of the picture; how much of its quadrilateral or frame-cut polygon an area must fill.
_SIDE_PX, _FLAT, _MIN_SHARE, _MAX_SHARE, _FILL = 480, 0.045, 0.006, 0.6, 0.86
# Refusals: share of pixels at or above code 250, change of level across the sheet, residual texture.
_MAX_CLIPPED, _MAX_SLOPE, _MAX_TEXTURE = 0.03, 0.15, 0.06
# A reference may differ from the estimated light by this angle (degrees): estimates err by 4-5, a brown box by 12 and more.
_MAX_CAST_DEG = 9.0
# Level against the brightest matt things: paper is among them, a card is far below; between the two only hue is used.
_PAPER_LEVEL, _CARD_LEVEL, _PAIR_RATIO, _PAIR_CAST_DEG = 0.42, 0.32, (3.2, 7.5), 3.0
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


@dataclass(frozen=True, eq=False)
class Sheet:
    """A reference that passed: box in full-size pixels, linear sRGB of its middle (3,), change of level across it (0-1)."""

    kind: Kind
    box: Box
    rgb_linear: Floats
    slope: float
    level_sure: bool = True


def inspect(photo: Photo, box: Box, kind: Kind, refused: list[str]) -> Sheet | None:
    """Return the reference in a box, from its central 60 %, or None with the reason appended to `refused`."""
    middle = _middle(clip_box(box, photo.size))
    name = "white paper" if kind == "paper" else "grey card"
    if min(middle[2:]) < 4 * photo.scale:
        refused.append(f"{name} not used: its box is too small or outside the picture")
        return None
    linear, valid = crop_linear(photo, middle).astype(np.float64), crop_valid(photo, middle)
    if not valid.any():
        refused.append(f"{name} not used: transparent")
        return None
    fault, slope = _fault(linear, valid, clipped(photo, middle))
    if fault:
        refused.append(f"{name} not used: {fault}")
        return None
    return Sheet(kind, box, np.asarray(np.median(linear[valid], axis=0)), slope)


def find_sheets(photo: Photo, ends: Sequence[FiringEnd], refused: list[str]) -> tuple[Sheet | None, Sheet | None]:
    """Return (paper, card) found in the photo, either None; reasons against what was seen are appended to `refused`."""
    reasons: list[str] = []
    passed = []
    for box in _candidates(photo, ends):
        sheet = inspect(photo, box, "paper", reasons)
        if sheet is not None:
            passed.append(sheet)
    light = estimated_light(photo, ends)
    neutral = [s for s in passed if _cast_deg(s.rgb_linear, light) < _MAX_CAST_DEG]
    pair = _pair(neutral)
    if pair is not None:
        return pair
    if not neutral:
        refused.extend(sorted(set(reasons))[:1])
        return None, None
    return _single(neutral, _brightest(photo, ends))


def _middle(box: Box) -> Box:
    x, y, w, h = box
    return x + round(0.2 * w), y + round(0.2 * h), round(0.6 * w), round(0.6 * h)


def _fault(linear: Floats, valid: Mask, burnt: Mask) -> tuple[str | None, float]:
    """Return why an area cannot serve (None if it can) and the change of level across it."""
    if burnt[valid].mean() > _MAX_CLIPPED:
        return "overexposed (a channel is at its limit); move out of the glare or lower the exposure", 0.0
    level = cv2.resize(linear @ _LUMINANCE, (24, 24), interpolation=cv2.INTER_AREA)
    mean = float(level.mean())
    if mean < 0.01:
        return "too dark", 0.0
    y, x = np.mgrid[-0.5:0.5:24j, -0.5:0.5:24j]
    plane = np.stack([np.ones(576), x.ravel(), y.ravel()], axis=1)
    share, *_ = np.linalg.lstsq(plane, level.ravel(), rcond=None)
    slope = float(abs(share[1]) + abs(share[2])) / mean
    texture = float(np.median(np.abs(level.ravel() - plane @ share))) * 1.48 / mean
    if slope > _MAX_SLOPE:
        return f"its light changes by {slope:.0%} across it (at most {_MAX_SLOPE:.0%}); light it evenly", slope
    if texture > _MAX_TEXTURE:
        return "not plain: shaded, creased or printed", slope
    return None, slope


# ---- geometry --------------------------------------------------------------------------------------------


def _candidates(photo: Photo, ends: Sequence[FiringEnd]) -> list[Box]:
    """Return boxes of plain areas with straight edges, largest first; each box lies inside its area."""
    step = max(max(photo.rgb.shape[:2]) / _SIDE_PX, 1.0)
    size = (round(photo.rgb.shape[1] / step), round(photo.rgb.shape[0] / step))
    codes = cv2.resize(photo.rgb, size, interpolation=cv2.INTER_AREA)
    plug = plug_mask(photo, ends, size)
    flat = _flat(to_linear(photo, codes)) & ~plug
    count, labels, stats, _ = cv2.connectedComponentsWithStats(flat.astype(np.uint8), connectivity=4)
    shares = stats[:, cv2.CC_STAT_AREA] / flat.size
    order = [k for k in np.argsort(-shares) if k > 0 and _MIN_SHARE < shares[k] < _MAX_SHARE][:12]
    boxes = [_inner_box(labels == k, plug) for k in order if count > 1]
    grow = step * photo.scale
    return [(round(x * grow), round(y * grow), round(w * grow), round(h * grow)) for x, y, w, h in filter(None, boxes)]


def _flat(linear: NDArray[np.float32]) -> Mask:
    """Return pixels whose surroundings change little in luminance."""
    level = np.log(np.maximum(cv2.GaussianBlur(linear @ _LUMINANCE.astype(np.float32), (0, 0), 1.0), 1e-4))
    gx, gy = cv2.Sobel(level, cv2.CV_32F, 1, 0, scale=1 / 8), cv2.Sobel(level, cv2.CV_32F, 0, 1, scale=1 / 8)
    flat = (np.hypot(gx, gy) < _FLAT).astype(np.uint8)
    return np.asarray(cv2.morphologyEx(flat, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0)


def _inner_box(area: Mask, plug: Mask) -> Box | None:
    """Return a box inside the area if its outline is straight (the frame may cut it, the plug may cover it), else None."""
    height, width = area.shape
    filled = cv2.morphologyEx(area.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    outlines, _ = cv2.findContours(filled, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(outlines, key=cv2.contourArea)
    hull = cv2.convexHull(outline)
    corners = cv2.approxPolyDP(hull, 0.03 * cv2.arcLength(hull, True), True)
    sides_on_frame = _sides_on_frame(corners[:, 0], width, height)
    if not 3 <= len(corners) <= 6 or sides_on_frame > 2 or len(corners) - sides_on_frame > 4:
        return None
    shape = cv2.fillPoly(np.zeros(area.shape, np.uint8), [corners], 1) > 0
    covered = (filled > 0) | (cv2.dilate(plug.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0)
    if (shape & covered).sum() < _FILL * shape.sum() or filled.sum() < 0.5 * shape.sum():
        return None
    return _largest_square(filled)


def _sides_on_frame(corners: NDArray[np.int32], width: int, height: int) -> int:
    ends = zip(corners, np.roll(corners, -1, 0), strict=True)
    limits = ((0, 2), (0, width - 3), (1, 2), (1, height - 3))
    return sum(any(_beyond(a[k], b[k], limit) for k, limit in limits) for a, b in ends)


def _beyond(a: int, b: int, limit: int) -> bool:
    return (a <= limit and b <= limit) if limit == 2 else (a >= limit and b >= limit)


def _largest_square(filled: NDArray[np.uint8]) -> Box:
    """Return the upright square about the point farthest from the area's edge."""
    padded = cv2.copyMakeBorder(filled, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    far = cv2.distanceTransform(padded, cv2.DIST_C, 3)[1:-1, 1:-1]
    row, column = np.unravel_index(int(far.argmax()), far.shape)
    reach = max(int(far.max()) - 2, 1)
    return int(column) - reach, int(row) - reach, 2 * reach + 1, 2 * reach + 1


# ---- which is which --------------------------------------------------------------------------------------


def _cast_deg(rgb: Floats, light: Floats) -> float:
    cosine = float(rgb @ light / (np.linalg.norm(rgb) * np.linalg.norm(light) + 1e-12))
    return float(np.degrees(np.arccos(np.clip(cosine, -1, 1))))


def _brightest(photo: Photo, ends: Sequence[FiringEnd]) -> float:
    return float(np.percentile(background_pixels(photo, ends) @ _LUMINANCE, 97))


def _pair(sheets: list[Sheet]) -> tuple[Sheet, Sheet] | None:
    """Return (paper, card) if two sheets of the same hue differ in level as paper and card do."""
    bright_first = sorted(sheets, key=lambda s: -float(s.rgb_linear @ _LUMINANCE))
    for i, light in enumerate(bright_first):
        for dark in bright_first[i + 1 :]:
            ratio = float(light.rgb_linear @ _LUMINANCE) / float(dark.rgb_linear @ _LUMINANCE)
            same = _cast_deg(light.rgb_linear, dark.rgb_linear) < _PAIR_CAST_DEG
            if same and _PAIR_RATIO[0] < ratio < _PAIR_RATIO[1] and float(light.rgb_linear @ _LUMINANCE) > _PAPER_LEVEL:
                return light, replace(dark, kind="card")
    return None


def _single(sheets: list[Sheet], brightest: float) -> tuple[Sheet | None, Sheet | None]:
    """Return the brightest sheet as paper, or a mid-grey one as card; between the two its level is left open."""
    best = max(sheets, key=lambda s: float(s.rgb_linear @ _LUMINANCE))
    level = float(best.rgb_linear @ _LUMINANCE)
    if level >= _PAPER_LEVEL and level > 0.6 * brightest:
        return best, None
    if 0.08 < level <= _CARD_LEVEL and level < 0.6 * brightest:
        return None, replace(best, kind="card")
    return replace(best, level_sure=False), None
