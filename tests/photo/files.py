"""Picture files for the tests of the door: small, made here, with a known asymmetric picture inside."""

from __future__ import annotations

import io
import struct
from typing import Any

import cv2
import numpy as np
from PIL import Image

ORIENTATION = 0x0112


def picture(width: int = 192, height: int = 128) -> np.ndarray:
    """An asymmetric picture, uint8 (h, w, 3): red top left, green top right, blue bottom left, tan bottom right."""
    rgb = np.zeros((height, width, 3), np.uint8)
    h, w = height // 2, width // 2
    rgb[:h, :w], rgb[:h, w:], rgb[h:, :w], rgb[h:, w:] = (200, 40, 30), (40, 180, 50), (30, 60, 200), (190, 160, 120)
    return rgb


CORNERS = {"red": (200, 40, 30), "green": (40, 180, 50), "blue": (30, 60, 200), "tan": (190, 160, 120)}


def corner_names(rgb: np.ndarray) -> tuple[str, str, str, str]:
    """Names of the colours at top left, top right, bottom left, bottom right."""
    h, w = rgb.shape[:2]
    points = [(h // 4, w // 4), (h // 4, 3 * w // 4), (3 * h // 4, w // 4), (3 * h // 4, 3 * w // 4)]
    scale = 257 if rgb.dtype == np.uint16 else 1
    found = [min(CORNERS, key=lambda n: np.abs(rgb[p] / scale - CORNERS[n]).sum()) for p in points]
    return found[0], found[1], found[2], found[3]


def encoded(
    kind: str = "JPEG", rgb: np.ndarray | None = None, *, turn: int | None = None, mode: str = "RGB", **how: Any
) -> bytes:
    """Bytes of the picture in a format of Pillow's; `turn` writes an EXIF orientation."""
    image = Image.fromarray(picture() if rgb is None else rgb).convert(mode)
    if turn is not None:
        exif = Image.Exif()
        exif[ORIENTATION] = turn
        how["exif"] = exif
    if kind == "JPEG":
        how = {"quality": 92, "subsampling": 0} | how
    out = io.BytesIO()
    image.save(out, kind, **how)
    return out.getvalue()


def stored_for_turn(upright: np.ndarray, turn: int) -> np.ndarray:
    """The pixels a camera stores so that orientation `turn` shows `upright` (Exif 2.32, table 4)."""
    undo = {
        1: lambda p: p,
        2: lambda p: p[:, ::-1],
        3: lambda p: p[::-1, ::-1],
        4: lambda p: p[::-1],
        5: lambda p: p.swapaxes(0, 1),
        6: lambda p: np.rot90(p, 1),
        7: lambda p: p.swapaxes(0, 1)[::-1, ::-1],
        8: lambda p: np.rot90(p, -1),
    }
    return np.ascontiguousarray(undo[turn](upright))


def png16(rgb: np.ndarray) -> bytes:
    """A 16 bit PNG of uint16 pixels."""
    return bytes(cv2.imencode(".png", np.ascontiguousarray(rgb[..., ::-1]))[1])


def jpeg_header_only(width: int, height: int) -> bytes:
    """A JPEG whose header claims a size, with next to nothing behind it."""
    small = encoded("JPEG")
    at = small.index(b"\xff\xc0") + 5
    return small[:at] + struct.pack(">HH", height, width) + small[at + 4 :]


def png_header_only(width: int, height: int) -> bytes:
    """A PNG whose header claims a size; its checksum is right."""
    import zlib

    small = encoded("PNG")
    body = b"IHDR" + struct.pack(">II", width, height) + small[24:29]
    return small[:8] + struct.pack(">I", 13) + body + struct.pack(">I", zlib.crc32(body)) + small[33:]


# ---- colour profiles -------------------------------------------------------------------------------------

D50_P3 = ((0.51512, 0.29198, 0.15710), (0.24120, 0.69225, 0.06657), (-0.00105, 0.04189, 0.78407))
"""Display P3 primaries adapted to D50, rows X Y Z: the colorants phones write into their files (from memory, checked to 4e-4)."""


def profile(colorants: Any = D50_P3, curves: tuple[bytes, ...] = (), *, space: bytes = b"RGB ") -> bytes:
    """A matrix profile, version 4, with one tone curve or three (default: the sRGB curve as parametric type 3)."""
    curves = curves or (parametric(3, 2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045),)
    matrix = np.asarray(colorants)
    tags = [(n, b"XYZ \0\0\0\0" + _fixed(*matrix[:, k])) for k, n in enumerate((b"rXYZ", b"gXYZ", b"bXYZ"))]
    tags += [(n, curves[k % len(curves)]) for k, n in enumerate((b"rTRC", b"gTRC", b"bTRC"))]
    tags += [(b"wtpt", b"XYZ \0\0\0\0" + _fixed(0.9642, 1.0, 0.8249)), (b"cprt", _text("none")), (b"desc", _text("test"))]
    table, body, start = b"", b"", 128 + 4 + 12 * len(tags)
    for name, data in tags:
        data += b"\0" * (-len(data) % 4)
        table += name + struct.pack(">II", start + len(body), len(data))
        body += data
    head = bytearray(128)
    head[8:12], head[12:16], head[16:20], head[20:24], head[36:40] = b"\x04\x30\0\0", b"mntr", space, b"XYZ ", b"acsp"
    head[68:80] = _fixed(0.9642, 1.0, 0.8249)
    head[0:4] = struct.pack(">I", start + len(body))
    return bytes(head) + struct.pack(">I", len(tags)) + table + body


def parametric(kind: int, *values: float) -> bytes:
    """A parametric tone curve."""
    return b"para\0\0\0\0" + struct.pack(">HH", kind, 0) + _fixed(*values)


def gamma(value: float) -> bytes:
    """A pure power as `curv` with one entry."""
    return b"curv\0\0\0\0" + struct.pack(">IH", 1, round(value * 256))


def _fixed(*values: float) -> bytes:
    return struct.pack(f">{len(values)}i", *(round(v * 65536) for v in values))


def _text(words: str) -> bytes:
    data = words.encode("utf-16-be")
    return b"mluc\0\0\0\0" + struct.pack(">II", 1, 12) + b"enUS" + struct.pack(">II", len(data), 28) + data
