"""Solid noise for procedural surfaces: fractal clouds, cells (grains, specks, droplets) and smooth steps.

Noise is a function of the point in space (mm), so deposits run on from one part to the next without a seam.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfftn, rfftn
from scipy.spatial import cKDTree

Array = NDArray[np.float64]

VOLUME_CELLS = 64
"""Edge of the periodic noise volume in cells; detail ends at about period / 16, four cells a wave, so that no cell shows."""


BANDS = (4, 7, 11, 16)
"""Finest detail of a volume, in waves per period: the band that a mesh can carry is chosen from these."""


def fractal(points: Array, period_mm: float, rng: np.random.Generator, *, slope: float = 1.2, finest_mm: float = 0.0) -> Array:
    """Return fractal noise of mean 0 and standard deviation about 1.

    Parameters
    ----------
    points : array of shape (..., 3), mm.
    period_mm : the noise repeats after this length, along axes turned at random; features are up to a third of it.
    rng : where turn and shift are drawn from (twelve numbers and nine more), whatever the number of points.
    slope : spectral slope, 0.3 grainy to 2 cloudy.
    finest_mm : no waves shorter than this, so that a coarse mesh is not given detail it would turn into streaks.

    Returns
    -------
    Array of shape (...).
    """
    turn, _ = np.linalg.qr(rng.standard_normal((3, 3)))
    shift = rng.uniform(0, VOLUME_CELLS, 3)
    place = np.asarray(points, np.float32).reshape(-1, 3) @ (turn * (VOLUME_CELLS / period_mm)).astype(np.float32)
    waves = period_mm / max(finest_mm, 1e-6)
    band = max((b for b in BANDS if b <= waves), default=BANDS[0])
    return _trilinear(_volume(round(slope, 1), band), place + shift.astype(np.float32)).reshape(points.shape[:-1])


def vector(points: Array, period_mm: float, rng: np.random.Generator, *, slope: float = 1.2, finest_mm: float = 0.0) -> Array:
    """Return three independent fractal noises as a vector field of shape (..., 3)."""
    return np.stack([fractal(points, period_mm, rng, slope=slope, finest_mm=finest_mm) for _ in range(3)], -1)


def scatter(rng: np.random.Generator, low: Array, high: Array, spacing_mm: float, *, most: int = 6000) -> Array:
    """Return random centres (k, 3) in a box, on average `spacing_mm` apart, never more than `most`."""
    size = np.maximum(np.asarray(high) - np.asarray(low), 1e-3)
    count = int(np.clip(np.prod(size / spacing_mm), 1, most))
    return np.asarray(low) + rng.uniform(0, 1, (count, 3)) * size


def nearest(points: Array, centres: Array, reach_mm: float) -> tuple[Array, NDArray[np.int64]]:
    """Return distance (mm, inf beyond `reach_mm`) and index of the centre nearest to each point."""
    flat = points.reshape(-1, 3)
    distance, index = cKDTree(centres).query(flat, distance_upper_bound=reach_mm)
    return distance.reshape(points.shape[:-1]), np.minimum(index, len(centres) - 1).reshape(points.shape[:-1])


def smooth(value: Array, low: float | Array, high: float | Array) -> Array:
    """Return 0 below `low`, 1 above `high`, a smooth step between; `high` < `low` turns the step round."""
    t = np.clip((value - low) / (np.asarray(high) - low), 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


@lru_cache(maxsize=64)
def _volume(slope: float, band: int) -> NDArray[np.float32]:
    n = VOLUME_CELLS
    f = np.fft.fftfreq(n).astype(np.float32) * n
    half = np.fft.rfftfreq(n).astype(np.float32) * n
    radius = np.sqrt(f[:, None, None] ** 2 + f[None, :, None] ** 2 + half[None, None, :] ** 2)
    radius[0, 0, 0] = 1.0
    cloud = irfftn(_white(n) * radius ** (-slope - 0.5) * (radius <= band), s=(n, n, n))
    return ((cloud - cloud.mean()) / cloud.std()).astype(np.float32)


@lru_cache(maxsize=1)
def _white(n: int) -> NDArray[np.complex64]:
    return rfftn(np.random.default_rng(7).standard_normal((n, n, n), np.float32))


def _trilinear(volume: NDArray[np.float32], place: NDArray[np.float32]) -> Array:
    n = VOLUME_CELLS
    whole = np.floor(place)
    part = place - whole
    low = whole.astype(np.int32) % n
    high = (low + 1) % n
    x0, x1 = low[:, 0] * (n * n), high[:, 0] * (n * n)
    y0, y1 = low[:, 1] * n, high[:, 1] * n
    z0, z1 = low[:, 2], high[:, 2]
    flat, (u, v, w) = volume.ravel(), part.T

    def along_z(base: NDArray[np.int32]) -> NDArray[np.float32]:
        a = flat.take(base + z0)
        return a + w * (flat.take(base + z1) - a)

    near = along_z(x0 + y0)
    near += v * (along_z(x0 + y1) - near)
    far = along_z(x1 + y0)
    far += v * (along_z(x1 + y1) - far)
    return (near + u * (far - near)).astype(np.float64)
