"""Whether a firing end can be measured at all, and what would make the next photo better."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.pixels import Codes, averaged, burnt, crop_codes, grown_box, parts_over
from plugread.records import FiringEnd, Photo, Quality

Floats = NDArray[np.float64]

# Limits (our own). Blur is compared with the nose: past this share of its width even colours of neighbouring parts mix.
_MAX_BLUR_SHARE, _MIN_NOSE_PX, _MAX_CLIPPED, _TOO_DARK, _TOO_BRIGHT = 0.16, 14, 0.8, 0.12, 0.96
_SIDE_PX = 420  # size blur is measured at; larger crops are reduced, which only hides blur that does not matter
_OWN_PX, _SHARPEST_PX = 2.4, 0.8  # width that the smoothing here gives an ideal step (measured); least width reported
_WIDEST_PX, _LEAST_SIDE_PX = 6.0, 48  # an edge wider than the first is measured again at half size
_WARN_CLIPPED, _WARN_NOSE_PX = 0.1, 60
# A white nose may reach the camera's limit in a photo that is exposed well: the metal beside it, median grey under this, tells.
_METAL, _METAL_WELL_EXPOSED, _LEAST_METAL_PX, _ALL_CLIPPED = ("strap", "rim", "thread"), 0.75, 200, 0.95


def judge(photo: Photo, end: FiringEnd) -> Quality:
    """Return blur, exposure and clipping at the nose; `refusal` names the worst fault that forbids a reading."""
    box = grown_box(end.nose_box, 0.25, photo.size)
    codes = crop_codes(photo, box)
    if min(codes.shape[:2]) < 4:
        return Quality(0.0, 0.0, 0.0, None, "the nose lies outside the picture", ("put the firing end in the middle",))
    seen = _reduced(codes)
    shrink = codes.shape[1] / seen.shape[1]
    grey = _grey(seen)
    x, y, _, _ = box
    covered = (x, y, codes.shape[1] * photo.scale, codes.shape[0] * photo.scale)
    on_nose = parts_over(end.parts, ("nose",), covered, (seen.shape[1], seen.shape[0])) > 0.5
    on_nose = on_nose if on_nose.sum() > 20 else np.ones_like(on_nose)
    levels = float(np.median(grey[on_nose])), float(np.percentile(grey, 95))
    lost = float(_burnt_share(codes, on_nose))
    blur = edge_width(grey) * shrink * photo.scale
    nose_px = min(end.nose_box[2:])
    refusal, advice = _refusal(nose_px, blur, levels, lost)
    if refusal == _washed_out(levels[0], lost) and lost <= _ALL_CLIPPED and _metal_level(photo, end) < _METAL_WELL_EXPOSED:
        refusal, advice = None, ()
    return Quality(blur, levels[0], lost, None, refusal, (*advice, *_advice(end, lost, nose_px)))


def _reduced(codes: Codes) -> Codes:
    """Return the crop averaged down to the size blur is measured at; itself if it is small enough."""
    shrink = max(codes.shape[:2]) / _SIDE_PX
    if shrink <= 1:
        return codes
    even = codes[: codes.shape[0] // 8 * 8, : codes.shape[1] // 8 * 8]  # halves come out even: quick
    return averaged(even, (round(codes.shape[1] / shrink), round(codes.shape[0] / shrink)))


def _burnt_share(codes: Codes, on_nose: NDArray[np.bool_]) -> float:
    """Return the share (0-1) of the nose at the camera's limit, from single pixels: an average hides them."""
    rows, columns = np.nonzero(on_nose)
    high, wide = codes.shape[0] / on_nose.shape[0], codes.shape[1] / on_nose.shape[1]
    return float(burnt(codes[(rows * high).astype(int), (columns * wide).astype(int)]).mean())


def _grey(codes: Codes) -> NDArray[np.float32]:
    """Return the mean of the channels, 0-1."""
    third = np.full((1, 3), 1 / (3 * np.iinfo(codes.dtype).max), np.float32)
    return np.asarray(cv2.transform(codes.astype(np.float32), third), np.float32).reshape(codes.shape[:2])


