"""Linear sRGB and CIELAB for the generator's truth: plain formulas, D65, 2 degrees (IEC 61966-2-1, CIE 15)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

RGB_TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
"""Linear sRGB to XYZ with white Y = 1, as printed in IEC 61966-2-1."""
WHITE_D65 = RGB_TO_XYZ.sum(1)
WHITE_D50 = np.array([0.9642, 1.0, 0.8251])
BRADFORD_D50_TO_D65 = np.array([[0.9555, -0.0231, 0.0632], [-0.0283, 1.0099, 0.0210], [0.0123, -0.0205, 1.3302]])
RGB_TO_P3 = np.array([[0.8225, 0.1774, 0.0], [0.0332, 0.9669, 0.0], [0.0171, 0.0724, 0.9108]])
"""Linear sRGB to linear Display P3 (both D65), from the primaries of SMPTE EG 432-1."""


def lab_of_linear(rgb: Array) -> Array:
    """Return CIELAB (D65) of linear sRGB reflectances (..., 3)."""
    t = (np.asarray(rgb, float) @ RGB_TO_XYZ.T) / WHITE_D65
    f = np.where(t > 216 / 24389, np.cbrt(np.maximum(t, 1e-9)), (24389 / 27 * t + 16) / 116)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1)


def linear_of_lab_d50(lab: Array) -> Array:
    """Return linear sRGB of CIELAB under D50, carried to D65 by the Bradford transform; out of gamut is clipped."""
    lab = np.asarray(lab, float)
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], -1)
    t = np.where(f > 6 / 29, f**3, (116 * f - 16) * 27 / 24389)
    xyz = (t * WHITE_D50) @ BRADFORD_D50_TO_D65.T
    return np.clip(xyz @ np.linalg.inv(RGB_TO_XYZ).T, 0.001, 1.0)


def encode(linear: Array) -> Array:
    """Return sRGB code values 0-1 of linear values 0-1 (also Display P3's curve)."""
    v = np.clip(linear, 0, 1)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)


def decode(code: Array) -> Array:
    """Return linear values of sRGB code values 0-1."""
    v = np.asarray(code, float)
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
