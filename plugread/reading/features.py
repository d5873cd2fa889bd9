"""The numbers a taught model reads a firing end by: what was measured on it, and how the colours of nose and strap spread.

One vector a firing end, in the order of `NAMES`; what could not be measured is NaN. A model remembers `VERSION` and is refused
by a program that computes another one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.colour import linear_srgb_to_lab
from plugread.pixels import apply_white, burnt, crop_codes, crop_valid, grown_box, part_on, to_linear
from plugread.records import PARTS, Box, FiringEnd, Measured, Photo, PlugMeasures, White

Floats = NDArray[np.float64]

VERSION = 1

# Our own choices: a part counts from this probability on and from so many pixels; larger crops are thinned to this many rows.
_SURE, _FEWEST, _ROWS = 0.6, 30, 72
_TENTHS = (10, 50, 90)
_BINS = 10
_RANGES = {"l": (0.0, 100.0), "a": (-15.0, 35.0), "b": (-10.0, 50.0)}
"""Where the bins of each axis lie: the colours of ceramic, soot, rust and paper; what lies outside counts in the end bins."""
_EDGE_SHARE = 0.35
"""The rim of the nose is the pixels nearer to its outline than this share of the deepest one."""

_CUES = ("gloss", "crust", "gap_mm")
_SPECKS = ("dark", "metal", "white")
_RAW = ("patchiness", "two_lights", "shade_depth", "strap_share", "centre_share")

NAMES: tuple[str, ...] = (
    *(f"nose_{axis}_{tenth}" for axis in _RANGES for tenth in _TENTHS),
    *(f"nose_{axis}_bin_{k}" for axis in _RANGES for k in range(_BINS)),
    "edge_darkness",
    *(f"strap_{axis}" for axis in _RANGES),
    "strap_l_range",
    "lit_l",
    "lit_a",
    "lit_b",
    *_CUES,
    *(f"specks_{kind}" for kind in _SPECKS),
    *_RAW,
)


def feature_vector(photo: Photo, end: FiringEnd, white: White, measures: PlugMeasures) -> Floats:
    """Return the features of one firing end: float64 of shape (len(NAMES),), NaN where something could not be measured."""
    found = _nose(photo, end, white) | _strap(photo, end, white) | _measured(measures)
    return np.array([found.get(name, np.nan) for name in NAMES])


def _nose(photo: Photo, end: FiringEnd, white: White) -> dict[str, float]:
    lab, depth = _part(photo, end, white, "nose", end.nose_box)
    if lab is None:
        return {}
    found: dict[str, float] = {}
    for axis, values, tenths in zip(_RANGES, lab.T, np.percentile(lab, _TENTHS, axis=0).T, strict=True):
        found |= {f"nose_{axis}_{tenth}": float(v) for tenth, v in zip(_TENTHS, tenths, strict=True)}
        found |= {f"nose_{axis}_bin_{k}": float(v) for k, v in enumerate(root_histogram(values, _RANGES[axis]))}
    rim = depth < _EDGE_SHARE * depth.max()
    found["edge_darkness"] = float(np.median(lab[~rim, 0]) - np.median(lab[rim, 0])) if rim.any() else 0.0
    return found


def root_histogram(values: Floats, ends: tuple[float, float]) -> Floats:
    """Return the square roots of the shares in `_BINS` equal bins between `ends`: (10,), the squares add up to 1.

    Straight distances between such vectors are Hellinger's (Arandjelovic and Zisserman, CVPR 2012, use the same root).
    """
    bins = np.clip((values - ends[0]) * (_BINS / (ends[1] - ends[0])), 0, _BINS - 1).astype(np.intp)
    return np.asarray(np.sqrt(np.bincount(bins, minlength=_BINS) / len(bins)))


def _strap(photo: Photo, end: FiringEnd, white: White) -> dict[str, float]:
    box = _box_of(end, "strap")
    lab, _ = _part(photo, end, white, "strap", box) if box else (None, None)
    if lab is None:
        return {}
    low, high = np.percentile(lab[:, 0], (10, 90))
    return {f"strap_{axis}": float(v) for axis, v in zip(_RANGES, np.median(lab, axis=0), strict=True)} | {
        "strap_l_range": float(high - low)
    }


def _measured(measures: PlugMeasures) -> dict[str, float]:
    numbers: Mapping[str, Measured | None] = {
        "lit_l": measures.lightness,
        "lit_a": measures.a,
        "lit_b": measures.b,
        **{name: getattr(measures, name) for name in _CUES},
    }
    found = {name: number.value for name, number in numbers.items() if number is not None}
    if measures.specks is not None:
        found |= {f"specks_{kind}": float(np.log1p(measures.specks.get(kind, 0))) for kind in _SPECKS}
    return found | {name: measures.features[name] for name in _RAW if name in measures.features}


def _box_of(end: FiringEnd, part: str) -> Box | None:
    """Return the full-size box round the sure cells of a part, or None if there are none."""
    rows, columns = np.nonzero(end.parts.probability[PARTS.index(part)] > _SURE)
    if len(rows) == 0:
        return None
    step, x0, y0 = end.parts.step, end.parts.x0, end.parts.y0
    left, top = int(x0 + columns.min() * step), int(y0 + rows.min() * step)
    width, height = (int((v.max() - v.min() + 1) * step) + 1 for v in (columns, rows))
    return left, top, width, height


def _part(photo: Photo, end: FiringEnd, white: White, part: str, box: Box) -> tuple[Floats | None, Floats]:
    """Return Lab (n, 3) of a part's unclipped pixels in corrected light, and how deep each lies in it (n,); None if too few."""
    box = grown_box(box, 0.05, photo.size)
    thin = _thinned(photo, box)
    codes = crop_codes(thin, box)
    inside = np.asarray(part_on(thin, end.parts, part, box) > _SURE)
    usable = inside & crop_valid(thin, box) & ~burnt(codes)
    if usable.sum() < _FEWEST:
        return None, np.empty(0)
    depth = cv2.distanceTransform(np.pad(inside.astype(np.uint8), 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    linear = to_linear(thin, codes[usable])
    return linear_srgb_to_lab(apply_white(white, linear)), np.asarray(depth[usable], np.float64)


def _thinned(photo: Photo, box: Box) -> Photo:
    """Return every k-th pixel of the photo, a view, such that the longer side of `box` keeps about `_ROWS` of them."""
    k = max(1, max(box[2:]) // (photo.scale * _ROWS))
    if k == 1:
        return photo
    some = slice(k // 2, None, k)
    valid = None if photo.valid is None else photo.valid[some, some]
    return replace(photo, rgb=photo.rgb[some, some], scale=photo.scale * k, valid=valid)
