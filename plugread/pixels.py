"""Pixels of a photo in linear light, and where the found parts lie on them. Shared by the photo and measure stages.

Boxes are (x, y, width, height) in upright full-size pixels; arrays are row, column, channel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.colour import decode_table
from plugread.records import PARTS, Box, PartMap, Photo, White

Codes = NDArray[np.uint8] | NDArray[np.uint16]
Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]


def clip_box(box: Box, size: tuple[int, int]) -> Box:
    """Return the part of `box` inside a photo of `size` (w, h); width and height may become 0."""
    x, y, w, h = box
    left, top = min(max(x, 0), size[0]), min(max(y, 0), size[1])
    right, bottom = min(max(x + w, left), size[0]), min(max(y + h, top), size[1])
    return left, top, right - left, bottom - top


def grown_box(box: Box, share: float, size: tuple[int, int]) -> Box:
    """Return `box` widened on each side by `share` of its longer side, kept inside the photo."""
    x, y, w, h = box
    extra = round(share * max(w, h))
    return clip_box((x - extra, y - extra, w + 2 * extra, h + 2 * extra), size)


def overlap(one: Box, other: Box) -> float:
    """Return the shared area of two boxes over the area they cover together (IoU, 0-1)."""
    w = min(one[0] + one[2], other[0] + other[2]) - max(one[0], other[0])
    h = min(one[1] + one[3], other[1] + other[3]) - max(one[1], other[1])
    shared = max(w, 0) * max(h, 0)
    together = one[2] * one[3] + other[2] * other[3] - shared
    return shared / together if together > 0 else 0.0


def decoded_box(photo: Photo, box: Box) -> Box:
    """Return the box on the grid of `photo.rgb` (whole decoded pixels, at least one where the box is not empty)."""
    rows, columns = photo.rgb.shape[:2]
    x, y, w, h = clip_box(box, photo.size)
    s = photo.scale
    left, top = min(x // s, columns), min(y // s, rows)
    right, bottom = min(-(-(x + w) // s), columns), min(-(-(y + h) // s), rows)
    return left, top, max(right - left, 0), max(bottom - top, 0)


def crop_codes(photo: Photo, box: Box) -> Codes:
    """Return the encoded pixels of a box, shape (h, w, 3): a view, not a copy."""
    x, y, w, h = decoded_box(photo, box)
    return photo.rgb[y : y + h, x : x + w]


def crop_valid(photo: Photo, box: Box) -> Mask:
    """Return which pixels of a box show a colour at all (False under transparency)."""
    x, y, w, h = decoded_box(photo, box)
    if photo.valid is None:
        return np.ones((h, w), bool)
    return photo.valid[y : y + h, x : x + w]


def crop_linear(photo: Photo, box: Box | None = None) -> Floats:
    """Return a box of the photo (all of it if None) as linear sRGB: float32 of shape (h, w, 3), nominal 0-1.

    The file's own curve and primaries are taken out; the light is not. Values may leave 0-1 outside sRGB.
    """
    codes = crop_codes(photo, box or (0, 0, *photo.size))
    return to_linear(photo, codes)


def to_linear(photo: Photo, codes: Codes) -> Floats:
    """Return codes of `photo` (any shape (..., 3)) as float32 linear sRGB."""
    table = decode_table(codes.dtype) if photo.curve is None else photo.curve
    linear = table.astype(np.float32)[codes]
    if np.array_equal(photo.to_srgb, np.eye(3)):
        return linear
    return linear @ photo.to_srgb.T.astype(np.float32)


def shrunk_codes(photo: Photo, side_px: int) -> Codes:
    """Return the encoded picture with at most `side_px` on its longer side, averaged down."""
    step = max(max(photo.rgb.shape[:2]) / side_px, 1.0)
    if step == 1.0:
        return photo.rgb
    return averaged(photo.rgb, (max(round(photo.rgb.shape[1] / step), 1), max(round(photo.rgb.shape[0] / step), 1)))


def averaged(codes: Codes, size: tuple[int, int]) -> Codes:
    """Return codes averaged down to `size` (w, h); by halves as long as these come out even, which is many times quicker."""
    height, width = codes.shape[:2]
    while height % 2 == width % 2 == 0 and width >= 2 * size[0] and height >= 2 * size[1]:
        codes = halved(codes)
        height, width = codes.shape[:2]
    return codes if (width, height) == size else _resized(codes, size)


def halved(codes: Codes) -> Codes:
    """Return codes averaged two by two; an odd last row or column is left out."""
    height, width = codes.shape[0] // 2, codes.shape[1] // 2
    return _resized(codes[: 2 * height, : 2 * width], (width, height))


def moved(codes: Codes, move: NDArray[np.float64], size: tuple[int, int]) -> Codes:
    """Return `size` (w, h) pixels, each taken from where `move` (2, 3) sends its (x, y); beyond the edge the edge goes on."""
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return _typed(cv2.warpAffine(np.ascontiguousarray(codes), move, size, flags=flags, borderMode=cv2.BORDER_REPLICATE), codes)


def _resized(codes: Codes, size: tuple[int, int]) -> Codes:
    return _typed(cv2.resize(codes, size, interpolation=cv2.INTER_AREA), codes)


def _typed(found: Any, like: Codes) -> Codes:
    """Return what OpenCV found as codes of the same depth as `like`."""
    return np.asarray(found, np.uint8) if like.dtype == np.uint8 else np.asarray(found, np.uint16)


def smaller(photo: Photo, least_px: int) -> Photo:
    """Return the photo averaged down by a whole number, its longer side still `least_px` or more; itself if it has less."""
    return shrunk(photo, max(photo.rgb.shape[:2]) // least_px)


def shrunk(photo: Photo, factor: int) -> Photo:
    """Return the photo averaged down by a whole number; itself if that is below 2."""
    if factor < 2:
        return photo
    width, height = photo.rgb.shape[1] // factor, photo.rgb.shape[0] // factor
    codes = averaged(photo.rgb[: height * factor, : width * factor], (width, height))
    valid = None if photo.valid is None else photo.valid[: height * factor : factor, : width * factor : factor]
    return replace(photo, rgb=codes, scale=photo.scale * factor, valid=valid)


def clipped(photo: Photo, box: Box) -> Mask:
    """Return which pixels of a box have a channel at or above 250/255 of full scale: their colour is lost."""
    return burnt(crop_codes(photo, box))


def burnt(codes: Codes) -> Mask:
    """Return which codes (..., 3) have a channel at or above 250/255 of full scale."""
    limit = 250 * (np.iinfo(codes.dtype).max // 255)
    if codes.ndim != 3:
        return np.asarray((codes >= limit).any(-1))
    return np.asarray(cv2.inRange(codes, (0, 0, 0), (limit - 1,) * 3) == 0)


def apply_white(white: White, rgb_linear: NDArray[np.floating]) -> NDArray[np.float64]:
    """Return linear sRGB (..., 3) with the photo's light and tone taken out: matrix @ (gains * rgb) ** power."""
    scaled = np.maximum(np.asarray(rgb_linear, np.float64), 0.0) * white.gains
    toned = scaled if np.all(white.power == 1) else scaled**white.power
    return toned if np.array_equal(white.matrix, np.eye(3)) else toned @ white.matrix.T


