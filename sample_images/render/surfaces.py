"""Surfaces made of a grid of points: revolved profiles, swept bars, hexagons, rounded corners.

Every surface is a grid of rows and columns (the columns may close into a ring), which makes normals, curvature
and displacement plain array arithmetic.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Grid:
    """A surface as a grid of points.

    Parameters
    ----------
    points : array of shape (rows, columns, 3), mm.
    closed : the last column joins the first.
    """

    points: Array
    closed: bool = True

    def normals(self) -> Array:
        """Return outward unit normals of shape (rows, columns, 3), by central differences."""
        along = np.gradient(self.points, axis=0)
        around = _around(self.points, self.closed)
        normal = np.cross(around, along)
        length = np.linalg.norm(normal, axis=-1, keepdims=True)
        return normal / np.maximum(length, 1e-12)

    def faces(self) -> NDArray[np.uint32]:
        """Return triangles of shape (m, 3) into the flattened points, outward winding."""
        rows, columns = self.points.shape[:2]
        i = np.arange(rows - 1)[:, None] * columns
        j = np.arange(columns if self.closed else columns - 1)[None]
        k = (j + 1) % columns
        a, b, c, d = i + j, i + k, i + columns + k, i + columns + j
        quads = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
        return quads.astype(np.uint32)

    def curvature(self) -> Array:
        """Return the mean curvature (1/mm) at each point: positive on edges, negative in hollows, 0 at open ends."""
        p = self.points
        up, down = np.roll(p, 1, 0), np.roll(p, -1, 0)
        left, right = np.roll(p, 1, 1), np.roll(p, -1, 1)
        normal, bend = self.normals(), np.zeros(p.shape[:2])
        for before, after in ((up, down), (left, right)):
            lb, la = np.linalg.norm(p - before, axis=-1), np.linalg.norm(after - p, axis=-1)
            pull = (before - p) / np.maximum(lb, 1e-4)[..., None] + (after - p) / np.maximum(la, 1e-4)[..., None]
            bend -= np.einsum("ijk,ijk->ij", pull, normal) / np.maximum(lb + la, 0.02)
        bend[[0, -1]] = 0.0
        if not self.closed:
            bend[:, [0, -1]] = 0.0
        return bend

    def pushed(self, distance_mm: Array) -> Grid:
        """Return the surface moved along its normals by `distance_mm` of shape (rows, columns)."""
        return replace(self, points=self.points + self.normals() * distance_mm[..., None])

    def moved(self, shift_mm: Array) -> Grid:
        """Return the surface with `shift_mm` (broadcast to the points) added."""
        return replace(self, points=self.points + shift_mm)

    def turned(self, angle: float) -> Grid:
        """Return the surface turned about the z axis by `angle` in radians."""
        return replace(self, points=self.points @ turn_z(angle).T)


def turn_z(angle: float) -> Array:
    """Return the (3, 3) matrix that turns column vectors about z by `angle` in radians."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def rounded(corners: list[tuple[float, float]], radius_mm: float, *, steps: int = 4) -> Array:
    """Return an open polyline (k, 2) whose inner corners are arcs of at most `radius_mm`."""
    p = np.asarray(corners, float)
    out = [p[:1]]
    for a, b, c in zip(p[:-2], p[1:-1], p[2:], strict=True):
        out.append(_fillet(a, b, c, radius_mm, steps))
    return np.concatenate([*out, p[-1:]])


def filled(line: Array, step_mm: float) -> Array:
    """Return the polyline with long legs divided so that no leg exceeds `step_mm`; corners are kept."""
    parts = []
    for a, b in pairwise(line):
        n = max(1, int(np.ceil(np.linalg.norm(b - a) / step_mm)))
        parts.append(a + (b - a) * (np.arange(n) / n)[:, None])
    return np.concatenate([*parts, line[-1:]])


def revolve(profile: Array, columns: int, radius: Callable[[Array, Array, Array], Array] | None = None) -> Grid:
    """Return the surface of revolution of `profile` (k, 2) = (r, z) about z.

    The profile runs from high z to low z on an outer surface, so that normals point away from the axis.
    `radius(r, z, angle)` may change the radius of each point: hexagons, threads.
    """
    angle = np.arange(columns) * (2 * np.pi / columns)
    r, z, a = np.broadcast_arrays(profile[:, :1], profile[:, 1:2], angle[None])
    r = r if radius is None else radius(r, z, a)
    return Grid(np.stack([r * np.cos(a), r * np.sin(a), z], -1)[:, ::-1])


