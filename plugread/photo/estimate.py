"""The light of a photo without a reference: shades of grey over all but the plug, pulled towards the camera's own balance.

Source: Finlayson, Trezzi, "Shades of Gray and Colour Constancy", Color Imaging Conf. 2004 (Minkowski norm). Typical error 4-5
degrees, that is 7-10 dE00: good enough to tell soot from tan, never white from light tan.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.photo.references import load_references
from plugread.pixels import decoded_box, map_box, to_linear
from plugread.records import PARTS, FiringEnd, Photo, White

Floats = NDArray[np.float64]

_SIDE_PX = 256  # size the light is estimated at
_NORM = 5.0  # Minkowski norm; 5-6 is best in the source and in our own simulation
_TRUST = 0.6  # share of the estimated cast that is taken out: cameras have balanced already, estimates overshoot; our own fit
_LIGHT_LIMITS = (0.35, 2.8)  # red and blue over green of any light a balanced photo still shows; our own
_USUAL_WHITE = 0.80  # linear level that the brightest matt surfaces of a well exposed photo have; our own fit


def estimated_white(photo: Photo, ends: Sequence[FiringEnd], why: str | None = None) -> White:
    """Return the correction by estimate; its `spread_lab` is wide and `level_known` is False."""
    light = estimated_light(photo, ends)
    gains = exposure_gain(photo, ends) / light ** _TRUST
    return White(
        method="estimated",
        detail="light estimated from the whole picture",
        gains=gains,
        power=np.ones(3),
        matrix=np.eye(3),
        level_known=False,
        spread_lab=load_references().spread["estimated"],
        why=why,
    )


def estimated_light(photo: Photo, ends: Sequence[FiringEnd]) -> Floats:
    """Return the colour of the light, linear RGB of shape (3,), green = 1."""
    pixels = background_pixels(photo, ends)
    light = np.mean(pixels**_NORM, axis=0) ** (1 / _NORM)
    return np.clip(light / max(light[1], 1e-9), *_LIGHT_LIMITS)


def exposure_gain(photo: Photo, ends: Sequence[FiringEnd]) -> float:
    """Return the factor that brings the brightest matt surfaces of the photo to their usual level."""
    luminance = background_pixels(photo, ends) @ [0.2126, 0.7152, 0.0722]
    return float(np.clip(_USUAL_WHITE / max(np.percentile(luminance, 97), 1e-4), 0.5, 4.0)) ** 0.5


def background_pixels(photo: Photo, ends: Sequence[FiringEnd]) -> Floats:
    """Return usable pixels (n, 3), linear: not clipped, not transparent, not the plug; everything if little is left."""
    step = max(max(photo.rgb.shape[:2]) / _SIDE_PX, 1.0)
    size = (max(round(photo.rgb.shape[1] / step), 1), max(round(photo.rgb.shape[0] / step), 1))
    codes = cv2.resize(photo.rgb, size, interpolation=cv2.INTER_AREA)
    top = np.iinfo(codes.dtype).max
    usable = (codes < 0.97 * top).all(-1) & (codes > 0.02 * top).any(-1)
    if photo.valid is not None:
        usable &= cv2.resize(photo.valid.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    open_ground = usable & ~plug_mask(photo, ends, size)
    chosen = open_ground if open_ground.mean() > 0.05 else usable if usable.mean() > 0.01 else np.ones_like(usable)
    return np.maximum(to_linear(photo, codes).astype(np.float64), 0.0)[chosen]


def plug_mask(photo: Photo, ends: Sequence[FiringEnd], size: tuple[int, int]) -> NDArray[np.bool_]:
    """Return where the found plugs lie, on a grid of `size` (w, h)."""
    mask = np.zeros(size[::-1], bool)
    kx, ky = size[0] / photo.rgb.shape[1], size[1] / photo.rgb.shape[0]
    for end in ends:
        x, y, w, h = decoded_box(photo, map_box(end.parts))
        x0, y0, x1, y1 = round(x * kx), round(y * ky), round((x + w) * kx), round((y + h) * ky)
        if x1 <= x0 or y1 <= y0:
            continue
        ground = end.parts.probability[PARTS.index("background")] + end.parts.probability[PARTS.index("sheet")]
        mask[y0:y1, x0:x1] |= cv2.resize(ground, (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA) < 0.5
    return mask
