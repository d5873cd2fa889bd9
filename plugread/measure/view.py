"""The nose at one standard size (24 pixels a millimetre) in corrected light: what gloss, crust and specks are looked for on."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.colour import linear_srgb_to_lab
from plugread.pixels import Mask, apply_white, averaged, clipped, crop_codes, decoded_box, grown_box, parts_over, to_linear
from plugread.records import Box, FiringEnd, Photo, Quality, White

Floats = NDArray[np.float64]

PX_PER_MM = 24.0  # enough for specks of 0.1 mm; finer pictures are reduced to it
_MIN_CELLS = 150
# A nose is about this wide at its tip where no better scale is known (mm): common plugs have 4.4 to 5.6.
NOSE_WIDTH_MM = 5.0


@dataclass(frozen=True, eq=False)
class NoseView:
    """The nose and its surroundings, resampled.

    Parameters
    ----------
    lab : float64 of shape (h, w, 3), corrected.
    level : float64 of shape (h, w), luminance of the corrected picture (paper = about 0.9).
    mask : bool of shape (h, w), sure nose, glints included; `metal` the metal about it.
    burnt : bool of shape (h, w), a channel at its limit.
    px_per_mm : scale of these arrays; `true_px_per_mm` that of the photo; `scale_sure` False where it is the usual nose width.
    blur_mm : edge width; `bright_share` share of the nose at the limit of the camera; `view` that of the firing end.
    """

    lab: Floats
    level: Floats
    mask: Mask
    metal: Mask
    burnt: Mask
    px_per_mm: float
    true_px_per_mm: float
    scale_sure: bool
    blur_mm: float
    bright_share: float
    view: str = "side"


def nose_view(photo: Photo, end: FiringEnd, white: White, quality: Quality) -> NoseView | None:
    """Return the nose at the standard size, or None if too little of it is sure."""
    true, sure = (quality.px_per_mm, True) if quality.px_per_mm else (guessed_scale(end), False)
    box = grown_box(end.nose_box, 0.15, photo.size)
    codes = crop_codes(photo, box)
    if min(codes.shape[:2]) < 8:
        return None
    shrink = min(1.0, PX_PER_MM / true * photo.scale)
    size = (max(round(codes.shape[1] * shrink), 4), max(round(codes.shape[0] * shrink), 4))
    small = to_linear(photo, averaged(codes, size))
    mask = _on(photo, end, ("nose",), box, size)
    metal = _on(photo, end, ("rim", "thread", "strap", "centre"), box, size)
    burnt = cv2.resize(clipped(photo, box).astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.3
    if mask.sum() < _MIN_CELLS:
        return None
    corrected = apply_white(white, small)
    lab = linear_srgb_to_lab(corrected)
    level = corrected @ [0.2126, 0.7152, 0.0722]
    scale = true / photo.scale * shrink
    blur_mm, bright_share = quality.blur_px / true, float(burnt[mask].mean())
    return NoseView(lab, level, mask, metal, burnt, scale, true, sure, blur_mm, bright_share, end.view)


def _on(photo: Photo, end: FiringEnd, names: tuple[str, ...], box: Box, size: tuple[int, int]) -> Mask:
    """Return where the named parts together are sure, on a box reduced to `size` (w, h)."""
    x, y, w, h = (v * photo.scale for v in decoded_box(photo, box))
    return parts_over(end.parts, names, (x, y, w, h), size) > 0.7


def noise_of(plane: Floats, mask: Mask) -> float:
    """Return the standard deviation of pixel noise inside the mask, from what a small blur takes away."""
    fine = plane - cv2.GaussianBlur(plane, (0, 0), 1.0)
    # White noise loses 1 - 2 g(0) + sum g^2 = 0.762 of its variance to the blurred copy of sigma 1 (g: the kernel).
    return float(np.median(np.abs(fine[mask])) * 1.4826 / np.sqrt(0.762))


def guessed_scale(end: FiringEnd) -> float:
    """Return full-size pixels per millimetre from the usual width of a nose: right to about a fifth."""
    width = min(end.nose_box[2:]) if end.view != "side" else end.nose_box[2]
    return max(width, min(end.nose_box[2:])) / NOSE_WIDTH_MM
