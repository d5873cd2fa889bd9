"""The spark gap in millimetres, from a side view: thread pitch for the scale, electrode edges at full resolution.

Says why where it cannot: not a side view, leaning too far, thread not countable, too few pixels, blurred, strap or centre not
found, bridged. The visible gap is g cos(phi) - (w/2 + r) sin(phi): leaning always makes it look smaller.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plugread.measure.axis import UprightPlug, upright
from plugread.measure.scale import Scale, thread_scale
from plugread.measure.tilt import Tilt, axis_tilt
from plugread.records import FiringEnd, Measured, Photo, Quality

Floats = NDArray[np.float64]

MAX_TILT_DEG = 5.0
MIN_PX_PER_MM = 15.0
MAX_BLUR_MM = 0.12
SIDE_SURE = 0.5
STRAP_HALF_WIDTH_MM = 1.25
"""Half the depth of a common strap (2.2 to 2.9 mm wide); enters the leaning correction only."""
TILT_TRUST = 0.7
"""How much of the found lean is corrected; the rest goes into the spread."""
CENTRAL_SHARE = 0.7
"""Share of the centre electrode's width in which columns are measured: its rounded corners read too wide."""
LOW_QUANTILE = 0.35
"""The gap is set by the nearest faces: a low quantile over the columns, not the median."""


@dataclass(frozen=True)
class GapEdges:
    """The two faces found, in upright pixels: rows of strap and centre face by column, and the columns."""

    columns: NDArray[np.int_]
    strap_v: Floats
    centre_v: Floats
    edge_noise_px: float


def measure_gap(photo: Photo, end: FiringEnd, quality: Quality, thread: str | None = None) -> tuple[Measured | None, str | None]:
    """Return the gap, or None and the reason.

    Parameters
    ----------
    photo : decoded at full size; a reduced decode has too few pixels.
    end : the firing end found in it.
    quality : its sharpness and scale.
    thread : the thread size if the user told it.
    """
    if end.view in ("end", "oblique") or end.view_probability.get("side", 1.0) < SIDE_SURE:
        return None, "turn the plug side-on to measure the gap"
    plug = upright(photo, end)
    if plug is None:
        return None, "the plug's axis was not found; show more of the thread"
    scale = thread_scale(plug, thread)
    if scale.px_per_mm is None:
        return None, scale.why
    tilt = axis_tilt(plug)
    reason = _unfit(scale, tilt, quality)
    if reason:
        return None, reason
    edges = gap_edges(plug, scale.px_per_mm)
    if isinstance(edges, str):
        return None, edges
    return _gap(edges, scale, tilt, plug), None


def _unfit(scale: Scale, tilt: Tilt, quality: Quality) -> str | None:
    assert scale.px_per_mm is not None
    if scale.px_per_mm < MIN_PX_PER_MM:
        return f"too small in the picture ({scale.px_per_mm:.0f} pixels per mm, {MIN_PX_PER_MM:.0f} needed); move closer"
    if abs(tilt.degrees) > MAX_TILT_DEG:
        return f"the plug leans {abs(tilt.degrees):.0f} degrees out of the picture; hold it square to the lens"
    blur_mm = quality.blur_px / scale.px_per_mm
    if blur_mm > MAX_BLUR_MM:
        return f"edges are {blur_mm:.2f} mm wide from blur; hold still and let the camera focus on the gap"
    return None


def _gap(edges: GapEdges, scale: Scale, tilt: Tilt, plug: UprightPlug) -> Measured:
    """Turn edge rows into millimetres, corrected for leaning, with the spread from scale, edges, columns and lean."""
    assert scale.px_per_mm is not None
    openings = (edges.centre_v - edges.strap_v) / scale.px_per_mm
    visible = float(np.quantile(openings, LOW_QUANTILE))
    radius_mm = 0.5 * len(edges.columns) / CENTRAL_SHARE / scale.px_per_mm
    lever_mm = STRAP_HALF_WIDTH_MM + min(radius_mm, 1.4)
    lean = np.radians(abs(tilt.degrees))
    value = (visible + TILT_TRUST * lever_mm * np.sin(lean)) / np.cos(lean)
    parts = (
        scale.relative_spread * value,
        2 * edges.edge_noise_px / scale.px_per_mm,
        lever_mm * np.sin(np.radians(min(tilt.spread, 3.0))) * 0.6 + (1 - TILT_TRUST) * lever_mm * np.sin(lean),
        0.5 * float(np.quantile(openings, 0.7) - np.quantile(openings, 0.1)),
    )
    return Measured(float(value), float(np.hypot.reduce(parts)), "mm", "photo: thread pitch and electrode edges")


# ---- edges -----------------------------------------------------------------------------------------------


def gap_edges(plug: UprightPlug, px_per_mm: float) -> GapEdges | str:
    """Return the strap's lower face and the centre's top face column by column, or the reason in words."""
    strap, centre = plug.probability("strap") > 0.5, plug.probability("centre") > 0.5
    if strap.sum() < 0.3 * px_per_mm**2 or centre.sum() < 0.1 * px_per_mm**2:
        return "strap and centre electrode are not both in view"
    columns = _facing_columns(strap, centre, px_per_mm)
    if columns is None:
        return "the strap does not stand over the centre electrode in this view; turn the plug so that the gap shows"
    tops = np.argmax(centre[:, columns], axis=0)
    bottoms = np.array([_last_above(strap[:, c], t) for c, t in zip(columns, tops, strict=True)])
    usable = bottoms >= 0
    if usable.sum() < max(3, 0.4 * len(columns)):
        return "the strap does not stand over the centre electrode in this view; turn the plug so that the gap shows"
    columns, tops, bottoms = columns[usable], tops[usable], bottoms[usable]
    refined = _refined(plug, columns, bottoms, tops, px_per_mm)
    return refined if refined is not None else "no light between strap and centre: the gap is bridged or hidden"