def hexagon(across_flats_mm: float, corner_mm: float = 0.4) -> Callable[[Array, Array, Array], Array]:
    """Return a radius function that cuts a revolved profile to a hexagon with rounded corners."""

    def radius(r: Array, z: Array, angle: Array) -> Array:
        third = np.pi / 3
        t = np.abs((angle + third / 2) % third - third / 2)
        flat = across_flats_mm / 2 / np.cos(t)
        corner = across_flats_mm / np.sqrt(3) - corner_mm * 0.35
        return np.minimum(r, -_soft_max(-flat, -np.full_like(flat, corner), corner_mm * 0.1))

    return radius


def sweep(path: Array, width: Array, thickness: Array, *, columns: int = 28, corner: float = 0.35) -> Grid:
    """Return a bar swept along `path` (k, 2) = (x, z); width lies along y, thickness in the plane of the path.

    Parameters
    ----------
    width, thickness : arrays of shape (k,), mm.
    corner : radius of the four long edges as a share of half the thickness, 0-1.
    """
    along = np.gradient(path, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    across = np.stack([along[:, 1], -along[:, 0]], -1)
    flat, arc = _rounded_box(columns)
    half = np.stack([thickness, width], -1)[:, None] / 2
    radius = corner * half.min(-1, keepdims=True)
    section = flat * (half - radius) + arc * radius
    out, side = section[..., 0], section[..., 1]
    points = np.stack([path[:, :1] + across[:, :1] * out, side, path[:, 1:] + across[:, 1:] * out], -1)
    return Grid(points)


def capped(grid: Grid, *, first: bool = False, last: bool = True, bulge: float = 0.0, rows: int = 3) -> Grid:
    """Return the grid with its open ends drawn in to a point, bulging by a share of the end's size."""
    points = grid.points
    if last:
        points = np.concatenate([points, _cap(points[-1], points[-1] - points[-2], bulge, rows)])
    if first:
        points = np.concatenate([_cap(points[0], points[0] - points[1], bulge, rows)[::-1], points])
    return replace(grid, points=points)


def ball(centre: Array, radius_mm: float, rows: int = 9, columns: int = 12) -> Grid:
    """Return a sphere."""
    a = np.linspace(0, np.pi, rows)
    sphere = revolve(np.stack([radius_mm * np.sin(a), radius_mm * np.cos(a)], -1), columns)
    return sphere.moved(np.asarray(centre))


def _around(points: Array, closed: bool) -> Array:
    if closed:
        return np.roll(points, -1, 1) - np.roll(points, 1, 1)
    return np.gradient(points, axis=1)


def _fillet(a: Array, b: Array, c: Array, radius: float, steps: int) -> Array:
    u, v = a - b, c - b
    lu, lv = np.linalg.norm(u), np.linalg.norm(v)
    half = np.arccos(np.clip(u @ v / max(lu * lv, 1e-12), -1, 1)) / 2
    if half > np.pi / 2 - 0.02 or half < 0.02:
        return b[None]
    leg = min(radius / np.tan(half), 0.45 * lu, 0.45 * lv)
    start, end = b + u / lu * leg, b + v / lv * leg
    t = np.linspace(0, 1, steps + 1)[:, None]
    return (1 - t) ** 2 * start + 2 * t * (1 - t) * b + t**2 * end


def _soft_max(a: Array, b: Array, width: float) -> Array:
    h = np.clip(0.5 + 0.5 * (a - b) / width, 0, 1)
    return b + (a - b) * h + width * h * (1 - h)


def _cap(edge: Array, outward: Array, bulge: float, rows: int) -> Array:
    middle = edge.mean(0)
    size = np.linalg.norm(edge - middle, axis=-1).mean()
    direction = outward.mean(0) / max(float(np.linalg.norm(outward.mean(0))), 1e-12)
    t = (np.arange(1, rows + 1) / rows)[:, None, None]
    shrunk = middle + (edge - middle) * np.sqrt(1 - t**2) if bulge else middle + (edge - middle) * (1 - t)
    return shrunk + direction * (bulge * size * t)


def _rounded_box(columns: int) -> tuple[Array, Array]:
    """Return flat multipliers and arc directions, each (columns, 2), of the outline of a rounded box."""
    arc_steps = 4
    flat_steps = max(2, columns // 4 - arc_steps)
    flat, arc = [], []
    for quarter in range(4):
        middle = quarter * np.pi / 2
        u = np.array([np.cos(middle), np.sin(middle)]).round()
        v = np.array([-u[1], u[0]])
        for t in np.linspace(-1, 1, flat_steps, endpoint=False):
            flat.append(u + v * t)
            arc.append(u)
        for t in np.linspace(0, np.pi / 2, arc_steps, endpoint=False):
            flat.append(u + v)
            arc.append(u * np.cos(t) + v * np.sin(t))
    return np.array(flat), np.array(arc)
