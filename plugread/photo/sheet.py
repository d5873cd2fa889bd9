"""White paper and grey cards in a photo: plain, neutral, straight-edged areas, found by geometry and looked at sceptically."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.photo.behind import behind_mask, shell_width_px
from plugread.photo.estimate import Estimate, plug_mask, sheet_chance
from plugread.photo.outline import Outline, straight_outline
from plugread.photo.references import load_references
from plugread.pixels import Mask, clip_box, clipped, crop_linear, crop_valid, shrunk_codes, to_linear
from plugread.records import Box, FiringEnd, Photo

Floats = NDArray[np.float64]
Kind = Literal["paper", "card"]

# Limits of this program (our own): side the search runs at; steepest change of log luminance from pixel to pixel on a plain
# surface; smallest and largest share of the picture, least share of its upright box; how many areas are looked at.
_SIDE_PX, _FLAT, _MIN_SHARE, _MAX_SHARE, _LEAST_COMPACT, _MOST = 480, 0.045, 0.003, 0.6, 0.35, 10
# Where a sheet's light slopes and so many sides are its own, squares of these shares of the largest are tried, so many each; no
# reach below the last.
_PLAIN_SIDES, _SMALLER, _MOST_SMALLER, _LEAST_REACH_PX = 3, (0.5, 0.33), 6, 4
# An area is believed from this chance on. The finder's word counts where it looked at this share of it; else this stands for it.
_LEAST_CHANCE, _LOOKED_AT, _UNSEEN = 0.7, 0.5, 0.03
# Refusals: share of pixels at or above code 250, change of level across the sheet, residual texture.
_MAX_CLIPPED, _MAX_SLOPE, _MAX_TEXTURE = 0.03, 0.15, 0.06
# A reference may differ from the estimated light by this angle (degrees): estimates err by 4-5, a brown box by 12 and more.
_MAX_CAST_DEG = 12.0
# Reflectance by the estimated level: paper above, card below; between the two, and outside the limits, only the hue is used.
_PAPER_FROM, _CARD_TO, _LEVELS = 0.62, 0.3, (0.07, 1.8)
# Paper and card together: ratio of levels (4.9 by their reflectances), difference of hue, and from the estimated light (degrees).
_PAIR_RATIO, _PAIR_CAST_DEG, _PAIR_LIGHT_DEG = (3.2, 7.5), 3.5, 25.0
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


@dataclass(frozen=True, eq=False)
class Sheet:
    """A reference that passed: box in full-size pixels, linear sRGB of its middle (3,), change of level across it (0-1).

    `found` is True where nobody said that it is one; `own_sides` is how many of its sides are then edges of its own.
    """

    kind: Kind
    box: Box
    rgb_linear: Floats
    slope: float
    level_sure: bool = True
    found: bool = False
    own_sides: int = 4

    @property
    def level(self) -> float:
        """Luminance of its middle, linear."""
        return float(self.rgb_linear @ _LUMINANCE)


@dataclass(frozen=True)
class _Area:
    """Boxes inside a plain area that may serve, best first, and how many of its sides are edges of its own."""

    boxes: list[Box]
    own_sides: int


def inspect(photo: Photo, box: Box, kind: Kind, refused: list[str]) -> Sheet | None:
    """Return the reference in a box, from its central 60 %, or None with the reason appended to `refused`."""
    middle = _middle(clip_box(box, photo.size))
    name = "white paper" if kind == "paper" else "grey card"
    if min(middle[2:]) < 4 * photo.scale:
        refused.append(f"{name} not used: its box is too small or outside the picture")
        return None
    linear, valid = crop_linear(photo, middle).astype(np.float64), crop_valid(photo, middle)
    if not valid.all():
        refused.append(f"{name} not used: partly transparent")
        return None
    fault, slope = _fault(linear, clipped(photo, middle))
    if fault:
        refused.append(f"{name} not used: {fault}")
        return None
    return Sheet(kind, box, np.asarray(np.median(linear.reshape(-1, 3), axis=0)), slope)


def find_sheets(
    photo: Photo, ends: Sequence[FiringEnd], guess: Estimate, refused: list[str]
) -> tuple[Sheet | None, Sheet | None]:
    """Return (paper, card) found in the photo, either None; where none is, the first reason found is appended to `refused`."""
    reasons: list[str] = []
    areas = _candidates(photo, ends, guess)
    neutral = _passed(photo, areas, guess, reasons)
    pair = _pair(neutral, guess) or _pair(_passed(photo, _whole(areas), guess, [], most_cast_deg=_PAIR_LIGHT_DEG), guess)
    if pair is not None:
        return pair
    if neutral:
        return _single(neutral, guess)
    refused.extend(reasons[:1])
    return None, None


def _whole(areas: list[_Area]) -> list[_Area]:
    """Return the areas whose sides are nearly all edges of their own: two such of one hue are believed in coloured light too."""
    return [area for area in areas if area.own_sides >= _PLAIN_SIDES]


def _passed(
    photo: Photo, areas: list[_Area], guess: Estimate, refused: list[str], *, most_cast_deg: float = _MAX_CAST_DEG
) -> list[Sheet]:
    """Return the areas that can serve; a reason is kept only for what else might have been paper or a card."""
    sheets = []
    for area in areas:
        colour = np.median(crop_linear(photo, _middle(area.boxes[0])).reshape(-1, 3).astype(np.float64), axis=0)
        if _cast_deg(colour, guess.light) > most_cast_deg:
            continue
        reasons: list[str] = []
        tried = (inspect(photo, box, "paper", reasons) for box in area.boxes)
        sheet = next((one for one in tried if one is not None), None)
        if sheet is None:
            refused.extend(reasons[:1])
        elif sheet.level * guess.gain > _LEVELS[0]:
            sheets.append(replace(sheet, found=True, own_sides=area.own_sides))
    return sheets


def _middle(box: Box) -> Box:
    x, y, w, h = box
    return x + round(0.2 * w), y + round(0.2 * h), round(0.6 * w), round(0.6 * h)


def _fault(linear: Floats, burnt: Mask) -> tuple[str | None, float]:
    """Return why an area cannot serve (None if it can) and the change of level across it."""
    if burnt.mean() > _MAX_CLIPPED:
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


# ---- where to look ---------------------------------------------------------------------------------------


def _candidates(photo: Photo, ends: Sequence[FiringEnd], guess: Estimate) -> list[_Area]:
    """Return the plain areas with straight edges, largest first."""
    codes = shrunk_codes(photo, _SIDE_PX)
    size = (codes.shape[1], codes.shape[0])
    grow = photo.size[0] / size[0]
    plug, behind = plug_mask(photo, ends, size), behind_mask(list(ends), size, grow)
    level = _log_level(to_linear(photo, codes))
    flat = _flat(level @ _LUMINANCE.astype(np.float32)) & ~plug
    _, labels, stats, _ = cv2.connectedComponentsWithStats(flat.astype(np.uint8), connectivity=4)
    shares = stats[:, cv2.CC_STAT_AREA] / flat.size
    compact = shares * flat.size > _LEAST_COMPACT * stats[:, cv2.CC_STAT_WIDTH] * stats[:, cv2.CC_STAT_HEIGHT]
    sized = compact & (shares > _MIN_SHARE) & (shares < _MAX_SHARE)
    order = [int(k) for k in np.argsort(-shares) if k > 0 and sized[k]][:_MOST]
    shell_px = min((shell_width_px(end) for end in ends), default=0.0) / grow
    noses = np.array([[end.nose_box[0] + end.nose_box[2] / 2, end.nose_box[1] + end.nose_box[3] / 2] for end in ends]) / grow
    believed, found = _believed(np.asarray(labels, np.int32), sheet_chance(photo, ends, size)), []
    for k in order:
        outline = straight_outline(labels == k, plug, level)
        if outline is None:
            continue
        colour = np.exp(np.median(level[labels == k], axis=0)).astype(np.float64)
        cast_deg, brightness = _cast_deg(colour, guess.light), float(colour @ _LUMINANCE) * guess.gain
        signs = _signs(outline, shell_px, float(believed[k]), cast_deg, brightness, float(shares[k]))
        if load_references().sheet_chance(signs) > _LEAST_CHANCE:
            boxes = _squares(np.where(behind, 0, outline.filled).astype(np.uint8), noses, outline.own_sides)
            found.append(_Area([_enlarged(box, grow) for box in boxes], outline.own_sides))
    return [area for area in found if area.boxes]


def _signs(outline: Outline, shell_px: float, believed: float, cast_deg: float, level: float, share: float) -> dict[str, float]:
    """Return what speaks for a sheet, by the names of `references.toml`; nan where no shell tells the scale."""
    return {
        "own_sides": float(outline.own_sides),
        "covered": outline.covered,
        "log_ragged": float(np.log(outline.ragged + 0.003)),
        "log_shells": float(np.log(max(outline.narrow_px / shell_px, 0.01))) if shell_px > 0 else np.nan,
        "log_slender": float(np.log(outline.slender)),
        "log_finder": float(np.log(np.clip(believed, 0.003, 1.0) if np.isfinite(believed) else _UNSEEN)),
        "cast_deg": min(cast_deg, 30.0),
        "log_level": float(np.log(np.clip(level, 0.01, 5.0))),
        "log_share": float(np.log(share)),
    }


def _believed(labels: NDArray[np.int32], chance: NDArray[np.float32]) -> Floats:
    """Return the finder's mean chance of a sheet in each labelled area (n,); nan where it looked at too little of it."""
    seen = np.isfinite(chance)
    count = labels.max() + 1
    looked_at = np.bincount(labels[seen], minlength=count)
    total = np.bincount(labels[seen], weights=chance[seen], minlength=count)
    enough = looked_at > _LOOKED_AT * np.bincount(labels.ravel(), minlength=count)
    return np.where(enough, total / np.maximum(looked_at, 1), np.nan)


