"""How rough the nose is: unevenness of lightness between 0.15 and 0.8 mm, relative to the level."""

from __future__ import annotations

import cv2
import numpy as np

from plugread.measure.view import NoseView, noise_of
from plugread.records import Measured

# Our own: the band that lumps of crust fall in (mm), unevenness that counts as half, blur past which nothing can be said (mm).
_FINE_MM, _COARSE_MM, _HALF, _MAX_BLUR_MM = 0.12, 0.8, 0.075, 0.25
_SPREAD = {"side": 0.3, "oblique": 0.45, "end": 0.55, "unknown": 0.45}
"""95 % half-width by view: into the bore, shade adds unevenness of its own."""
_NOISE_LEFT, _DARKEST, _LIT_SHARE = 0.5, 15.0, 0.65
"""Share of the pixel noise that is left in the band; picture noise is coarser than white noise (our own)."""


def measure(nose: NoseView | None) -> tuple[Measured | None, str | None]:
    """Return crust, 0 smooth to 1 heavy, or None and the reason."""
    if nose is None:
        return None, "too little of the nose can be seen"
    if nose.blur_mm > _MAX_BLUR_MM:
        return None, f"too blurred to judge roughness (edges {nose.blur_mm:.2f} mm wide)"
    if nose.px_per_mm < 8:
        return None, f"too coarse to judge roughness ({nose.px_per_mm:.0f} pixels per mm)"
    uneven = unevenness(nose)
    value = uneven**2 / (uneven**2 + _HALF**2)
    return Measured(float(value), _SPREAD[nose.view], "0-1", f"lightness varies by {uneven:.0%} between 0.15 and 0.8 mm"), None


def unevenness(nose: NoseView) -> float:
    """Return the robust standard deviation of band-passed L* over L*, noise taken out."""
    weight = nose.mask.astype(np.float64)
    lightness = np.clip(nose.lab[..., 0], 0, 100)
    fine, coarse = (_blurred(lightness, weight, mm * nose.px_per_mm / 2) for mm in (_FINE_MM, _COARSE_MM))
    reach = max(1, round(0.15 * nose.px_per_mm))
    inner = cv2.erode(nose.mask.astype(np.uint8), np.ones((2 * reach + 1,) * 2, np.uint8)) > 0
    inner = inner if inner.sum() > 60 else nose.mask
    lit = inner & (coarse >= _LIT_SHARE * np.percentile(coarse[inner], 80))  # depth of the bore is shade, not crust
    inner = lit if lit.sum() > 60 else inner
    band = (fine - coarse)[inner]
    seen = float(np.median(np.abs(band - np.median(band)))) * 1.48
    noise = noise_of(lightness, nose.mask) * _NOISE_LEFT
    return float(np.sqrt(max(seen**2 - noise**2, 0.0)) / max(float(np.median(lightness[inner])), _DARKEST))


def _blurred(values: np.ndarray, weight: np.ndarray, sigma_px: float) -> np.ndarray:
    """Return a Gaussian mean over the nose only (normalised convolution)."""
    sigma = max(sigma_px, 0.4)
    total = cv2.GaussianBlur(weight, (0, 0), sigma)
    return np.asarray(cv2.GaussianBlur(values * weight, (0, 0), sigma) / np.maximum(total, 1e-6))
