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


@dataclass(frozen=True)
class Clearance:
    """Smallest distance (mm) and the two points that face each other across it."""

    gap_mm: float
    first: Array
    second: Array


def clearance(first: Grid, second: Grid) -> Clearance:
    """Return the smallest distance between two surfaces, by points against triangles both ways."""
    a, b = first.points.reshape(-1, 3), second.points.reshape(-1, 3)
    near_b, index = cKDTree(b).query(a)
    low = near_b.min()
    some_a = np.argsort(near_b)[:150]
    some_a = some_a[near_b[some_a] < low + 0.04]
    near_a = cKDTree(a[some_a]).query(b)[0]
    some_b = np.argsort(near_a)[:250]
    one = _points_to_triangles(a[some_a], _triangles(second, some_b))
    two = _points_to_triangles(b[some_b], _triangles(first, some_a))
    gap = min(one[0].min(), two[0].min())
    close = one[0] < one[0].min() + 0.015
    here, there = a[some_a][close].mean(0), one[1][close].mean(0)
    return Clearance(float(gap), here, here + (there - here) * gap / max(float(np.linalg.norm(there - here)), 1e-9))


def _triangles(grid: Grid, corners: NDArray[np.int64]) -> Array:
    """Return the triangles (k, 3, 3) of the grid that touch any of the given vertices."""
    wanted = np.zeros(grid.points.shape[0] * grid.points.shape[1], bool)
    wanted[corners] = True
    faces = grid.faces()
    return grid.points.reshape(-1, 3)[faces[wanted[faces].any(1)]]


def _points_to_triangles(points: Array, triangles: Array) -> tuple[Array, Array]:
    """Return for each point the distance to, and the nearest point on, the nearest triangle."""
    a, b, c = triangles[None, :, 0], triangles[None, :, 1], triangles[None, :, 2]
    p = points[:, None]
    candidates = np.stack([_on_plane(p, a, b, c), _on_edge(p, a, b), _on_edge(p, b, c), _on_edge(p, c, a)])
    distance = np.linalg.norm(candidates - p, axis=-1)
    distance = np.where(np.isfinite(distance), distance, np.inf)
    best = distance.reshape(4, len(points), -1).transpose(1, 0, 2).reshape(len(points), -1).argmin(1)
    kind, face = best // len(triangles), best % len(triangles)
    row = np.arange(len(points))
    return distance[kind, row, face], candidates[kind, row, face]


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