def _enlarged(box: Box, grow: float) -> Box:
    x, y, w, h = (round(v * grow) for v in box)
    return x, y, w, h


def _log_level(linear: NDArray[np.float32]) -> NDArray[np.float32]:
    blurred = cv2.GaussianBlur(linear, (0, 0), 1.0)
    return np.asarray(np.log(np.maximum(blurred, 1e-4)), np.float32)


def _flat(level: NDArray[np.float32]) -> Mask:
    """Return pixels whose surroundings change little in level (the luminance-weighted log of the channels)."""
    gx, gy = cv2.Sobel(level, cv2.CV_32F, 1, 0, scale=1 / 8), cv2.Sobel(level, cv2.CV_32F, 0, 1, scale=1 / 8)
    flat = (np.hypot(gx, gy) < _FLAT).astype(np.uint8)
    return np.asarray(cv2.morphologyEx(flat, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0)


def _squares(filled: NDArray[np.uint8], noses: Floats, own_sides: int) -> list[Box]:
    """Return the largest upright square inside the area; of a whole sheet also smaller ones, the nearest to a nose first."""
    padded = cv2.copyMakeBorder(filled, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    far = cv2.distanceTransform(padded, cv2.DIST_C, 3)[1:-1, 1:-1]
    row, column = np.unravel_index(int(far.argmax()), far.shape)
    largest = int(far.max()) - 2
    if largest < _LEAST_REACH_PX:
        return []
    boxes = [_square(int(column), int(row), largest)]
    for share in _SMALLER if own_sides >= _PLAIN_SIDES else ():
        reach = max(round(largest * share), 2)
        rows, columns = np.nonzero(far[::reach, ::reach] >= reach + 2)
        middles = np.stack([columns, rows], -1) * reach
        if len(noses) and len(middles):
            apart = np.hypot(*(middles[:, None] - noses[None]).transpose(2, 0, 1)).min(1)
            middles = middles[np.argsort(apart, kind="stable")]
        boxes += [_square(int(x), int(y), reach) for x, y in middles[:_MOST_SMALLER]]
    return boxes


def _square(x: int, y: int, reach: int) -> Box:
    return x - reach, y - reach, 2 * reach + 1, 2 * reach + 1


# ---- which is which --------------------------------------------------------------------------------------


def _cast_deg(rgb: Floats, light: Floats) -> float:
    cosine = float(rgb @ light / (np.linalg.norm(rgb) * np.linalg.norm(light) + 1e-12))
    return float(np.degrees(np.arccos(np.clip(cosine, -1, 1))))


def _pair(sheets: list[Sheet], guess: Estimate) -> tuple[Sheet, Sheet] | None:
    """Return (paper, card) if two sheets of the same hue differ in level as paper and card do."""
    bright_first = sorted(sheets, key=lambda s: -s.level)
    for i, light in enumerate(bright_first):
        for dark in bright_first[i + 1 :]:
            same = _cast_deg(light.rgb_linear, dark.rgb_linear) < _PAIR_CAST_DEG
            as_known = _PAIR_RATIO[0] < light.level / dark.level < _PAIR_RATIO[1]
            if same and as_known and light.level * guess.gain > _PAPER_FROM:
                return replace(light, kind="paper"), replace(dark, kind="card")
    return None


def _single(sheets: list[Sheet], guess: Estimate) -> tuple[Sheet | None, Sheet | None]:
    """Return the brightest sheet as paper, or as card if it is mid-grey; between the two its level is left open.

    Benches are grey as well: a card must show nearly all its sides.
    """
    whole = [sheet for sheet in sheets if sheet.own_sides >= _PLAIN_SIDES or sheet.level * guess.gain > _CARD_TO]
    if not whole:
        return None, None
    best = max(whole, key=lambda s: s.level)
    reflectance = best.level * guess.gain
    sure = reflectance < _LEVELS[1] and not _CARD_TO < reflectance < _PAPER_FROM
    if reflectance <= _CARD_TO:
        return None, replace(best, kind="card", level_sure=sure)
    return replace(best, level_sure=sure), None
