"""Colour profiles of image files: matrix profiles are read into a 3x3 and a curve, so that nothing is clipped or rounded.

Source: ICC.1:2022 (ISO 15076-1), 7.2 header, 7.3 tag table, 10.6 curveType, 10.18 parametricCurveType, 10.31 XYZType
(layout from memory, results checked against littleCMS in the tests).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plugread.colour import D50_XYZ, D65_XY, adaptation_matrix, srgb_encode, srgb_to_xyz_matrix, xy_to_xyz

Array = NDArray[np.float64]

# Half a code value of an 8 bit picture: a curve or matrix nearer to sRGB than this is sRGB.
_HALF_CODE = 0.5 / 255
# Largest believable distance of a profile's white (sum of its colorants) from D50; beyond it the profile is damaged.
_WHITE_TOLERANCE = 0.02
_PARAMETERS = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}


class ProfileError(ValueError):
    """The profile is damaged or not one that pixels of an RGB picture can have."""


@dataclass(frozen=True, eq=False)
class Profile:
    """A matrix profile: `to_srgb` (3, 3) in linear light; `curve` of shape (codes,), None = the sRGB curve."""

    to_srgb: Array
    curve: Array | None


def read_profile(icc: bytes, codes: int) -> Profile | None:
    """Return the matrix profile in `icc`, or None if it holds tables instead (then a colour engine is needed).

    Parameters
    ----------
    codes : 256 or 65536, the number of codes of the picture.

    Raises
    ------
    ProfileError
        if the profile is damaged or not for RGB pixels.
    """
    tags = _tags(icc)
    needed = ("rXYZ", "gXYZ", "bXYZ", "rTRC", "gTRC", "bTRC")
    if "A2B0" in tags or any(name not in tags for name in needed):
        return None
    colorants = np.stack([_xyz(tags[name]) for name in needed[:3]], axis=1)
    x = np.arange(codes) / (codes - 1)
    curves = [_curve(tags[name], x) for name in needed[3:]]
    if max(np.abs(c - curves[0]).max() for c in curves[1:]) > _HALF_CODE:
        return None
    return Profile(_to_srgb(colorants), None if _is_srgb_curve(curves[0], x) else curves[0])


def _tags(icc: bytes) -> dict[str, bytes]:
    if len(icc) < 132 or icc[36:40] != b"acsp":
        raise ProfileError("no profile signature")
    if icc[16:20] != b"RGB ":
        raise ProfileError(f"made for {icc[16:20].decode('ascii', 'replace').strip()} pixels")
    count = struct.unpack(">I", icc[128:132])[0]
    if count > 200 or len(icc) < 132 + 12 * count:
        raise ProfileError("tag table cut off")
    rows = [struct.unpack(">4sII", icc[132 + 12 * i : 144 + 12 * i]) for i in range(count)]
    return {name.decode("ascii", "replace"): icc[start : start + size] for name, start, size in rows}


def _xyz(tag: bytes) -> Array:
    if len(tag) < 20 or tag[:4] != b"XYZ ":
        raise ProfileError("colorant cut off")
    return np.frombuffer(tag, ">i4", 3, 8) / 65536.0


def _to_srgb(colorants: Array) -> Array:
    white = np.array(D50_XYZ)
    if np.abs(colorants.sum(1) - white).max() > _WHITE_TOLERANCE or abs(np.linalg.det(colorants)) < 1e-3:
        raise ProfileError("its primaries do not add up to white")
    colorants = colorants * np.linalg.solve(colorants, white)
    d65 = xy_to_xyz(D65_XY)
    srgb = adaptation_matrix(d65, white) @ srgb_to_xyz_matrix()
    matrix: Array = np.linalg.solve(srgb, colorants).astype(np.float64)
    return np.eye(3) if np.abs(matrix - np.eye(3)).max() < _HALF_CODE else matrix


def _curve(tag: bytes, x: Array) -> Array:
    """Return the linear value (0-1) at each x; x and result of shape (codes,)."""
    if tag[:4] == b"curv" and len(tag) >= 12:
        return _sampled(tag, x)
    if tag[:4] == b"para" and len(tag) >= 12:
        return _parametric(tag, x)
    raise ProfileError("tone curve cut off or of an unknown kind")


def _sampled(tag: bytes, x: Array) -> Array:
    count = struct.unpack(">I", tag[8:12])[0]
    if count > 65536 or len(tag) < 12 + 2 * count:
        raise ProfileError("tone curve cut off")
    if count == 0:
        return x
    points = np.frombuffer(tag, ">u2", count, 12).astype(np.float64)
    if count == 1:
        return np.asarray(x ** (points[0] / 256))
    return np.interp(x, np.linspace(0, 1, count), points / 65535)


def _parametric(tag: bytes, x: Array) -> Array:
    kind = struct.unpack(">H", tag[8:10])[0]
    count = _PARAMETERS.get(kind)
    if count is None or len(tag) < 12 + 4 * count:
        raise ProfileError("tone curve cut off or of an unknown kind")
    g, *rest = (float(v) for v in np.frombuffer(tag, ">i4", count, 12) / 65536.0)
    a, b, c, d, e, f = (*rest, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)[:6] if kind else (1.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    power = np.maximum(a * x + b, 0.0) ** g
    if kind == 0:
        return np.asarray(power)
    if kind in (1, 2):
        offset = c if kind == 2 else 0.0
        return np.asarray(np.where(a * x + b >= 0, power + offset, offset))
    return np.asarray(np.where(x >= d, power + e, c * x + f))


def _is_srgb_curve(curve: Array, x: Array) -> bool:
    return bool(np.abs(srgb_encode(curve) - x).max() < _HALF_CODE)