def part_on(photo: Photo, parts: PartMap, name: str, box: Box) -> Floats:
    """Return one part's probability (0-1) on the decoded pixels of a box: float32 of shape (h, w), 0 outside the map."""
    x, y, w, h = decoded_box(photo, box)
    s = photo.scale
    return parts_over(parts, (name,), (x * s, y * s, w * s, h * s), (w, h))


def parts_over(parts: PartMap, names: Sequence[str], box: Box, size: tuple[int, int]) -> Floats:
    """Return the summed probability of parts on `size` (w, h) cells over a full-size box: float32 (h, w), 0-1, 0 off the map."""
    plane = parts.probability[[PARTS.index(name) for name in names]].sum(0, dtype=np.float32)
    x, y, w, h = box
    step = w / max(size[0], 1), h / max(size[1], 1)
    # Centre of cell i lies at full-size x + (i + 0.5) step; centre of map cell c at x0 + (c + 0.5) * parts.step.
    tx = (x + step[0] / 2 - parts.x0) / parts.step - 0.5
    ty = (y + step[1] / 2 - parts.y0) / parts.step - 0.5
    move = np.array([[step[0] / parts.step, 0.0, tx], [0.0, step[1] / parts.step, ty]])
    cells = (max(size[0], 1), max(size[1], 1))
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpAffine(plane, move, cells, flags=flags, borderMode=cv2.BORDER_CONSTANT)[: size[1], : size[0]])


def map_box(parts: PartMap) -> Box:
    """Return the full-size box that a part map covers."""
    h, w = parts.probability.shape[1:]
    return round(parts.x0), round(parts.y0), round(w * parts.step), round(h * parts.step)
