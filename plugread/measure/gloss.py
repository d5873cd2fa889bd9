"""How wet or glassy the nose looks: narrow blobs far brighter than the matt surface around them.

Source of the idea: Shafer, Color Res. Appl. 10 (1985) 210: a glint has the colour of the light, the body its own. Under flat
light no glint shows; then the answer is that it cannot be told.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.measure.view import NoseView, noise_of
from plugread.records import Measured

Floats = NDArray[np.float64]

# All our own, fitted on rendered plugs: size of a glint and of the matt surroundings (mm), contrast at which a surface counts as
# half glossy, steepness, share of brightest pixels looked at, least contrast that shows the light is not flat.
_GLINT_MM, _AROUND_MM, _LIT_SHARE, _DARKEST = 0.45, 1.0, 0.8, 0.03
_HALF, _STEEP, _TOP = 1.15, 2.2, 99.0
_SPREAD = {"side": 0.5, "oblique": 0.6, "end": 0.75, "unknown": 0.6}
"""95 % half-width by view: glints come and go with the light, and into the bore, edges and shade look like them (our own)."""
_METAL_TOP, _FLAT_LIGHT = 98.0, 0.3
"""Bare metal always glints where anything can: below this contrast of its brightest pixels the light is flat (our own)."""
_NOISE_SIGMAS, _NOISE_LEFT = 3.0, 0.6
"""Noise that a glint must rise above, and the share of it that the light blur leaves (picture noise is coarse; our own)."""


def measure(nose: NoseView | None) -> tuple[Measured | None, str | None]:
    """Return gloss, 0 matt to 1 wet or glassy, or None and the reason."""
    if nose is None:
        return None, "too little of the nose can be seen"
    if nose.blur_mm > 0.35:
        return None, "too blurred to tell wet from dry"
    inside = _inner(nose)
    if inside.sum() < 80:
        return None, "too little of the nose can be seen"
    contrast = glint_contrast(nose)
    if _light_is_flat(contrast, nose):
        return None, "the light is too flat to tell wet from dry: even the metal shows no glint; add a lamp from one side"
    contrast = contrast[inside]
    peak = float(np.percentile(contrast, _TOP))
    value = 1 / (1 + (max(peak, 1e-3) / _HALF) ** -_STEEP)
    return Measured(float(value), _SPREAD[nose.view], "0-1", f"glints {peak:.1f} times the matt level"), None


def _light_is_flat(contrast: Floats, nose: NoseView) -> bool:
    """Return whether the metal beside the nose shows no glint; False where no metal is in view to judge by."""
    return bool(nose.metal.sum() > 80 and np.percentile(contrast[nose.metal], _METAL_TOP) < _FLAT_LIGHT)


def glint_contrast(nose: NoseView) -> Floats:
    """Return how far each pixel stands above the matt level about it, in units of that level: shape (h, w)."""
    noise = noise_of(nose.level, nose.mask) * _NOISE_LEFT
    level = np.minimum(cv2.GaussianBlur(nose.level, (0, 0), 0.8), 4.0)
    glint = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (_odd(_GLINT_MM * nose.px_per_mm),) * 2)
    matt = cv2.morphologyEx(level, cv2.MORPH_OPEN, glint)
    around = cv2.GaussianBlur(matt, (0, 0), max(_AROUND_MM * nose.px_per_mm / 2, 1.0))
    lit = float(np.percentile(matt[nose.mask], 70))  # crevices of a crust are dark: their rims are no glints
    above = np.maximum(level - matt - _NOISE_SIGMAS * noise, 0.0)
    return np.asarray(above / np.maximum(np.maximum(around, _LIT_SHARE * lit), _DARKEST))


def _inner(nose: NoseView) -> NDArray[np.bool_]:
    """Return the nose without a seam along its edge, where strap and bore throw light and shade."""
    reach = max(1, round(0.08 * nose.px_per_mm))
    return np.asarray(cv2.erode(nose.mask.astype(np.uint8), np.ones((2 * reach + 1,) * 2, np.uint8)) > 0)


def _odd(size: float) -> int:
    return max(3, 2 * round((size - 1) / 2) + 1)
