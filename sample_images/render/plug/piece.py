"""A piece of the plug: its surface, the stuff it is made of, and how each point of it lies in the plug."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sample_images.render.noise import fractal, smooth
from sample_images.render.plug.shape import PlugSpec
from sample_images.render.surfaces import Grid

Array = NDArray[np.float64]

STUFFS = ("ceramic", "nickel", "precious", "steel", "gasket", "glazed", "brass", "deposit", "bright")
FIRING_ZONES = ("nose", "centre", "strap", "rim", "bore")


@dataclass
class Piece:
    """One surface before it is painted.

    Parameters
    ----------
    zone : place in the plug: nose, centre, strap, rim, bore, thread, seat, hex, crimp, upper, terminal.
    part : part name of `mesh.PARTS`.
    stuff : base material, one of `STUFFS`.
    marks : weights 0-1 of shape (rows, columns) left by damage: "fresh" fracture, "melt", "bruise", "crack".
    loose : the piece moves with the strap when the gap is set.
    """

    zone: str
    part: str
    stuff: str
    grid: Grid
    marks: dict[str, Array] = field(default_factory=dict)
    loose: bool = False


@dataclass(frozen=True, eq=False)
class Site:
    """Where each point of a piece lies: what deposits depend on. All arrays have shape (rows, columns)."""

    spec: PlugSpec
    piece: Piece

    @cached_property
    def points(self) -> Array:
        """Points (rows, columns, 3), mm."""
        return self.piece.grid.points

    @cached_property
    def normals(self) -> Array:
        """Outward unit normals (rows, columns, 3)."""
        return self.piece.grid.normals()

    @cached_property
    def z(self) -> Array:
        """Height above the shell's end face, mm."""
        return self.points[..., 2]

    @cached_property
    def radius(self) -> Array:
        """Distance from the plug's axis, mm."""
        return np.hypot(self.points[..., 0], self.points[..., 1])

    @cached_property
    def curvature(self) -> Array:
        """Mean curvature, 1/mm, averaged over the near rows: the corners of a polyline must not show as rings."""
        bend = self.piece.grid.curvature()
        padded = np.pad(bend, ((3, 3), (0, 0)), mode="edge")
        total = np.cumsum(np.concatenate([np.zeros((1, bend.shape[1])), padded]), axis=0)
        return (total[7:] - total[:-7]) / 7

    @cached_property
    def edge(self) -> Array:
        """0-1, 1 on convex edges: where deposits rub and burn off and metal shines."""
        return smooth(self.curvature, 0.4, 2.2)

    @cached_property
    def hollow(self) -> Array:
        """0-1, 1 in concave corners: where liquids and dirt gather."""
        return smooth(-self.curvature, 0.3, 1.8)

    @property
    def zone(self) -> str:
        """The piece's zone."""
        return self.piece.zone

    @cached_property
    def fire(self) -> Array:
        """0-1, how far the point belongs to the firing end: 1 in the chamber, fading over the first threads."""
        if self.zone in FIRING_ZONES:
            return np.ones(self.z.shape)
        if self.zone == "thread":
            return smooth(self.z, -4.5, -0.3)
        return np.zeros(self.z.shape)

    @cached_property
    def depth(self) -> Array:
        """Depth below the nose tip, mm (negative above it)."""
        return self.spec.nose.protrusion_mm - self.z

    @cached_property
    def deep(self) -> Array:
        """0 at the nose tip to 1 deep in the bore."""
        return smooth(self.depth, 0.5, min(self.spec.nose.depth_mm, 9.0))

    @cached_property
    def hot(self) -> Array:
        """0-1, heat of the place in use: nose tip and electrode ends 1, shell 0.2."""
        if self.zone in ("rim", "bore", "thread"):
            return np.full(self.z.shape, 0.2)
        if self.zone == "strap":
            return smooth(self.radius, self.spec.rim_outer_mm, 0.6)
        return 1 - smooth(self.depth, 0.0, 5.0)

    @cached_property
    def step_mm(self) -> float:
        """Typical distance of neighbouring points, mm: the finest detail the mesh can carry is about twice this."""
        p = self.points
        along = np.median(np.linalg.norm(np.diff(p, axis=0), axis=-1))
        return float(max(along, np.median(np.linalg.norm(np.diff(p, axis=1), axis=-1))))

    def noise(self, period_mm: float, rng: np.random.Generator, *, slope: float = 1.2, stretch: float = 1.0) -> Array:
        """Return fractal noise of standard deviation 1 on the surface, drawn out `stretch` times along the axis."""
        points = self.points if stretch == 1.0 else self.points * np.array([1.0, 1.0, 1.0 / stretch])
        return fractal(points, period_mm, rng, slope=slope, finest_mm=2.2 * self.step_mm)

    def facing(self, angle: float) -> Array:
        """Return -1 to 1, how far the point faces the side at `angle` (radians about the axis)."""
        radius = np.maximum(self.radius, 0.3)
        turned = (self.points[..., 0] * np.cos(angle) + self.points[..., 1] * np.sin(angle)) / radius
        return turned * smooth(self.radius, 0.0, 1.2)
