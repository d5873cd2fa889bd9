"""Specks on the nose, 0.05 to 0.5 mm across: dark ones, bright neutral ones (metal) and white ones."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.measure.view import NoseView

Floats = NDArray[np.float64]

# Our own: sizes and surroundings (mm), how many robust sigmas of the nose's own unevenness a speck stands out, least step in L*,
# least px/mm.
_SMALLEST_MM, _LARGEST_MM, _AROUND_MM, _SIGMAS, _LEAST_STEP, _MIN_PX_PER_MM = 0.07, 0.5, 1.5, 5.0, 9.0, 11.0
# Beyond this blur specks are smeared away (mm). Bright specks of metal have less chroma than this (C*), white ones this L*.
_MAX_BLUR_MM, _METAL_CHROMA, _WHITE_LIGHTNESS = 0.2, 7.0, 88.0
KINDS = ("dark", "metal", "white")


def measure(nose: NoseView | None) -> tuple[dict[str, int] | None, str | None]:
    """Return the number of specks by kind, or None and the reason."""
    if nose is None:
        return None, "too little of the nose can be seen"
    if nose.true_px_per_mm < _MIN_PX_PER_MM:
        return None, f"too coarse for specks ({nose.true_px_per_mm:.0f} pixels per mm, {_MIN_PX_PER_MM:.0f} needed); move closer"
    if nose.blur_mm > _MAX_BLUR_MM:
        return None, "too blurred for specks"
    inner = _inner(nose)
    if inner.sum() < 80:
        return None, "too little of the nose can be seen"
    above = _above_surroundings(nose)
    counts = dict.fromkeys(KINDS, 0)
    counts["dark"] = len(_blobs(-above, inner, nose.px_per_mm))
    for blob in _blobs(above, inner, nose.px_per_mm):
        counts[_bright_kind(nose.lab[blob])] += 1
    return counts, None


def _above_surroundings(nose: NoseView) -> Floats:
    """Return how far L* stands above the median of its surroundings; outside the nose counts as its middle value."""
    lightness = cv2.GaussianBlur(np.clip(nose.lab[..., 0], 0, 100), (0, 0), 0.7)
    filled = np.where(nose.mask, lightness, np.median(lightness[nose.mask]))
    size = 2 * round(_AROUND_MM * nose.px_per_mm / 2) + 1
    around = cv2.medianBlur((filled * 2.55).round().astype(np.uint8), size)
    return np.asarray(filled - around / 2.55, np.float64)


def _inner(nose: NoseView) -> NDArray[np.bool_]:
    reach = max(1, round(0.12 * nose.px_per_mm))
    return np.asarray(cv2.erode(nose.mask.astype(np.uint8), np.ones((2 * reach + 1,) * 2, np.uint8)) > 0)


def _blobs(contrast: Floats, inner: NDArray[np.bool_], px_per_mm: float) -> list[NDArray[np.bool_]]:
    """Return masks of compact blobs that stand out."""
    values = contrast[inner]
    noise = float(np.median(np.abs(values - np.median(values)))) * 1.48
    limit = float(np.median(values)) + max(_SIGMAS * noise, _LEAST_STEP)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(((contrast > limit) & inner).astype(np.uint8), connectivity=8)
    smallest, largest = (np.pi / 4 * (mm * px_per_mm) ** 2 for mm in (_SMALLEST_MM, _LARGEST_MM))
    areas = stats[:, cv2.CC_STAT_AREA]
    sides = np.maximum(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    compact = areas > 0.35 * sides**2
    return [labels == k for k in range(1, count) if max(smallest, 3) <= areas[k] <= largest and compact[k]]


def _bright_kind(lab: Floats) -> str:
    middle = np.median(lab, axis=0)
    if np.percentile(lab[:, 0], 80) > _WHITE_LIGHTNESS:
        return "white"
    return "metal" if float(np.hypot(middle[1], middle[2])) < _METAL_CHROMA else "white"
