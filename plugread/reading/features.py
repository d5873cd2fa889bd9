"""The numbers a taught model reads a firing end by: what was measured on it, how the colours of its parts spread, what its
surface looks like to a small net.

One vector a firing end, in the order of `NAMES`; what could not be measured is NaN. A model remembers `VERSION` and is refused
by a program that computes another one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.colour import linear_srgb_to_lab
from plugread.pixels import Codes, apply_white, burnt, crop_codes, crop_valid, grown_box, part_on, to_linear
from plugread.reading.surface import ANSWERS, log_shares
from plugread.records import PARTS, Box, FiringEnd, Measured, Photo, PlugMeasures, White

Floats = NDArray[np.float64]

VERSION = 3

# Our own choices: a part counts from this probability on and from so many pixels; larger crops are thinned to this many rows.
_SURE, _FEWEST, _ROWS, _ROWS_BESIDE = 0.6, 30, 72, 48
_TENTHS = (10, 50, 90)
_ROUND = (7, 7)
"""Pixels round one that its detail is taken against."""
_BINS = 10
_RANGES = {"l": (0.0, 100.0), "a": (-15.0, 35.0), "b": (-10.0, 50.0)}
"""Where the bins of each axis lie: the colours of ceramic, soot, rust and paper; what lies outside counts in the end bins."""
_EDGE_SHARE = 0.35
"""The rim of the nose is the pixels nearer to its outline than this share of the deepest one."""

_BESIDE = ("strap", "centre", "rim")
"""Parts beside the nose whose colour is a feature."""
_GRAIN = ("grain", "dark_spots", "light_spots")
_CUES = ("gloss", "crust", "gap_mm")
_SPECKS = ("dark", "metal", "white")
_RAW = ("patchiness", "two_lights", "shade_depth", "strap_share", "centre_share")

NAMES: tuple[str, ...] = (
    *(f"nose_{axis}_{tenth}" for axis in _RANGES for tenth in _TENTHS),
    *(f"nose_{axis}_bin_{k}" for axis in _RANGES for k in range(_BINS)),
    "edge_darkness",
    *_GRAIN,
    *(f"{part}_{name}" for part in _BESIDE for name in (*_RANGES, "l_range")),
    "lit_l",
    "lit_a",
    "lit_b",
    *_CUES,
    *(f"specks_{kind}" for kind in _SPECKS),
    *_RAW,
    *(f"surface_{name}" for name in ANSWERS),
)


def feature_vector(photo: Photo, end: FiringEnd, white: White, measures: PlugMeasures) -> Floats:
    """Return the features of one firing end: float64 of shape (len(NAMES),), NaN where something could not be measured."""
    found = _nose(photo, end, white) | _measured(measures) | _surface(photo, end, white)
    for part in _BESIDE:
        found |= _beside(photo, end, white, part)
    return np.array([found.get(name, np.nan) for name in NAMES])


def _nose(photo: Photo, end: FiringEnd, white: White) -> dict[str, float]:
    seen = _part(photo, end, white, "nose", end.nose_box, _ROWS)
    if seen is None:
        return {}
    found: dict[str, float] = {}
    for axis, values, tenths in zip(_RANGES, seen.lab.T, np.percentile(seen.lab, _TENTHS, axis=0).T, strict=True):
        found |= {f"nose_{axis}_{tenth}": float(v) for tenth, v in zip(_TENTHS, tenths, strict=True)}
        found |= {f"nose_{axis}_bin_{k}": float(v) for k, v in enumerate(root_histogram(values, _RANGES[axis]))}
    low, high = np.percentile(detail := _detail(seen), (5, 95))
    return {**found, **_edge(seen), "grain": float(detail.std()), "dark_spots": float(-low), "light_spots": float(high)}


def _edge(seen: _Seen) -> dict[str, float]:
    """Return how much darker the nose is along its outline than within."""
    inside = np.pad(seen.inside.astype(np.uint8), 1)
    depth = cv2.distanceTransform(inside, cv2.DIST_L2, 3)[1:-1, 1:-1][seen.usable]
    light, rim = seen.lab[:, 0], depth < _EDGE_SHARE * depth.max()
    known = rim.any() and not rim.all()
    return {"edge_darkness": float(np.median(light[~rim]) - np.median(light[rim])) if known else 0.0}


def root_histogram(values: Floats, ends: tuple[float, float]) -> Floats:
    """Return the square roots of the shares in `_BINS` equal bins between `ends`: (10,), the squares add up to 1.

    Straight distances between such vectors are Hellinger's (Arandjelovic and Zisserman, CVPR 2012, use the same root).
    """
    bins = np.clip((values - ends[0]) * (_BINS / (ends[1] - ends[0])), 0, _BINS - 1).astype(np.intp)
    return np.asarray(np.sqrt(np.bincount(bins, minlength=_BINS) / len(bins)))


def _beside(photo: Photo, end: FiringEnd, white: White, part: str) -> dict[str, float]:
    """Return median colour and range of lightness of a part beside the nose."""
    box = _box_of(end, part)
    seen = _part(photo, end, white, part, box, _ROWS_BESIDE) if box else None
    if seen is None:
        return {}
    low, middle, high = np.percentile(seen.lab, _TENTHS, axis=0)
    found = {f"{part}_{axis}": float(v) for axis, v in zip(_RANGES, middle, strict=True)}
    return {**found, f"{part}_l_range": float(high[0] - low[0])}


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


def _surface(photo: Photo, end: FiringEnd, white: White) -> dict[str, float]:
    return {f"surface_{name}": value for name, value in log_shares(photo, end, white).items()}


def _box_of(end: FiringEnd, part: str) -> Box | None:
    """Return the full-size box round the sure cells of a part, or None if there are none."""
    sure = end.parts.probability[PARTS.index(part)] > _SURE
    rows, columns = np.flatnonzero(sure.any(1)), np.flatnonzero(sure.any(0))
    if len(rows) == 0:
        return None
    step = end.parts.step
    left, top = int(end.parts.x0 + columns[0] * step), int(end.parts.y0 + rows[0] * step)
    width, height = (int((cells[-1] - cells[0] + 1) * step) + 1 for cells in (columns, rows))
    return left, top, width, height


@dataclass(frozen=True, eq=False)
class _Seen:
    """A part's crop: codes (h, w, 3), where the part is and where its colour is known (h, w), Lab (n, 3) of those pixels."""

    codes: Codes
    inside: NDArray[np.bool_]
    usable: NDArray[np.bool_]
    lab: Floats


