"""A 24-patch colour chart in the photo: found by OpenCV, turned into a tone curve for each channel and a 3x3."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.photo.references import load_references
from plugread.records import Box, Photo, White

Floats = NDArray[np.float64]

_SIDE_PX = 900  # the finder's cost grows with the picture; patches of 12 px suffice
# A chart shows saturated patches of many hues: this many of six 60-degree sectors, each on at least this share of the picture.
_SECTORS, _SECTOR_SHARE = 4, 0.0006
_MAX_CODE_SPREAD = 0.08  # mean |residual| in linear light past which the patches do not fit the chart's values: found wrongly
_CLIPPED, _PATCHES = 250.0, 24
# Patches that something covers are left out, the two worst at a time: this many times the usual residual; what must remain.
_FAR, _ROUNDS, _LEAST_NEUTRAL, _LEAST_PATCHES = 5.0, 5, 4, 15


def white_from_chart(photo: Photo) -> White | None:
    """Return the correction by a chart in the photo, or None where none was found or it does not fit its own values."""
    small, factor = _small_bgr(photo)
    if not _many_hues(small):
        return None
    found = _find(small)
    if found is None:
        return None
    codes, box = found
    x, y, w, h = (round(v * factor) for v in box)
    return fit_chart(photo, codes, (x, y, w, h))


def fit_chart(photo: Photo, codes: Floats, box: Box | None) -> White | None:
    """Return the correction that maps patch means (24, 3), 8 bit codes, to the chart's values; None if it fits badly."""
    known = load_references()
    measured = _linear(photo, codes)
    usable = np.asarray((codes < _CLIPPED).all(1))
    for _ in range(_ROUNDS):
        neutral = np.array([row for row in known.neutral_rows if usable[row]])
        if len(neutral) < _LEAST_NEUTRAL or usable.sum() < _LEAST_PATCHES:
            return None
        gains, power = _grey_curve(measured[neutral], known.chart_rgb[neutral])
        if not (np.isfinite(power).all() and np.isfinite(gains).all() and (power > 0).all()):
            return None
        toned = (np.maximum(measured, 1e-6) * gains) ** power
        matrix = _neutral_matrix(toned[usable], known.chart_rgb[usable])
        rest = np.abs(toned @ matrix.T - known.chart_rgb).mean(1)
        covered = usable & (rest > max(_FAR * float(np.median(rest[usable])), _MAX_CODE_SPREAD))
        if not covered.any():
            break
        usable &= ~(covered & (rest >= np.sort(rest[covered])[-2:].min()))
    if rest[usable].mean() > _MAX_CODE_SPREAD:
        return None
    return White("card", "24-patch colour chart", gains, power, matrix, True, known.spread["chart"], reference_box=box)


def _small_bgr(photo: Photo) -> tuple[NDArray[np.uint8], float]:
    rgb = photo.rgb if photo.rgb.dtype == np.uint8 else (photo.rgb >> 8).astype(np.uint8)
    step = max(max(rgb.shape[:2]) / _SIDE_PX, 1.0)
    if step > 1:
        size = (round(rgb.shape[1] / step), round(rgb.shape[0] / step))
        rgb = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), np.uint8)
    return np.ascontiguousarray(rgb[..., ::-1]), step * photo.scale


def _many_hues(bgr: NDArray[np.uint8]) -> bool:
    """Return whether enough saturated hues are there for a search to be worth its time."""
    hsv = cv2.cvtColor(bgr[::3, ::3], cv2.COLOR_BGR2HSV)
    vivid = (hsv[..., 1] > 90) & (hsv[..., 2] > 40)
    sectors = np.bincount(hsv[..., 0][vivid] // 30, minlength=6)[:6] / vivid.size
    return int((sectors > _SECTOR_SHARE).sum()) >= _SECTORS


def _find(bgr: NDArray[np.uint8]) -> tuple[Floats, tuple[float, float, float, float]] | None:
    """Return patch means (24, 3) as RGB codes and the chart's box, or None.

    The finder must be told the chart first, and must not be asked for results after a failed search: that ends the process.
    """
    finder = cv2.mcc.CCheckerDetector.create()
    finder.setColorChartType(cv2.mcc.MCC24)
    if not finder.process(bgr, 1):
        return None
    checker = finder.getBestColorChecker()
    means = np.asarray(checker.getChartsRGB()).reshape(-1, 3, 5)[:, :, 1] if checker is not None else np.empty((0, 3))
    if means.shape != (_PATCHES, 3) or not np.isfinite(means).all():
        return None
    corners = np.asarray(checker.getBox(), np.float64).reshape(-1, 2)
    low, size = corners.min(0), np.ptp(corners, axis=0)
    return means.astype(np.float64), (low[0], low[1], size[0], size[1])


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
