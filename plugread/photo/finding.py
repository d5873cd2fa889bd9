"""Finds the firing ends in a decoded photo: hands the locator a picture it can use, and its answer back in full-size pixels."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.records import Box, FiringEnd, PartMap, Photo

LONG_SIDE_PX = 2400
"""Longest side given to the locator: its second pass looks at crops, more pixels than this add time, not sharpness."""


def find_ends(photo: Photo, *, expected: int | None = None, quick: bool = False) -> tuple[FiringEnd, ...]:
    """Return the firing ends in `photo`, ordered along the row, coordinates in full-size pixels.

    Raises
    ------
    PhotoError
        No readable firing end, with the reason and what to do.
    """
    from plugread.photo.locate import load_locator

    picture, factor = _for_locator(photo)
    ends = load_locator("quick" if quick else "fine").locate(picture, expected=expected)
    return tuple(enlarged(end, factor) for end in ends)


def _for_locator(photo: Photo) -> tuple[NDArray[np.uint8], float]:
    """Return 8-bit pixels of a handy size and how many full-size pixels each stands for."""
    rgb = np.asarray(photo.rgb if photo.rgb.dtype == np.uint8 else photo.rgb // 257, dtype=np.uint8)
    shrink = max(rgb.shape[:2]) / LONG_SIDE_PX
    if shrink > 1:
        size = (round(rgb.shape[1] / shrink), round(rgb.shape[0] / shrink))
        rgb = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    return rgb, photo.size[0] / rgb.shape[1]


def enlarged(end: FiringEnd, factor: float) -> FiringEnd:
    """Return `end` with all its coordinates multiplied by `factor`."""
    x, y, w, h = (round(v * factor) for v in end.nose_box)
    box: Box = (x, y, max(w, 1), max(h, 1))
    parts = PartMap(end.parts.probability, end.parts.x0 * factor, end.parts.y0 * factor, end.parts.step * factor)
    points = {name: (px * factor, py * factor, sure) for name, (px, py, sure) in end.key_points.items()}
    return replace(end, nose_box=box, parts=parts, key_points=points)
