"""A 24-patch colour chart in the photo: whole, cut off or partly covered; turned into a tone curve for each channel and a 3x3.

It is found as a lattice of plain fields whose colours, up to the light, are those published.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from plugread.photo.lattice import Lattice, lattices
from plugread.photo.references import load_references
from plugread.pixels import Mask, shrunk_codes
from plugread.records import Box, Photo, White

Floats = NDArray[np.float64]

CHART = "24-patch colour chart"
"""What a correction by a chart is called."""

_SIDE_PX = 1280  # the search's cost grows with the picture; patches of 6 px suffice
_COLUMNS, _ROWS = 6, 4
_MOST_LATTICES = 3  # this many of the largest are looked at
# A patch is measured on the middle of its field (share of the pitch each way) and must be even: codes' scatter over their mean,
# beside it what noise adds. Once the lattice's fields have set the gains it may be off by so much, square root of linear light.
_MIDDLE, _MOST_UNEVEN, _NOISE_CODES, _MOST_OFF = 0.2, 0.25, 6.0, 0.12
_MAX_RESIDUAL = 0.08  # mean |residual| in linear light past which the patches do not fit the chart's values: found wrongly
_CLIPPED = 250.0
# Patches that something covers are left out, the two worst at a time: this many times the usual residual; what must remain.
_FAR, _REPEATS, _LEAST_NEUTRAL, _LEAST_PATCHES = 5.0, 5, 3, 15
# Powers of a camera's tone curve; past these the neutrals are not what they seem. Of a chart partly seen: fewest patches and mean
# |residual|, square roots of linear light. How a lattice is laid on the chart: largest misfit, also in units of the next best.
_POWERS, _LEAST_OF_PART, _MAX_OFF_PART, _MOST_MISFIT, _CLEARLY = (0.7, 1.4), 8, 0.06, 0.02, 0.5
_PART = "only part of the colour chart can be measured; show all of it, sharp and evenly lit"
_UNFIT = "colour chart seen but not used: {} of its 24 patches can be measured; show all of it, sharp, evenly lit, not burnt out"


def white_from_chart(photo: Photo, refused: list[str] | None = None) -> White | None:
    """Return the correction by a chart in the photo, or None where none was found or it does not fit its own values.

    Why a chart that was seen is not used is appended to `refused`.
    """
    codes = shrunk_codes(photo, _SIDE_PX)
    rgb = codes if codes.dtype == np.uint8 else (codes >> 8).astype(np.uint8)
    factor = photo.size[0] / rgb.shape[1]
    reasons: list[str] = []
    for lattice in lattices(np.asarray(rgb, np.uint8), (_COLUMNS, _ROWS))[:_MOST_LATTICES]:
        placed = _placed(photo, np.asarray(rgb, np.uint8), lattice)
        if placed is None:
            continue
        middles, patches, seen = placed
        box = _box(middles * factor, photo.size)
        white = fit_chart(photo, patches, box, seen) or fit_part(photo, patches, box, seen)
        if white is not None:
            return white
        reasons.append(_UNFIT.format(int(seen.sum())))
    if refused is not None:
        refused.extend(reasons[:1])
    return None


def fit_chart(photo: Photo, codes: Floats, box: Box | None, seen: Mask | None = None) -> White | None:
    """Return the correction that maps patch means (24, 3), 8 bit codes, to the chart's values; None if it fits badly.

    `seen` (24,) says which patches were measured; all if None.
    """
    known = load_references()
    measured = _linear(photo, codes)
    usable = np.asarray((codes < _CLIPPED).all(1) & (True if seen is None else seen))
    for _ in range(_REPEATS):
        neutral = np.array([row for row in known.neutral_rows if usable[row]])
        if len(neutral) < _LEAST_NEUTRAL or usable.sum() < _LEAST_PATCHES:
            return None
        gains, power = _grey_curve(measured[neutral], known.chart_rgb[neutral])
        if not (np.isfinite(gains).all() and (power > _POWERS[0]).all() and (power < _POWERS[1]).all()):
            return None
        toned = (np.maximum(measured, 1e-6) * gains) ** power
        matrix = _neutral_matrix(toned[usable], known.chart_rgb[usable])
        rest = np.abs(toned @ matrix.T - known.chart_rgb).mean(1)
        covered = usable & (rest > max(_FAR * float(np.median(rest[usable])), _MAX_RESIDUAL))
        if not covered.any():
            break
        usable &= ~(covered & (rest >= np.sort(rest[covered])[-2:].min()))
    if rest[usable].mean() > _MAX_RESIDUAL:
        return None
    return White("card", CHART, gains, power, matrix, True, known.spread["chart"], reference_box=box)


def fit_part(photo: Photo, codes: Floats, box: Box | None, seen: Mask) -> White | None:
    """Return the gains by the few patches (24, 3) that are seen of a chart, too few for a tone curve; None below eight."""
    known = load_references()
    usable = np.asarray((codes < _CLIPPED).all(1) & seen)
    if usable.sum() < _LEAST_OF_PART:
        return None
    light, wanted = (np.sqrt(np.clip(rgb[usable], 0, None)) for rgb in (_linear(photo, codes), known.chart_rgb))
    pale = 1 / (0.1 + np.ptp(wanted, axis=1, keepdims=True))  # a camera's own colours spoil the vivid patches most
    gain = _gain(pale * light, pale * wanted)
    if np.abs(gain * light - wanted).mean() > _MAX_OFF_PART:
        return None
    return White("card", CHART, gain**2, np.ones(3), np.eye(3), True, known.spread["card"], box, _PART)


# ---- where its patches lie -------------------------------------------------------------------------------


def _placed(photo: Photo, rgb: NDArray[np.uint8], lattice: Lattice) -> tuple[Floats, Floats, Mask] | None:
    """Return middles (24, 2), codes (24, 3) and which were measured; None unless one way to lay the lattice clearly fits best."""
    known = np.sqrt(np.clip(load_references().chart_rgb, 0, None))
    found, even = _patches(rgb, lattice, lattice.index.astype(np.float64))
    light = np.sqrt(np.clip(_linear(photo, found), 0, None))[even]
    ways = list(_ways(lattice.index))
    if even.sum() < _LEAST_OF_PART or not ways:
        return None
    misfits = [_misfit(light, known[(row * _COLUMNS + column)[even]]) for (column, row), _ in ways]
    best, second = np.argsort(misfits)[:2]
    if misfits[best] > min(_MOST_MISFIT, _CLEARLY * misfits[second]):
        return None
    (column, row), back = ways[int(best)]
    codes, seen = _patches(rgb, lattice, back)
    gain = _gain(light, known[(row * _COLUMNS + column)[even]])
    off = np.abs(gain * np.sqrt(np.clip(_linear(photo, codes), 0, None)) - known).mean(1)
    return lattice.place(back), codes, seen & (off < _MOST_OFF)


def _ways(index: NDArray[np.int64]) -> Iterator[tuple[NDArray[np.int64], Floats]]:
    """Yield each way a lattice can be part of a chart: (column, row) of its fields, and index pairs (24, 2) of all patches."""
    column, row = np.meshgrid(np.arange(_COLUMNS), np.arange(_ROWS))
    all_patches = np.stack([column.ravel(), row.ravel()], -1)
    quarter = np.array([[0, -1], [1, 0]])
    for turns in range(4):
        turn = np.linalg.matrix_power(quarter, turns)
        turned = index @ turn.T
        low, span = turned.min(0), np.ptp(turned, axis=0) + 1
        for x in range(_COLUMNS - int(span[0]) + 1):
            for y in range(_ROWS - int(span[1]) + 1):
                move = np.array([x, y]) - low
                yield (turned + move).T, ((all_patches - move) @ turn).astype(np.float64)


def _misfit(light: Floats, known: Floats) -> float:
    """Return how far colours (n, 3) are from the chart's once each channel has its best gain; both square roots of linear."""
    return float(np.square(_gain(light, known) * light - known).mean())


