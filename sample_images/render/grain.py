"""Fast flat noise for tables, cloth and clutter: periodic tiles read by bicubic look-up, so that no cell shows as a square."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

TILE = 512
"""Edge of a tile in cells."""

WIDE = 256
"""Points looked up side by side: remap is slow on maps one point wide, and takes at most 32767 rows."""


def grain(u: Array, v: Array, period_mm: float, rng: np.random.Generator, *, slope: float = 1.2, stretch: float = 1.0) -> Array:
    """Return noise of mean 0 and standard deviation about 1 at the points `u`, `v` (any equal shape, mm).

    Parameters
    ----------
    period_mm : repeat length; the largest features are about a third of it, the finest a 200th.
    slope : spectral slope of the amplitude, 0.3 grainy to 2 cloudy.
    stretch : features are this many times longer along `u` than across it.
    """
    shape = np.shape(u)
    turn = 0.0 if stretch != 1.0 else rng.uniform(0, 2 * np.pi)
    c, s = np.cos(turn), np.sin(turn)
    x = ((u * c + v * s) / stretch * (TILE / period_mm) + rng.uniform(0, TILE)) % TILE
    y = ((v * c - u * s) * (TILE / period_mm) + rng.uniform(0, TILE)) % TILE
    flat_x = np.asarray(x, np.float32).reshape(-1, 1)
    flat_y = np.asarray(y, np.float32).reshape(-1, 1)
    return _look_up(_tile(round(slope, 1)), flat_x, flat_y).reshape(shape).astype(float)


def grain_on(points: Array, period_mm: float, rng: np.random.Generator, *, slope: float = 1.2) -> Array:
    """Return flat noise carried to points (..., 3) of a solid through a random slanted projection."""
    a = rng.standard_normal((3, 2))
    a /= np.linalg.norm(a, axis=0)
    uv = points @ a
    return grain(uv[..., 0], uv[..., 1], period_mm, rng, slope=slope)


def step(value: Array, low: float, high: float) -> Array:
    """Return 0 below `low`, 1 above `high`, a smooth step between."""
    t = np.clip((value - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def _look_up(tile: NDArray[np.float32], x: NDArray[np.float32], y: NDArray[np.float32]) -> NDArray[np.float32]:
    rows = -(-len(x) // WIDE)
    spare = ((0, rows * WIDE - len(x)), (0, 0))
    wide_x, wide_y = (np.pad(a, spare).reshape(rows, WIDE) for a in (x, y))
    found = cv2.remap(tile, wide_x, wide_y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_WRAP)
    return np.asarray(found.reshape(-1, 1)[: len(x)], np.float32)


@lru_cache(maxsize=24)
def _tile(slope: float) -> NDArray[np.float32]:
    rng = np.random.default_rng(int(slope * 10) + 31)
    f = np.fft.fftfreq(TILE) * TILE
    radius = np.hypot(f[:, None], f[None])
    radius[0, 0] = 1.0
    cloud = np.fft.ifft2(np.fft.fft2(rng.standard_normal((TILE, TILE))) * radius**-slope * (radius < 0.42 * TILE)).real
    return ((cloud - cloud.mean()) / cloud.std()).astype(np.float32)
