"""Deposits and metals as vertex colours: noise of several kinds through ramps over the whole range of plugs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sample_images.render.mesh import MeshBuilder

Array = NDArray[np.float64]
PORCELAIN = ((0.85, 0.85, 0.82), (0.8, 0.45, 0.45), (0.4, 0.4, 0.42), (0.3, 0.15, 0.07), (0.1, 0.2, 0.5), (0.03, 0.03, 0.03))
RAMPS = (
    ((0.85, 0.84, 0.8), (0.6, 0.55, 0.5)), ((0.6, 0.42, 0.25), (0.35, 0.2, 0.1)), ((0.25, 0.13, 0.06), (0.08, 0.04, 0.02)),
    ((0.02, 0.02, 0.02), (0.08, 0.08, 0.08)), ((0.5, 0.15, 0.07), (0.75, 0.5, 0.4)), ((0.25, 0.35, 0.2), (0.6, 0.6, 0.45)),
    ((0.75, 0.6, 0.2), (0.5, 0.35, 0.1)), ((0.4, 0.38, 0.36), (0.75, 0.7, 0.66)),
)  # fmt: skip


def waves(rng: np.random.Generator, points: Array, coarse: float, kind: int) -> Array:
    """Return noise 0-1 at `points` (n, 3): a sum of sine waves, smooth (0), ridged (1) or blotched (2)."""
    total = np.zeros(len(points))
    for octave in range(4):
        for _ in range(4):
            way = rng.normal(size=3) * coarse * 2**octave
            total += np.sin(points @ way + rng.uniform(0, 6.3)) / 2**octave / 4
    smooth = np.clip(total * 0.6 + 0.5, 0, 1)
    return (smooth, np.abs(2 * smooth - 1), np.clip((smooth - 0.45) * 6, 0, 1))[kind]


class Coat:
    """One plug's deposit: `ceramic` and `metal` add surfaces that carry it."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.low, self.high = (np.array(c) for c in RAMPS[rng.integers(len(RAMPS))])
        self.other = np.array(RAMPS[rng.integers(len(RAMPS))][0])
        self.kind, self.coarse = int(rng.integers(3)), float(rng.uniform(0.3, 2.0))
        self.wet = float(rng.random() < 0.2)
        self.thick, self.dirt = float(rng.choice([0.0, rng.uniform(0, 0.08)])), float(rng.random() ** 1.5)

    def lumps(self, rows: int, sides: int) -> Array:
        """Return factors (rows, sides) on the nose's radius."""
        rough = self.rng.normal(size=(rows, sides))
        return 1 + self.thick * np.clip(rough, -1.5, 0.5)

    def ceramic(self, build: MeshBuilder, points: Array, faces: NDArray[np.integer]) -> None:
        """Add the nose."""
        n = waves(self.rng, points, self.coarse, self.kind)[:, None]
        colour = self.low * (1 - n) + self.high * n
        band = np.clip((points[:, 2:] - self.rng.uniform(-6, 4)) / self.rng.uniform(0.5, 4), 0, 1) * (self.rng.random() < 0.5)
        colour = colour * (1 - band) + self.other * band
        rough = 0.1 if self.wet else self.rng.uniform(0.3, 1.0)
        build.add(points, faces, "nose", np.clip(colour, 0.01, 0.95), roughness=rough, clearcoat=self.wet)

    def metal(self, build: MeshBuilder, points: Array, faces: NDArray[np.integer], part: str, roughness: float) -> None:
        """Add a metal surface, more or less dirty."""
        near = np.clip(1 + points[:, 2:] / 12, 0, 1) if part != "upper" else 0.0
        n = waves(self.rng, points, self.coarse, self.kind)[:, None] * self.dirt * near
        base = self.rng.uniform(0.25, 0.75) * np.array([1, self.rng.uniform(0.85, 1.0), self.rng.uniform(0.75, 1.05)])
        colour = base * (1 - n) + self.low * n
        shine = np.clip(1 - 1.5 * n[:, 0], 0, 1) * (self.rng.random() < 0.85)
        build.add(points, faces, part, np.clip(colour, 0.01, 0.95), roughness=roughness, metallic=shine, clearcoat=self.wet)