def edge_width(grey: NDArray[np.floating]) -> float:
    """Return the 10-90 % width of the sharpest edges in pixels, from local contrast over steepest slope; grey in 0-1."""
    shrink = float(max(max(grey.shape) / _SIDE_PX, 1.0))
    width = _width_at(grey, shrink)
    while width > _WIDEST_PX and min(grey.shape) / (2 * shrink) >= _LEAST_SIDE_PX:
        shrink *= 2
        width = _width_at(grey, shrink)
    return width * shrink


def _width_at(grey: NDArray[np.floating], shrink: float) -> float:
    """Return the edge width in pixels of the picture reduced by `shrink`."""
    size = (max(round(grey.shape[1] / shrink), 4), max(round(grey.shape[0] / shrink), 4))
    small = cv2.GaussianBlur(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), (0, 0), 0.6)
    slope = cv2.magnitude(cv2.Sobel(small, -1, 1, 0, scale=1 / 8), cv2.Sobel(small, -1, 0, 1, scale=1 / 8))
    kernel = np.ones((15, 15), np.uint8)
    step = np.asarray(cv2.dilate(small, kernel) - cv2.erode(small, kernel))
    strong = (slope >= np.percentile(slope, 97)) & (step > 0.04) & (slope > 1e-4)
    if strong.sum() < 8:
        return float(max(small.shape)) / 4
    widths: Floats = np.asarray(step[strong] / slope[strong], np.float64)
    # A Gaussian edge of width w (10-90 %) has step / slope = 0.978 w (from 2.563 sigma and sqrt(2 pi) sigma).
    seen = float(np.percentile(widths, 20)) / 0.978
    return float(np.sqrt(max(seen**2 - _OWN_PX**2, _SHARPEST_PX**2)))


def _metal_level(photo: Photo, end: FiringEnd) -> float:
    """Return the median grey (0-1) of the metal about the nose, 1 where too little of it is marked."""
    box = grown_box(end.nose_box, 1.0, photo.size)
    codes = _reduced(crop_codes(photo, box))
    grey = _grey(codes)
    metal = parts_over(end.parts, _METAL, box, (codes.shape[1], codes.shape[0])) > 0.5
    return float(np.median(grey[metal])) if metal.sum() >= _LEAST_METAL_PX else 1.0


def _washed_out(level: float, lost: float) -> str | None:
    """Return what is wrong with a nose at the camera's limit."""
    if lost > _MAX_CLIPPED:
        return f"{lost:.0%} of the nose is overexposed"
    return "the nose is washed out" if level > _TOO_BRIGHT else None


def _refusal(nose_px: int, blur_px: float, levels: tuple[float, float], lost: float) -> tuple[str | None, tuple[str, ...]]:
    if nose_px < _MIN_NOSE_PX:
        return f"the nose is only {nose_px} px wide", ("move closer, or crop less",)
    if blur_px > _MAX_BLUR_SHARE * max(nose_px, 1) and blur_px > 3:
        found = f"too blurred: edges are {blur_px:.0f} px wide on a nose of {nose_px} px"
        return found, ("hold still, focus on the nose, use more light",)
    if levels[1] < _TOO_DARK:
        return "the photo is too dark", ("more light on the firing end",)
    if washed_out := _washed_out(levels[0], lost):
        return washed_out, ("move out of the sun or switch the flash off",)
    return None, ()


def _advice(end: FiringEnd, lost: float, nose_px: int) -> tuple[str, ...]:
    advice = []
    if end.view in ("end", "oblique"):
        advice.append("turn it side-on to measure the gap")
    if lost > _WARN_CLIPPED:
        advice.append("move out of the sun, or switch the flash off: part of the nose is overexposed")
    if nose_px < _WARN_NOSE_PX:
        advice.append("move closer: the nose is small in the picture")
    return tuple(advice)