def _gain(light: Floats, known: Floats) -> Floats:
    return np.asarray((light * known).sum(0) / np.maximum((light * light).sum(0), 1e-9))


def _patches(rgb: NDArray[np.uint8], lattice: Lattice, index: Floats) -> tuple[Floats, Mask]:
    """Return mean codes (n, 3) about the index pairs (n, 2) of a lattice, and which are even and inside the picture."""
    middle = lattice.place(index)
    pitch = np.minimum(*(np.hypot(*(lattice.place(index + step) - middle).T) for step in ([1, 0], [0, 1])))
    codes, even = np.zeros((len(index), 3)), np.zeros(len(index), bool)
    height, width = rgb.shape[:2]
    for k, ((x, y), reach) in enumerate(zip(middle, np.maximum(_MIDDLE * pitch, 1.0), strict=True)):
        left, right, top, bottom = round(x - reach), round(x + reach) + 1, round(y - reach), round(y + reach) + 1
        if left < 0 or top < 0 or right > width or bottom > height:
            continue
        field = rgb[top:bottom, left:right].reshape(-1, 3)
        codes[k] = field.mean(0)
        even[k] = bool((field.std(0) < _MOST_UNEVEN * codes[k] + _NOISE_CODES).all())
    return codes, even


def _box(middles: Floats, size: tuple[int, int]) -> Box:
    """Return the upright box of patch middles (24, 2), inside a picture of `size` (w, h)."""
    low, high = np.clip(middles.min(0), 0, size), np.clip(middles.max(0), 0, size)
    x, y = np.rint(low).astype(int).tolist()
    w, h = np.rint(high - low).astype(int).tolist()
    return x, y, w, h


# ---- from patches to a correction ------------------------------------------------------------------------


def _linear(photo: Photo, codes: Floats) -> Floats:
    """Return linear sRGB of fractional 8 bit codes, by the photo's own curve and primaries."""
    from plugread.colour import srgb_decode

    if photo.curve is None:
        linear = srgb_decode(codes / 255)
    else:
        linear = np.interp(codes / 255, np.linspace(0, 1, len(photo.curve)), photo.curve)
    return np.asarray(linear @ photo.to_srgb.T)


def _grey_curve(measured: Floats, wanted: Floats) -> tuple[Floats, Floats]:
    """Return gains and powers (3,) of the line log wanted = power * (log gain + log measured), weighted to the light patches."""
    x, y = np.log(np.maximum(measured, 1e-5)), np.log(wanted)
    weight = np.sqrt(wanted[:, :1]) + 0 * x
    mx, my = np.average(x, 0, weight), np.average(y, 0, weight)
    power = (weight * (x - mx) * (y - my)).sum(0) / np.maximum((weight * (x - mx) ** 2).sum(0), 1e-9)
    return np.exp(my / np.where(power > 0, power, np.nan) - mx), np.asarray(power)


def _neutral_matrix(toned: Floats, wanted: Floats) -> Floats:
    """Return the least-squares (3, 3) whose rows sum to 1, so that greys stay grey."""
    rows = []
    for channel in range(3):
        others = [k for k in range(3) if k != channel]
        slopes = toned[:, others] - toned[:, channel : channel + 1]
        share, *_ = np.linalg.lstsq(slopes, wanted[:, channel] - toned[:, channel], rcond=None)
        row = np.zeros(3)
        row[others] = share
        row[channel] = 1 - share.sum()
        rows.append(row)
    return np.array(rows)