def _part(photo: Photo, end: FiringEnd, white: White, part: str, box: Box, rows: int) -> _Seen | None:
    """Return what is seen of a part in corrected light, its longer side thinned to about `rows`; None if that is too little."""
    box = grown_box(box, 0.05, photo.size)
    thin = _thinned(photo, box, rows)
    codes = crop_codes(thin, box)
    inside = np.asarray(part_on(thin, end.parts, part, box) > _SURE)
    usable = inside & crop_valid(thin, box) & ~burnt(codes)
    if usable.sum() < _FEWEST:
        return None
    return _Seen(codes, inside, usable, linear_srgb_to_lab(apply_white(white, to_linear(thin, codes[usable]))))


def _detail(seen: _Seen) -> Floats:
    """Return how much brighter each usable pixel is than the usable ones round it, over their mean: (n,)."""
    weight = seen.usable.astype(np.float32)
    grey = seen.codes.astype(np.float32).mean(-1) * weight
    near = cv2.blur(grey, _ROUND) / np.maximum(cv2.blur(weight, _ROUND), 1e-3)
    return np.asarray(((grey - near) / np.maximum(near, 1.0))[seen.usable], np.float64)


def _thinned(photo: Photo, box: Box, rows: int) -> Photo:
    """Return every k-th pixel of the photo, a view, such that the longer side of `box` keeps about `rows` of them."""
    k = max(1, max(box[2:]) // (photo.scale * rows))
    if k == 1:
        return photo
    some = slice(k // 2, None, k)
    valid = None if photo.valid is None else photo.valid[some, some]
    return replace(photo, rgb=photo.rgb[some, some], scale=photo.scale * k, valid=valid)
