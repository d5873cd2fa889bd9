"""The gap as a wire gauge finds it: the smallest distance between centre and strap surfaces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from sample_images.render.surfaces import Grid

Array = NDArray[np.float64]

FIT_MM = 0.004
"""The strap is moved until the gap is within this of the wanted one."""

MARGIN_MM = 0.05
"""Vertices within this of the smallest vertex distance are looked at closely."""


@dataclass(frozen=True)
class Clearance:
    """Smallest distance (mm) and the two points that face each other across it."""

    gap_mm: float
    first: Array
    second: Array


def clearance(first: Grid, second: Grid) -> Clearance:
    """Return the smallest distance between two surfaces, by the points of each against the triangles of the other."""
    a, b = first.points.reshape(-1, 3), second.points.reshape(-1, 3)
    near = cKDTree(b).query(a)[0]
    some_a = a[near < near.min() + MARGIN_MM]
    back = cKDTree(some_a).query(b)[0]
    some_b = b[back < back.min() + MARGIN_MM]
    there, one = _onto(some_a, second)
    here, two = _onto(some_b, first)
    from_a, from_b = np.concatenate([some_a, here]), np.concatenate([there, some_b])
    distance = np.concatenate([one, two])
    close = distance < distance.min() + 0.015
    point, facing, gap = from_a[close].mean(0), from_b[close].mean(0), float(distance.min())
    return Clearance(gap, point, point + (facing - point) * gap / max(float(np.linalg.norm(facing - point)), 1e-9))


def _onto(points: Array, grid: Grid) -> tuple[Array, Array]:
    """Return the nearest surface point (n, 3) and its distance (n,), looked for about the three nearest vertices."""
    rows, columns = grid.points.shape[:2]
    vertex = cKDTree(grid.points.reshape(-1, 3)).query(points, k=3)[1]
    i = np.clip((vertex // columns)[..., None] + np.array([-1, -1, 0, 0]), 0, rows - 2)
    j = ((vertex % columns)[..., None] + np.array([-1, 0, -1, 0])) % columns
    k = (j + 1) % columns
    g = grid.points
    a, b, c, d = g[i, j], g[i, k], g[i + 1, k], g[i + 1, j]
    first, second = np.stack([a, a], 3), np.stack([b, c], 3)
    third = np.stack([c, d], 3)
    p = points[:, None, None, None]
    found = np.stack(
        [_on_plane(p, first, second, third), *(_on_edge(p, u, v) for u, v in ((first, second), (second, third), (third, first)))]
    )
    found = np.moveaxis(found, 0, -2).reshape(len(points), -1, 3)
    distance = np.linalg.norm(found - points[:, None], axis=-1)
    distance = np.where(np.isfinite(distance), distance, np.inf)
    best = distance.argmin(1)
    row = np.arange(len(points))
    return found[row, best], distance[row, best]


def _on_plane(p: Array, a: Array, b: Array, c: Array) -> Array:
    """Return the foot of p on the triangle's plane where it falls inside the triangle, nan elsewhere."""
    u, v, w = b - a, c - a, p - a
    uu, uv, vv = (u * u).sum(-1), (u * v).sum(-1), (v * v).sum(-1)
    wu, wv = (w * u).sum(-1), (w * v).sum(-1)
    det = np.maximum(uu * vv - uv * uv, 1e-18)
    s, t = (vv * wu - uv * wv) / det, (uu * wv - uv * wu) / det
    inside = (s >= 0) & (t >= 0) & (s + t <= 1)
    return np.where(inside[..., None], a + s[..., None] * u + t[..., None] * v, np.nan)


def _on_edge(p: Array, a: Array, b: Array) -> Array:
    u = b - a
    t = ((p - a) * u).sum(-1) / np.maximum((u * u).sum(-1), 1e-18)
    return a + np.clip(t, 0, 1)[..., None] * u
