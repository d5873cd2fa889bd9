"""White paper, grey card and a 24-patch chart beside the plug, and what is known of them.

Paper reflects about 85 % and is a little blue from its brightener; a grey card reflects 18 %. Sheets are whole or small,
bent, soiled, ruled, lit unevenly by a coat of grime: a finder must not take "smooth" for "sheet".
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from sample_images.render.colour import linear_of_lab_d50
from sample_images.render.draw import Rng, chance, mix, ratio, stuff, uniform
from sample_images.render.grain import grain, step
from sample_images.render.mesh import Mesh, MeshBuilder
from sample_images.render.surfaces import Grid

Array = NDArray[np.float64]

PAPER_REFLECTANCE = np.array([0.845, 0.85, 0.87])
CARD_REFLECTANCE = 0.18
KINDS = ("paper", "card", "chart")


@dataclass(frozen=True, eq=False)
class Sheet:
    """A reference lying in the scene.

    Parameters
    ----------
    kind : "paper", "card" or "chart".
    mesh : of part "sheet" (the chart, having colours, is background).
    corners_mm : array of shape (4, 3), in order round the sheet; the chart's first corner is the dark skin patch's.
    reflectance : linear sRGB (3,) of a clean place; nan for a chart.
    """

    kind: str
    mesh: Mesh
    corners_mm: Array
    reflectance: Array

    def placed(self, rotation: Array, shift_mm: Array) -> Sheet:
        """Return the sheet turned and moved."""
        return Sheet(self.kind, self.mesh.placed(rotation, shift_mm), self.corners_mm @ rotation.T + shift_mm, self.reflectance)


def make_sheet(rng: Rng, kind: str, width_mm: float, height_mm: float, *, clean: bool = False) -> Sheet:
    """Return a sheet about the origin, facing +z."""
    if kind not in KINDS:
        raise ValueError(f"sheet kind {kind!r} is not known; use one of: {', '.join(KINDS)}")
    if kind == "chart":
        return _chart(width_mm, height_mm)
    n = 48
    a, b = np.meshgrid(np.linspace(-0.5, 0.5, n) * width_mm, np.linspace(-0.5, 0.5, n) * height_mm, indexing="ij")
    lift = _bend(rng, a, b, width_mm, most=0.05 if clean else 0.12)
    base = _reflectance(rng, kind)
    colour = _handled(rng, base, a.ravel(), b.ravel()) if clean else _used(rng, base, a.ravel(), b.ravel())
    grid = Grid(np.stack([a, b, lift], -1), closed=False)
    builder = MeshBuilder()
    builder.add(grid.points.reshape(-1, 3), grid.faces(), "sheet", np.clip(colour, 0.01, 0.92), roughness=uniform(rng, 0.6, 1))
    corners = grid.points[[0, -1, -1, 0], [0, 0, -1, -1]]
    return Sheet(kind, builder.join(), corners, base)


def _reflectance(rng: Rng, kind: str) -> Array:
    if kind == "card":
        return np.full(3, CARD_REFLECTANCE) * np.exp(rng.normal(0, 0.015)) * np.exp(rng.normal(0, 0.006, 3))
    return np.clip(PAPER_REFLECTANCE * uniform(rng, 0.9, 1.03) * np.exp(rng.normal(0, 0.012, 3)), 0, 0.91)


def _bend(rng: Rng, a: Array, b: Array, width_mm: float, most: float) -> Array:
    """Return heights (mm) of a sheet that lies flat or curls up along one side by up to `most` widths."""
    flat = 0.12 + np.zeros_like(a)
    if chance(rng, 0.45):
        return flat
    turn = uniform(rng, 0, 6.28)
    along = (a * np.cos(turn) + b * np.sin(turn)) / width_mm
    return flat + uniform(rng, 0, most) * width_mm * np.clip(along - uniform(rng, -0.3, 0.4), 0, None) ** 2


def _handled(rng: Rng, base: Array, a: Array, b: Array) -> Array:
    """A clean sheet out of a workshop: a faint tooth, and greyer where thumbs held it near the edge."""
    colour = base * np.exp(0.008 * grain(a, b, 20, rng, slope=0.8))[:, None]
    edge = np.maximum(np.abs(a) / np.abs(a).max(), np.abs(b) / np.abs(b).max())
    thumb = step(grain(a, b, ratio(rng, 30, 90), rng, slope=1.3), 1.0, 2.4) * step(edge, 0.45, 0.9) * uniform(rng, 0.0, 0.35)
    return mix(colour, colour * np.array([0.60, 0.56, 0.50]), thumb)


def _used(rng: Rng, base: Array, a: Array, b: Array) -> Array:
    """Grime, fingerprints, ruled lines and a fall-off, on most sheets."""
    colour = np.broadcast_to(base, (len(a), 3)).copy()
    if chance(rng, 0.25):
        lines = (np.abs((b / uniform(rng, 5, 9)) % 1 - 0.5) < 0.06).astype(float)
        colour = mix(colour, colour * stuff(rng, "blue", "grey", "light_grey"), lines * uniform(rng, 0.2, 0.8))
    if chance(rng, 0.4):
        stain = step(grain(a, b, ratio(rng, 40, 160), rng, slope=1.2), uniform(rng, 0.6, 1.6), 2.4) * uniform(rng, 0.1, 0.7)
        colour = mix(colour, colour * np.array([0.4, 0.35, 0.28]), stain)
    if chance(rng, 0.3):
        colour = colour * np.exp(-uniform(rng, 0, 0.5) * (a * rng.normal() + b * rng.normal() > 0) * chance(rng, 0.3))[:, None]
    return colour


@lru_cache(maxsize=1)
def chart_patches() -> Array:
    """Return the chart's reflectances, linear sRGB, shape (4, 6, 3)."""
    text = resources.files(__package__).joinpath("chart24.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    return linear_of_lab_d50(np.array(table["lab"])).reshape(table["rows"], table["columns"], 3)


def _chart(width_mm: float, height_mm: float) -> Sheet:
    builder = MeshBuilder()
    builder.add(_quad(0, 0, width_mm, height_mm, 0.5), _QUAD_FACES, "background", (0.035, 0.035, 0.035), roughness=0.7)
    patches = chart_patches()
    rows, columns = patches.shape[:2]
    w, h = width_mm / (columns + 0.35), height_mm / (rows + 0.35)
    for i in range(rows):
        for j in range(columns):
            x, y = (j - (columns - 1) / 2) * w, ((rows - 1) / 2 - i) * h
            builder.add(_quad(x, y, 0.84 * w, 0.84 * h, 0.53), _QUAD_FACES, "background", tuple(patches[i, j]), roughness=0.85)
    corners = np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]]) / 2 * [width_mm, height_mm]
    return Sheet("chart", builder.join(), np.concatenate([corners, np.full((4, 1), 0.5)], 1), np.full(3, np.nan))


_QUAD_FACES = np.array([[0, 1, 2], [0, 2, 3]], np.uint32)


def _quad(x: float, y: float, w: float, h: float, z: float) -> Array:
    return np.array([[x - w / 2, y - h / 2, z], [x + w / 2, y - h / 2, z], [x + w / 2, y + h / 2, z], [x - w / 2, y + h / 2, z]])
