"""Colour formulas: sRGB transfer, XYZ, CIELAB, CIEDE2000, chromatic adaptation. Pure numpy, any leading shape.

Everything is 2 degree observer. Lab here means CIELAB under D65 unless a white is given.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Adaptation = Literal["bradford", "cat16"]

# IEC 61966-2-1:1999, 5.2: knee, slope, offset and exponent of the transfer function.
_KNEE_ENCODED, _KNEE_LINEAR, _SLOPE, _OFFSET, _EXPONENT = 0.04045, 0.0031308, 12.92, 0.055, 2.4

# IEC 61966-2-1:1999, table 1: chromaticities of red, green, blue and of the white point D65.
_SRGB_PRIMARIES = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
D65_XY = (0.3127, 0.3290)

# ICC.1:2022 (ISO 15076-1), 7.2.16: the white of the profile connection space, D50.
D50_XYZ = (0.9642, 1.0, 0.8249)

# CIE 15:2018, 8.2.1: exact fractions of the CIELAB knee.
_EPSILON, _KAPPA = 216 / 24389, 24389 / 27

# Bradford: Lam 1985, as printed in ICC.1:2022 annex E. CAT16: Li et al., Color Res. Appl. 42 (2017) 703.
_CONE = {
    "bradford": ((0.8951, 0.2664, -0.1614), (-0.7502, 1.7135, 0.0367), (0.0389, -0.0685, 1.0296)),
    "cat16": ((0.401288, 0.650173, -0.051461), (-0.250268, 1.204414, 0.045854), (-0.002079, 0.048952, 0.953127)),
}


# ---- sRGB ------------------------------------------------------------------------------------------------


def srgb_decode(encoded: ArrayLike) -> Array:
    """Return linear sRGB (0-1) of encoded sRGB (0-1), any shape; values below 0 are mirrored."""
    v = np.asarray(encoded, np.float64)
    size = np.abs(v)
    curve = ((np.maximum(size, _KNEE_ENCODED) + _OFFSET) / (1 + _OFFSET)) ** _EXPONENT
    return np.copysign(np.where(size <= _KNEE_ENCODED, size / _SLOPE, curve), v)


def srgb_encode(linear: ArrayLike) -> Array:
    """Return encoded sRGB (0-1) of linear sRGB (0-1), any shape; values below 0 are mirrored, none is clipped."""
    v = np.asarray(linear, np.float64)
    size = np.abs(v)
    curve = (1 + _OFFSET) * np.maximum(size, _KNEE_LINEAR) ** (1 / _EXPONENT) - _OFFSET
    return np.copysign(np.where(size <= _KNEE_LINEAR, size * _SLOPE, curve), v)


def decode_table(kind: np.dtype[np.uint8] | np.dtype[np.uint16] | type) -> Array:
    """Return the linear value of each code of an 8 or 16 bit image: float64 of shape (256,) or (65536,)."""
    codes = {np.dtype(np.uint8): 256, np.dtype(np.uint16): 65536}.get(np.dtype(kind))
    if codes is None:
        raise TypeError(f"no decode table for {np.dtype(kind)}: images hold uint8 or uint16 codes")
    return _table(codes)


def xy_to_xyz(xy: tuple[float, float]) -> Array:
    """Return XYZ of shape (3,) with Y = 1 of a chromaticity."""
    x, y = xy
    return np.array([x / y, 1.0, (1 - x - y) / y])


@lru_cache(maxsize=1)
def srgb_to_xyz_matrix() -> Array:
    """Return the (3, 3) matrix linear sRGB -> XYZ, Y of white = 1.

    Built from the chromaticities, not from the four printed decimals, so that greys are exactly neutral.
    """
    columns = np.stack([xy_to_xyz(p) for p in _SRGB_PRIMARIES], axis=1)
    matrix = columns * np.linalg.solve(columns, xy_to_xyz(D65_XY))
    matrix.setflags(write=False)
    return matrix


def linear_srgb_to_xyz(rgb_linear: ArrayLike) -> Array:
    """Return XYZ (Y of white = 1) of linear sRGB, shape (..., 3)."""
    return np.asarray(rgb_linear, np.float64) @ srgb_to_xyz_matrix().T


def xyz_to_linear_srgb(xyz: ArrayLike) -> Array:
    """Return linear sRGB of XYZ, shape (..., 3); outside 0-1 where the colour lies outside sRGB."""
    return np.asarray(xyz, np.float64) @ np.linalg.inv(srgb_to_xyz_matrix()).T


# ---- CIELAB ----------------------------------------------------------------------------------------------


def xyz_to_lab(xyz: ArrayLike, white: ArrayLike | None = None) -> Array:
    """Return CIELAB of XYZ, shape (..., 3), CIE 15:2018 8.2.1; `white` is XYZ of shape (3,), D65 if not given."""
    w = xy_to_xyz(D65_XY) if white is None else np.asarray(white, np.float64)
    t = np.asarray(xyz, np.float64) / w
    f = np.where(t > _EPSILON, np.cbrt(t), (_KAPPA * t + 16) / 116)
    fx, fy, fz = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)], axis=-1)


def lab_to_xyz(lab: ArrayLike, white: ArrayLike | None = None) -> Array:
    """Return XYZ of CIELAB, shape (..., 3); the exact inverse of `xyz_to_lab`."""
    w = xy_to_xyz(D65_XY) if white is None else np.asarray(white, np.float64)
    v = np.asarray(lab, np.float64)
    fy = (v[..., 0] + 16) / 116
    f = np.stack([fy + v[..., 1] / 500, fy, fy - v[..., 2] / 200], axis=-1)
    cube = f**3
    return np.where(cube > _EPSILON, cube, (116 * f - 16) / _KAPPA) * w


def linear_srgb_to_lab(rgb_linear: ArrayLike) -> Array:
    """Return CIELAB (D65) of linear sRGB, shape (..., 3)."""
    return xyz_to_lab(linear_srgb_to_xyz(rgb_linear))


def lab_to_linear_srgb(lab: ArrayLike) -> Array:
    """Return linear sRGB of CIELAB (D65), shape (..., 3)."""
    return xyz_to_linear_srgb(lab_to_xyz(lab))


# ---- difference and adaptation ---------------------------------------------------------------------------


def delta_e_2000(lab1: ArrayLike, lab2: ArrayLike) -> Array:
    """Return the CIEDE2000 difference of two broadcastable arrays of shape (..., 3), with kL = kC = kH = 1.

    Source: Sharma, Wu, Dalal, Color Res. Appl. 30 (2005) 21, equations 2-22; CIE 142-2001. Made for small
    differences: above about 10 it still ranks pairs but two values must not be added or divided.
    """
    one, two = np.broadcast_arrays(np.asarray(lab1, np.float64), np.asarray(lab2, np.float64))
    (c1, h1), (c2, h2) = _chroma_hue(one, two)
    d_lightness, d_chroma = two[..., 0] - one[..., 0], c2 - c1
    turn = _hue_turn(h1, h2, c1 * c2)
    d_hue = 2 * np.sqrt(c1 * c2) * np.sin(turn / 2)
    lightness, chroma = (one[..., 0] + two[..., 0]) / 2, (c1 + c2) / 2
    hue = _mean_hue(h1, h2, c1 * c2)
    s_l, s_c, s_h = _weights(lightness, chroma, hue)
    x, y, z = d_lightness / s_l, d_chroma / s_c, d_hue / s_h
    return np.asarray(np.sqrt(np.maximum(x**2 + y**2 + z**2 + _rotation(chroma, hue) * y * z, 0.0)))


def adaptation_matrix(from_white: ArrayLike, to_white: ArrayLike, method: Adaptation = "bradford") -> Array:
    """Return the (3, 3) matrix that moves XYZ seen under one white to another; whites are XYZ of shape (3,)."""
    cone = np.array(_CONE[method])
    ratio = (cone @ np.asarray(to_white, np.float64)) / (cone @ np.asarray(from_white, np.float64))
    return np.asarray(np.linalg.solve(cone, ratio[:, None] * cone))


def adapt(xyz: ArrayLike, from_white: ArrayLike, to_white: ArrayLike, method: Adaptation = "bradford") -> Array:
    """Return XYZ of shape (..., 3) as it would be under `to_white`, adaptation taken as complete."""
    return np.asarray(xyz, np.float64) @ adaptation_matrix(from_white, to_white, method).T


# ---- helpers ---------------------------------------------------------------------------------------------


@lru_cache(maxsize=2)
def _table(codes: int) -> Array:
    table = srgb_decode(np.arange(codes) / (codes - 1))
    table.setflags(write=False)
    return table


def _chroma_hue(one: Array, two: Array) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """Return (C', h' in radians, 0-2 pi) of both colours; a* is stretched by the mean chroma (equations 2-7)."""
    mean = (np.hypot(one[..., 1], one[..., 2]) + np.hypot(two[..., 1], two[..., 2])) / 2
    stretch = 1.5 - 0.5 * np.sqrt(mean**7 / (mean**7 + 25.0**7))
    polar = [(np.hypot(stretch * v[..., 1], v[..., 2]), np.arctan2(v[..., 2], stretch * v[..., 1])) for v in (one, two)]
    return (polar[0][0], polar[0][1] % (2 * np.pi)), (polar[1][0], polar[1][1] % (2 * np.pi))


def _hue_turn(h1: Array, h2: Array, product: Array) -> Array:
    turn = h2 - h1
    turn = np.where(turn > np.pi, turn - 2 * np.pi, np.where(turn < -np.pi, turn + 2 * np.pi, turn))
    return np.where(product == 0, 0.0, turn)


def _mean_hue(h1: Array, h2: Array, product: Array) -> Array:
    total = h1 + h2
    wrapped = np.where(total < 2 * np.pi, total + 2 * np.pi, total - 2 * np.pi)
    mean = np.where(np.abs(h1 - h2) <= np.pi, total, wrapped) / 2
    return np.where(product == 0, total, mean)


def _weights(lightness: Array, chroma: Array, hue: Array) -> tuple[Array, Array, Array]:
    """Return S_L, S_C, S_H (equations 15, 18-20)."""
    t = 1 - 0.17 * np.cos(hue - np.deg2rad(30)) + 0.24 * np.cos(2 * hue)
    t = t + 0.32 * np.cos(3 * hue + np.deg2rad(6)) - 0.20 * np.cos(4 * hue - np.deg2rad(63))
    from_middle = (lightness - 50) ** 2
    return 1 + 0.015 * from_middle / np.sqrt(20 + from_middle), 1 + 0.045 * chroma, 1 + 0.015 * chroma * t


def _rotation(chroma: Array, hue: Array) -> Array:
    """Return R_T, the term that turns the blue ellipses (equations 16, 17, 21)."""
    angle = np.deg2rad(30) * np.exp(-(((np.rad2deg(hue) - 275) / 25) ** 2))
    return np.asarray(-np.sin(2 * angle) * 2 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7)))


def lab_to_hex(lab: ArrayLike) -> str:
    """Return a colour as #rrggbb for a screen, clipped to what sRGB can show."""
    encoded = srgb_encode(np.clip(lab_to_linear_srgb(lab), 0.0, 1.0))
    return "#" + "".join(f"{round(255 * float(channel)):02x}" for channel in encoded)
