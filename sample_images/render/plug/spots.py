"""Round things scattered over a surface: grains, beads, drops, blisters, specks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_images.render.noise import nearest, scatter, smooth
from sample_images.render.plug.piece import Site

Array = NDArray[np.float64]

SOFT_MM = 0.08
"""A spot's outline is at least so soft: about one and a half cells of a fine mesh, so that no cell shows its corners."""


@dataclass(frozen=True)
class Spots:
    """Fields of shape (rows, columns).

    Parameters
    ----------
    mask : 0-1, 1 inside a spot, with an edge as soft as the mesh.
    dome : 0-1, 1 in the middle of a spot, round like a cap.
    height : mm, the cap's height for a half-ball of the spot's radius.
    tone : one random number of standard deviation 1 for each spot.
    """

    mask: Array
    dome: Array
    height: Array
    tone: Array


def spots(
    site: Site,
    rng: np.random.Generator,
    *,
    spacing_mm: float,
    radius_mm: tuple[float, float],
    keep: float = 1.0,
    ragged: float = 0.0,
    reach_mm: tuple[float, float] = (-6.0, 14.0),
) -> Spots:
    """Return spots cut out of the surface by balls scattered in space.

    The balls depend on `rng` and the plug alone, so spots sit at the same places at every mesh density.

    Parameters
    ----------
    spacing_mm : mean distance of the balls.
    radius_mm : smallest and largest radius; small ones are commoner.
    keep : share of the balls that are there.
    ragged : how irregular the outlines are, as a share of the radius.
    reach_mm : z range filled with balls.
    """
    wide = site.spec.size.major_mm / 2 + 0.5
    low, high = np.array([-wide, -wide, reach_mm[0]]), np.array([wide, wide, reach_mm[1]])
    centres = scatter(rng, low, high, spacing_mm, most=40000)
    radius = radius_mm[0] + (radius_mm[1] - radius_mm[0]) * rng.beta(1.1, 2.6, len(centres))
    tone = rng.standard_normal(len(centres))
    there = rng.random(len(centres)) < keep * _crowding(centres, rng)
    noise_rng = np.random.default_rng(int(rng.integers(2**31)))
    if not there.any() or site.z.max() < low[2]:
        empty = np.zeros(site.z.shape)
        return Spots(empty, empty, empty, empty)
    centres, radius, tone = centres[there], radius[there], tone[there]
    distance, index = nearest(site.points, centres, radius_mm[1] * (1 + ragged))
    size = radius[index]
    if ragged:
        distance = distance * (1 + ragged * site.noise(1.5, noise_rng, slope=0.8))
    share = np.clip(1 - np.where(np.isfinite(distance), distance, np.inf) / size, 0, 1)
    cap = np.sqrt(1 - (1 - share) ** 2)
    edge = np.clip(SOFT_MM / size, 0.25, 0.8)
    return Spots(smooth(share, 0.0, edge), cap, cap * size, tone[index])


def _crowding(centres: Array, rng: np.random.Generator) -> Array:
    """Return how much likelier a ball is to be there than on average: they come in swarms, not evenly."""
    field = np.zeros(len(centres))
    for scale in (1.0, 1.0, 2.2, 2.2):
        field += np.sin(centres @ (rng.standard_normal(3) * 0.9 * scale) + rng.uniform(0, 2 * np.pi)) / 2
    return np.asarray(np.clip(1.0 + 1.1 * field, 0.0, 2.6))