def _facing_columns(strap: NDArray[np.bool_], centre: NDArray[np.bool_], px_per_mm: float) -> NDArray[np.int_] | None:
    """Return the middle columns of the centre electrode's tip that also hold strap."""
    rows = np.nonzero(centre.any(1))[0]
    tip = centre[rows[0] : rows[0] + max(3, int(0.5 * px_per_mm))]
    across = np.nonzero(tip.sum(0) >= 0.4 * len(tip))[0]
    if len(across) < 3:
        return None
    middle, half = (across[0] + across[-1]) / 2, CENTRAL_SHARE * (across[-1] - across[0] + 1) / 2
    columns = np.arange(int(np.ceil(middle - half)), int(np.floor(middle + half)) + 1)
    columns = columns[(columns >= 0) & (columns < strap.shape[1])]
    columns = columns[strap[:, columns].any(0) & centre[:, columns].any(0)]
    return columns if len(columns) >= 3 else None


def _last_above(column: NDArray[np.bool_], top: int) -> int:
    """Return the last strap row above the centre's top, -1 if none."""
    above = np.nonzero(column[:top])[0]
    return int(above[-1]) if len(above) else -1


def _refined(
    plug: UprightPlug, columns: NDArray[np.int_], bottoms: NDArray[np.int_], tops: NDArray[np.int_], px_per_mm: float
) -> GapEdges | None:
    """Move both faces to the steepest place nearby, to a fraction of a pixel."""
    reach = int(max(3, 0.22 * px_per_mm, 1.5 * plug.step))
    slope = _steepness(plug.rgb, max(0.7, 0.02 * px_per_mm))
    strap_v, centre_v, kept = [], [], []
    for column, bottom, top in zip(columns, bottoms, tops, strict=True):
        middle = (bottom + top) / 2
        upper = _peak(slope[:, column], bottom, bottom - reach, min(bottom + reach, middle))
        lower = _peak(slope[:, column], top, max(top - reach, middle), top + reach)
        if upper is not None and lower is not None and lower > upper:
            strap_v.append(upper)
            centre_v.append(lower)
            kept.append(column)
    if len(kept) < max(3, 0.4 * len(columns)):
        return None
    at = np.array(kept)
    strap_a, centre_a = _smoothed(at, np.array(strap_v)), _smoothed(at, np.array(centre_v))
    noise = float(np.median(np.abs(np.array(strap_v) - strap_a)) + np.median(np.abs(np.array(centre_v) - centre_a)))
    return GapEdges(at, strap_a, centre_a, noise / np.sqrt(max(1, len(at) / (2 * reach))) + 0.15)


def _steepness(rgb: NDArray[np.float32], sigma_px: float) -> Floats:
    """Return the colour change along v for each pixel, smoothed by a Gaussian of `sigma_px`, shape (h, w)."""
    radius = int(np.ceil(3 * sigma_px))
    x = np.arange(-radius, radius + 1)
    bell = np.exp(-(x**2) / (2 * sigma_px**2))
    derivative = -x * bell / (sigma_px**2 * bell.sum())
    padded = np.pad(rgb.astype(np.float64), ((radius, radius), (0, 0), (0, 0)), mode="edge")
    total = np.zeros(rgb.shape)
    for k, weight in enumerate(derivative):
        total += weight * padded[k : k + rgb.shape[0]]
    return np.asarray(np.sqrt((total**2).sum(-1)))


def _peak(slope: Floats, expected: float, low: float, high: float) -> float | None:
    """Return the row of the steepest place in [low, high], nearer ones preferred, refined by a parabola."""
    first, last = int(max(1, np.floor(low))), int(min(len(slope) - 2, np.ceil(high)))
    if last - first < 2:
        return None
    rows = np.arange(first, last + 1)
    width = max(2.0, 0.7 * (high - low))
    k = int(rows[np.argmax(slope[rows] * np.exp(-(((rows - expected) / width) ** 2)))])
    a, b, c = slope[k - 1], slope[k], slope[k + 1]
    bend = a - 2 * b + c
    return float(k + np.clip(0.5 * (a - c) / bend, -0.5, 0.5)) if bend < 0 else float(k)


def _smoothed(columns: NDArray[np.int_], rows: Floats) -> Floats:
    """Return the face as a gentle curve: a robust quadratic over the columns."""
    if len(columns) < 6:
        return np.full(len(rows), float(np.median(rows)))
    x = (columns - columns.mean()) / max(1.0, np.ptp(columns) / 2)
    weights = np.ones(len(rows))
    fit = rows
    for _ in range(4):
        fit = np.polyval(np.polyfit(x, rows, 2, w=weights), x)
        off = np.abs(rows - fit)
        weights = 1 / (1 + (off / (2.0 * np.median(off) + 0.3)) ** 2)
    return np.asarray(fit)
