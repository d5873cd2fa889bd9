"""Where the camera stands and where a point of the scene lands in the picture.

The projection is a pinhole's; the thin lens of the renderer blurs about the same centre, so key points stay true.
Pixel coordinates run from 0 at the outer edge of the first pixel: the centre of the first pixel is (0.5, 0.5).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Camera:
    """A thin-lens camera.

    Parameters
    ----------
    origin_mm, target_mm, up : arrays of shape (3,); `up` needs only to be off the line of sight.
    fov_deg : horizontal field of view, degrees.
    aperture_mm : radius of the lens opening; 0 gives a pinhole.
    focus_mm : distance of the plane in focus.
    width_px, height_px : size of the picture.
    """

    origin_mm: Array
    target_mm: Array
    up: Array
    fov_deg: float
    aperture_mm: float
    focus_mm: float
    width_px: int
    height_px: int

    @property
    def focal_px(self) -> float:
        """Focal length in pixels."""
        return self.width_px / 2 / float(np.tan(np.deg2rad(self.fov_deg) / 2))

    @property
    def forward(self) -> Array:
        """Unit vector along the line of sight through the picture's centre."""
        return unit(self.target_mm - self.origin_mm)

    def axes(self) -> tuple[Array, Array, Array]:
        """Return unit vectors right, down and forward."""
        forward = self.forward
        right = unit(np.cross(forward, self.up))
        return right, np.cross(forward, right), forward

    def project(self, points_mm: Array) -> Array:
        """Return x, y in pixels and depth in mm, shape (..., 3); x and y are nan behind the camera."""
        right, down, forward = self.axes()
        local = np.asarray(points_mm, float) - self.origin_mm
        depth = local @ forward
        safe = np.where(depth > 1.0, depth, np.nan)
        x = self.width_px / 2 + self.focal_px * (local @ right) / safe
        y = self.height_px / 2 + self.focal_px * (local @ down) / safe
        return np.stack([x, y, depth], -1)

    def px_per_mm(self, point_mm: Array) -> float:
        """Return the picture's scale for lengths across the line of sight at `point_mm`."""
        return self.focal_px / float((np.asarray(point_mm) - self.origin_mm) @ self.forward)

    def sized(self, width_px: int, height_px: int) -> Camera:
        """Return the same camera with another pixel count."""
        return replace(self, width_px=width_px, height_px=height_px)


def unit(vector: Array) -> Array:
    """Return `vector` scaled to length 1 along its last axis."""
    v = np.asarray(vector, float)
    return v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-12)


def frame(z: Array, turn: float = 0.0) -> Array:
    """Return the rotation (3, 3) whose third column is along `z`, turned by `turn` radians about it."""
    z = unit(z)
    x = unit(np.cross([0.0, 1.0, 0.0] if abs(z[1]) < 0.9 else [1.0, 0.0, 0.0], z))
    y = np.cross(z, x)
    c, s = np.cos(turn), np.sin(turn)
    return np.stack([x * c + y * s, y * c - x * s, z], 1)
