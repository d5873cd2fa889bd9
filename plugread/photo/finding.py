"""Finds the firing ends in a decoded photo: hands the locator a picture it can use, and its answer back in full-size pixels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plugread.records import Box, FiringEnd, PartMap, Photo


def find_ends(photo: Photo, *, expected: int | None = None, quick: bool = False) -> tuple[FiringEnd, ...]:
    """Return the firing ends in `photo`, ordered along the row, coordinates in full-size pixels.

    Raises
    ------
    PhotoError
        No readable firing end, with the reason and what to do.
    """
    from plugread.photo.locate import load_locator

    rgb = np.asarray(photo.rgb if photo.rgb.dtype == np.uint8 else photo.rgb // 257, dtype=np.uint8)
    ends = load_locator("quick" if quick else "fine").locate(rgb, expected=expected)
    return tuple(enlarged(end, photo.scale) for end in ends)


def enlarged(end: FiringEnd, factor: float) -> FiringEnd:
    """Return `end` with all its coordinates multiplied by `factor`."""
    if factor == 1:
        return end
    x, y, w, h = (round(v * factor) for v in end.nose_box)
    box: Box = (x, y, max(w, 1), max(h, 1))
    parts = PartMap(end.parts.probability, end.parts.x0 * factor, end.parts.y0 * factor, end.parts.step * factor)
    points = {name: (px * factor, py * factor, sure) for name, (px, py, sure) in end.key_points.items()}
    return replace(end, nose_box=box, parts=parts, key_points=points)
