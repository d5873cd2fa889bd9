"""Wet and glassy coats: oil, fuel, coolant, glaze."""

from __future__ import annotations

import numpy as np

from sample_images.render.noise import smooth
from sample_images.render.plug.piece import Site
from sample_images.render.plug.skin import Array, Skin, coverage, varied
from sample_images.render.plug.spots import spots


def oil_fouled(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Wet brown-black film over carbon, with runs, a meniscus in the corners and drops."""
    brown = rng.uniform(0.4, 1.1)
    big = site.noise(14.0, rng, slope=1.5)
    mid = site.noise(4.5, rng, slope=1.0)
    runs = _runs(site, 6.0, rng)
    weight = _splashed(site, runs) * coverage(0.8 * big + 0.4 * runs + 0.3 * site.hollow, 0.35 + 0.85 * amount, 0.6)
    thick = np.clip(0.55 + 0.22 * runs + 0.15 * big + 0.5 * site.hollow - 0.5 * site.edge, 0, 1.3)
    carbon = np.array([0.017, 0.0145, 0.0125])
    amber = np.array([0.042, 0.020, 0.008]) * brown
    tone = amber + (carbon - amber) * smooth(thick + 0.12 * mid, 0.05, 0.55)[..., None]
    film = weight * np.minimum(0.40 + 0.55 * amount + 0.35 * smooth(thick, 0.2, 0.8), 1)
    skin.cover(film, varied(tone, mid, 0.12), metallic=0.0, flatness=0.0, sheen=0.0)
    ridges = smooth(runs, 0.2, 1.4)
    pooled = smooth(thick + 0.25 * mid, 0.10, 0.75)
    wet = 0.34 - 0.24 * pooled + 0.04 * np.clip(mid, -1.5, 2.0)
    skin.cover(
        weight, roughness=wet, clearcoat=0.55 + 0.45 * pooled, relief=(0.03 + 0.05 * amount) * thick + 0.10 * amount * ridges
    )
    drops = spots(site, rng, spacing_mm=1.4, radius_mm=(0.15, 0.6), keep=0.45 * amount)
    skin.cover(drops.mask * weight, tone * 0.8, roughness=0.06, clearcoat=1.0, metallic=0.0, relief=0.5 * drops.height)


def fuel_wet(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Damp: charcoal stain under a thin clear film that is drying off in places."""
    big = site.noise(12.0, rng, slope=1.5)
    mid = site.noise(4.0, rng, slope=0.9)
    grey = rng.uniform(0.75, 1.05)
    runs = _runs(site, 6.0, rng)
    wet = _splashed(site, runs) * coverage(big + 0.35 * runs, 0.3 + 0.65 * amount, 0.8)
    if site.zone in ("nose", "rim", "bore", "strap", "centre"):
        stain = wet * grey * (0.45 + 0.5 * amount) * np.clip(0.85 + 0.2 * runs + 0.1 * mid, 0.3, 1)
        stain = stain if site.zone == "nose" else np.minimum(1.25 * stain, 1)
        skin.cover(stain, varied((0.055, 0.05, 0.046), mid, 0.25), metallic=0.1, flatness=0.0)
    skin.film(0.7 * np.exp(-(((wet - 0.3) / 0.12) ** 2)) * (wet > 0.02), (0.45, 0.38, 0.30))
    film = 0.012 * (1 + np.maximum(big, 0)) + 0.05 * smooth(runs, 0.3, 1.5)
    skin.film(wet, (0.58, 0.54, 0.49), roughness=0.09, clearcoat=1.0, flatness=0.0, relief=film)
    drops = spots(site, rng, spacing_mm=1.1, radius_mm=(0.12, 0.55), keep=0.45 * amount)
    skin.film(drops.mask * wet, (0.80, 0.78, 0.74), roughness=0.05, clearcoat=1.0, relief=0.5 * drops.height)


def coolant_wet(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Washed clean in streaks, with clear or greenish water in beads; no oil sheen."""
    tint = [(0.97, 0.97, 0.95), (0.91, 0.97, 0.87), (0.98, 0.91, 0.84)][int(rng.integers(3))]
    angle = rng.uniform(0, 2 * np.pi)
    big = site.noise(11.0, rng, slope=1.4)
    runs = _runs(site, 7.0, rng)
    washed = site.fire * coverage(big + 0.6 * runs + 0.6 * site.facing(angle), 0.25 + 0.6 * amount, 0.5)
    if site.zone == "nose":
        skin.cover(washed * (0.55 + 0.4 * amount), varied((0.78, 0.77, 0.74), big, 0.03), roughness=0.4, flatness=0.4)
        tide = np.exp(-(((washed - 0.3) / 0.15) ** 2))
        skin.film(0.5 * tide * amount, (0.60, 0.47, 0.34))
    wet = site.fire * coverage(big + 0.4 * runs, 0.35 + 0.6 * amount, 0.7)
    skin.film(wet, tint, roughness=0.22, clearcoat=1.0, relief=0.01)
    drops = spots(site, rng, spacing_mm=1.0, radius_mm=(0.12, 0.5), keep=0.2 + 0.35 * amount)
    skin.film(drops.mask * wet, np.array(tint) * 0.92, roughness=0.05, clearcoat=1.0, relief=0.55 * drops.height)


def glazed(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """A hard skin of glass, yellow, tan, brown or dark, mostly on the nose, wavy and shiny."""
    tint = np.array(
        [(0.80, 0.58, 0.16), (0.66, 0.43, 0.20), (0.40, 0.22, 0.09), (0.22, 0.17, 0.12), (0.86, 0.72, 0.36)][int(rng.integers(5))]
    )
    big = site.noise(9.0, rng, slope=1.6)
    mid = site.noise(3.2, rng, slope=1.3)
    fine = site.noise(1.8, rng, slope=1.0)
    level = {"nose": 1.0, "centre": 0.35, "strap": 0.3}.get(site.zone, 0.1)
    weight = level * site.fire * coverage(big + 0.3 * mid, 0.4 + 0.6 * amount, 0.6)
    thick = np.clip(0.6 + 0.3 * big + 0.15 * mid, 0.1, 1.4)
    skin.film(
        weight * (0.4 + 0.6 * amount),
        tint ** (0.9 + 1.1 * thick[..., None]),
        roughness=0.05,
        clearcoat=1.0,
        metallic=0.0,
        flatness=0.25,
    )
    sagged = smooth(_runs(site, 3.5, rng), 0.0, 1.6)
    skin.cover(weight, relief=0.02 + 0.05 * amount * thick + 0.07 * amount * sagged)
    crazed = smooth(np.abs(mid), 0.16, 0.03) * smooth(fine, 0.3, 1.2)
    skin.film(0.35 * weight * crazed, tint * 0.5)
    bubbles = spots(site, rng, spacing_mm=1.1, radius_mm=(0.06, 0.22), keep=0.15 + 0.2 * amount)
    skin.cover(bubbles.mask * weight, roughness=0.08, clearcoat=1.0, relief=0.5 * bubbles.height)


def _splashed(site: Site, runs: Array) -> Array:
    """Return 0-1, how far a liquid of the chamber gets: all of the firing end, and down the first threads in runs."""
    if site.zone != "thread":
        return site.fire
    return np.asarray(smooth(site.z + 1.6 * runs, -7.5, -1.0))


def _runs(site: Site, period_mm: float, rng: np.random.Generator) -> Array:
    """Return noise drawn out along the axis: how liquids run."""
    return site.noise(period_mm, rng, slope=1.3, stretch=4.5)


__all__ = ["coolant_wet", "fuel_wet", "glazed", "oil_fouled", "smooth"]
