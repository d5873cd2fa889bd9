"""Small pictures of single firing ends, cut from a photo, for showing plugs side by side."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

from plugread.errors import PhotoError
from plugread.photo.decode import open_photo
from plugread.records import Box, PhotoRead

SIDE_PX = 192
AROUND = 2.4
"""Side of the square cut out, in longer sides of the nose box."""


def close_ups(source: str | Path | bytes, photo: PhotoRead) -> tuple[bytes, ...]:
    """Return one square JPEG a plug, centred on its nose; empty bytes for a plug whose place is not known."""
    if photo.size is None:
        return ()
    opened = open_photo(source, name=photo.file, at_least_px=max(photo.size))
    rgb = opened.rgb if opened.rgb.dtype == np.uint8 else (opened.rgb // 257).astype(np.uint8)
    return tuple(_cut(np.asarray(rgb, np.uint8), plug.end.nose_box, opened.scale) if plug.end else b"" for plug in photo.plugs)


def _cut(rgb: np.ndarray, box: Box, scale: int) -> bytes:
    x, y, w, h = (value / scale for value in box)
    side = round(AROUND * max(w, h))
    centre = x + w / 2, y + h / 2
    patch = cv2.getRectSubPix(rgb, (max(8, side), max(8, side)), centre)
    small = cv2.resize(patch, (SIDE_PX, SIDE_PX), interpolation=cv2.INTER_AREA)
    ok, data = cv2.imencode(".jpg", small[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 85])
    if not ok:
        raise PhotoError("a close-up could not be made")
    return bytes(data)
