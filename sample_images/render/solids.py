"""Simple solids for the clutter: boxes, turned parts, threads, tubes along a path, all as vertices and faces."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sample_images.render.camera import unit
from sample_images.render.surfaces import Grid, filled, hexagon, revolve

Array = NDArray[np.float64]


class Solid(NamedTuple):
    """Vertices (n, 3) in mm and faces (m, 3)."""

    vertices: Array
    faces: NDArray[np.uint32]

    def moved(self, shift_mm: Array | tuple[float, float, float]) -> Solid:
        """Return the solid, shifted."""
        return Solid(self.vertices + np.asarray(shift_mm), self.faces)

    def turned(self, rotation: Array) -> Solid:
        """Return the solid, turned by the matrix `rotation`."""
        return Solid(self.vertices @ rotation.T, self.faces)


def of_grid(grid: Grid) -> Solid:
    """Return a grid surface as a solid."""
    return Solid(grid.points.reshape(-1, 3), grid.faces())


def turned(profile: list[tuple[float, float]], *, columns: int = 40, step_mm: float = 1.0, flats_mm: float = 0.0) -> Solid:
    """Return the body of revolution of (r, z) points from top to bottom; `flats_mm` cuts it to a hexagon."""
    cut = hexagon(flats_mm) if flats_mm else None
    return of_grid(revolve(filled(np.array(profile, float), step_mm), columns, cut))


def thread(outer_mm: float, pitch_mm: float, length_mm: float, *, columns: int = 44, depth_share: float = 0.6) -> Solid:
    """Return a threaded rod from z = 0 down."""
    rows = int(length_mm / pitch_mm * 9) + 4
    profile = np.stack([np.full(rows, outer_mm), np.linspace(0, -length_mm, rows)], -1)

    def radius(r: Array, z: Array, angle: Array) -> Array:
        phase = (z / pitch_mm - angle / (2 * np.pi)) % 1
        runout = np.clip((-z - 0.1 * pitch_mm) / pitch_mm, 0, 1)
        return r - depth_share * pitch_mm * (1 - (1 - np.abs(2 * phase - 1)) * runout)

    return of_grid(revolve(profile, columns, radius))


def box(x_mm: float, y_mm: float, z_mm: float, cells: int = 5) -> Solid:
    """Return a box about the origin with flat faces of their own vertices."""
    g = np.linspace(-0.5, 0.5, cells + 1)
    a, b = (k.ravel() for k in np.meshgrid(g, g, indexing="ij"))
    quad = Grid(np.zeros((cells + 1, cells + 1, 3)), closed=False).faces()
    vertices, faces = [], []
    for axis in range(3):
        for side in (-0.5, 0.5):
            v = np.zeros((len(a), 3))
            v[:, axis], v[:, (axis + 1) % 3], v[:, (axis + 2) % 3] = side, a, b
            faces.append(quad + np.uint32(len(a) * len(vertices)))
            vertices.append(v * [x_mm, y_mm, z_mm])
    return Solid(np.concatenate(vertices), np.concatenate(faces))


def tube(path: Array, radius_mm: Array | float, *, columns: int = 16) -> Solid:
    """Return a round tube along `path` (k, 3), its ends drawn in; `radius_mm` may differ along it."""
    along = unit(np.gradient(path, axis=0))
    side = unit(np.cross(along, _least_parallel(along)))
    up = np.cross(along, side)
    angle = np.arange(columns) * 2 * np.pi / columns
    ring = side[:, None] * np.cos(angle)[None, :, None] + up[:, None] * np.sin(angle)[None, :, None]
    radius = np.broadcast_to(radius_mm, (len(path),)).copy()
    points = path[:, None] + ring * radius[:, None, None]
    points[0], points[-1] = path[0], path[-1]
    return of_grid(Grid(points))


def patch(u: Array, v: Array, height: Array) -> Solid:
    """Return a sheet over a rectangular grid: `u` (r, c), `v` (r, c), `height` (r, c)."""
    return of_grid(Grid(np.stack([u, v, height], -1), closed=False))


def _least_parallel(along: Array) -> Array:
    mean = np.abs(along).mean(0)
    return np.eye(3)[int(np.argmin(mean))]
