"""Dry deposits: normal tan, soot, additive stain, powder, ash, coolant crust, lead, splashes.

Each coat takes the skin, the site, an amount 0-1 and its own random draws; the draws are the same for every
piece, so one coat has one colour and one grain all over the plug. Colours are our estimate by eye.
"""

from __future__ import annotations

import numpy as np

from sample_images.render.noise import smooth
from sample_images.render.plug.piece import Site
from sample_images.render.plug.skin import Array, Skin, coverage, varied
from sample_images.render.plug.spots import spots

NORMAL_TONES = (
    (0.36, 0.22, 0.115),
    (0.33, 0.255, 0.18),
    (0.42, 0.39, 0.35),
    (0.22, 0.13, 0.07),
    (0.52, 0.41, 0.29),
    (0.31, 0.25, 0.21),
)
STAIN_TONES = ((0.46, 0.155, 0.040), (0.33, 0.098, 0.034), (0.36, 0.090, 0.055), (0.27, 0.115, 0.042), (0.52, 0.22, 0.075))
ASH_TONES = ((0.44, 0.33, 0.22), (0.56, 0.48, 0.37), (0.46, 0.45, 0.43), (0.68, 0.66, 0.61), (0.33, 0.26, 0.19))
CRUST_TONES = ((0.78, 0.78, 0.74), (0.46, 0.58, 0.40), (0.62, 0.34, 0.13), (0.70, 0.72, 0.62))
SOOT = (0.0165, 0.0155, 0.0150)


def normal(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Light tan to grey, thin, even, matt; cleaner at the hot tip, darker in the bore."""
    tone = np.array(NORMAL_TONES[int(rng.integers(len(NORMAL_TONES)))]) * rng.uniform(0.85, 1.15)
    clean_mm, floor, strength = rng.uniform(0.0, 1.8), rng.uniform(0.45, 1.0), rng.uniform(0.85, 1.1)
    big = site.noise(14.0, rng, slope=1.5)
    fine = site.noise(3.0, rng, slope=0.5)
    streak = site.noise(5.0, rng, slope=1.0, stretch=3.0)
    grains = spots(site, rng, spacing_mm=0.42, radius_mm=(0.03, 0.10), keep=0.30)
    if site.zone == "nose":
        body = floor + (1 - floor) * smooth(site.depth + 0.4 * big + 0.15 * streak, clean_mm - 0.6, clean_mm + 1.6)
        weight = amount * strength * body * np.clip(0.90 + 0.10 * big + 0.06 * fine + 0.07 * streak, 0, 1)
        mottled = varied(tone, 0.8 * big + 0.45 * fine + 0.7 * streak, 0.14, 0.06)
        skin.cover(weight, mottled, roughness=0.92, flatness=0.12, relief=0.004 + 0.006 * fine)
        skin.cover(0.35 * amount * grains.mask, varied(tone * 0.75, grains.tone, 0.35), relief=0.15 * grains.height)
        base = smooth(site.depth + 0.5 * big + 0.3 * streak, 2.0, 7.5)
        skin.cover(0.62 * amount * base, varied(tone * 0.36, streak, 0.15), roughness=0.92)
    elif site.zone in ("centre", "strap"):
        weight = amount * coverage(big + 0.5 * fine - 0.9 * site.edge, 0.55) * 0.6
        skin.cover(weight, varied(tone * 0.72, fine, 0.15), roughness=0.9, metallic=0.1, relief=0.006 * fine)
    elif site.zone in ("rim", "bore"):
        weight = amount * coverage(big + 0.5 * fine - 0.5 * site.edge, 0.4) * 0.5
        skin.cover(weight, varied(tone * 0.4, fine, 0.2), roughness=0.95, metallic=0.0)


def carbon_fouled(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Matt velvet black over nose, rim and electrodes; a thin veil when light, rubbed off along edges."""
    rub, brown = rng.uniform(0.2, 0.75), rng.uniform(0.0, 0.5)
    big = site.noise(15.0, rng, slope=1.3)
    mid = site.noise(5.0, rng, slope=0.8)
    fine = site.noise(1.6, rng, slope=0.7)
    patch = coverage(0.75 * big + 0.45 * mid, 0.3 + 0.8 * amount, 0.9)
    weight = site.fire * patch * (0.3 + 0.7 * smooth(amount, 0.0, 0.65))
    weight = weight * (1 - (1 - amount) * 0.6 * site.hot) * (1 - rub * (1.1 - amount) * site.edge * smooth(mid, -1.2, 0.8))
    soot = np.array(SOOT) * (1 + brown * np.array([0.35, 0.08, -0.12]))
    clump = smooth(fine + 0.4 * mid, -1.5, 2.2)
    skin.cover(
        weight, varied(soot * (0.55 + 0.95 * clump)[..., None], mid, 0.18), roughness=1.0, metallic=0.0, clearcoat=0.0,
        sheen=0.04 + 0.07 * clump, flatness=0.0, relief=(0.008 + 0.045 * amount) * clump,
    )  # fmt: skip


def additive_stain(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """A thin dry coat, rust to orange or brick, over everything in the chamber."""
    tone = np.array(STAIN_TONES[int(rng.integers(len(STAIN_TONES)))]) * rng.uniform(0.85, 1.15)
    big = site.noise(13.0, rng, slope=1.4)
    fine = site.noise(2.0, rng, slope=0.4)
    side, angle = rng.uniform(0.0, 0.7), rng.uniform(0, 2 * np.pi)
    mid = site.noise(4.5, rng, slope=1.1)
    drift = big + 0.6 * mid + side * site.facing(angle)
    thick = smooth(drift, -1.9, 1.9)
    weight = site.fire * coverage(drift + 0.25 * fine, 0.40 + 0.80 * amount, 1.1) * (0.68 + 0.32 * thick)
    weight = weight * (1 - 0.45 * site.edge * smooth(fine, -0.5, 1.5))
    weight = weight * (0.8 if site.zone in ("rim", "thread") else 1.0) * (1 - 0.35 * site.hot * smooth(mid, 0, 2))
    pale = tone + (np.array([0.52, 0.42, 0.34]) - tone) * 0.25
    skin.cover(
        weight, varied(pale + (tone - pale) * thick[..., None], 0.8 * mid + 0.5 * fine, 0.15, 0.12),
        roughness=1.0, metallic=0.0, sheen=0.05, flatness=0.05,
        relief=0.006 * fine,
    )  # fmt: skip
    skin.cover(0.6 * amount * site.deep * (site.zone == "nose"), tone * 0.4, roughness=1.0)


def loose_powder(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Soft white or yellow powder in drifts, thickest on strap, rim and in corners."""
    tone = np.array([(0.80, 0.79, 0.74), (0.72, 0.60, 0.22), (0.76, 0.70, 0.50), (0.66, 0.50, 0.34)][int(rng.integers(4))])
    big = site.noise(9.0, rng, slope=1.2)
    fine = site.noise(1.6, rng, slope=0.7)
    more = 0.15 * (site.zone in ("strap", "rim")) + 0.25 * site.hollow - 0.25 * site.edge
    weight = site.fire * coverage(big + 0.55 * fine, 0.1 + 0.62 * amount + more, 0.7)
    drift = smooth(fine + 0.5 * big, -1.2, 2.0)
    skin.cover(
        weight, varied(tone, fine + 0.5 * big, 0.07, 0.05), roughness=1.0, metallic=0.0, sheen=0.04, flatness=0.25, clearcoat=0.0,
        relief=(0.012 + 0.08 * amount) * drift * weight,
    )  # fmt: skip


def ash_crust(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Lumpy crust, beige, light brown, grey or white, often on the side that faces the intake valve."""
    first, second = (np.array(ASH_TONES[int(k)]) for k in rng.integers(0, len(ASH_TONES), 2))
    side, angle = rng.choice([0.5, 1.1, 1.7]), rng.uniform(0, 2 * np.pi)
    big = site.noise(10.0, rng, slope=1.3)
    mid = site.noise(3.6, rng, slope=1.0)
    fine = site.noise(1.3, rng, slope=0.5)
    lean = (
        side * site.facing(angle)
        + 0.2 * (site.zone == "strap")
        - 0.5 * (site.zone == "rim")
        - 0.9 * site.deep * (site.zone == "nose")
    )
    weight = site.fire * coverage(0.9 * big + 0.5 * mid + lean, 0.22 + 0.6 * amount, 0.5)
    boulders = spots(site, rng, spacing_mm=2.1, radius_mm=(0.5, 1.5), keep=0.55, ragged=0.3)
    stones = spots(site, rng, spacing_mm=0.9, radius_mm=(0.15, 0.6), keep=0.6, ragged=0.25)
    grit = spots(site, rng, spacing_mm=0.42, radius_mm=(0.06, 0.2), keep=0.6)
    lump = np.clip(0.25 + 0.18 * mid + 0.08 * fine, 0, 1) + 0.42 * boulders.dome + 0.24 * stones.dome + 0.10 * grit.dome
    thin = {"nose": 0.12, "rim": 0.35, "thread": 0.45, "bore": 0.35}.get(site.zone, 0.30)
    mix = smooth(mid + 0.4 * fine, -0.8, 0.8)[..., None]
    tone = varied(first * mix + second * (1 - mix), fine + 0.6 * mid, 0.14)
    tone = tone * (0.62 + 0.5 * np.clip(lump, 0, 1))[..., None]
    skin.cover(
        weight,
        tone,
        roughness=0.97,
        metallic=0.0,
        clearcoat=0.0,
        flatness=0.15,
        relief=amount * 0.62 * weight * np.maximum(lump - thin, 0.02),
    )


def coolant_crust(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """White, greenish or orange crystals like sugar, with tide rings and washed streaks between."""
    tone = np.array(CRUST_TONES[int(rng.integers(len(CRUST_TONES)))])
    angle = rng.uniform(0, 2 * np.pi)
    big = site.noise(8.0, rng, slope=1.3)
    fine = site.noise(1.6, rng, slope=0.6)
    lean = 0.8 * site.facing(angle) + 0.3 * site.hollow
    field = big + 0.35 * fine + lean
    weight = site.fire * coverage(field, 0.15 + 0.6 * amount, 0.45)
    washed = site.fire * smooth(site.noise(7.0, rng, stretch=5.0), 0.4, 1.4) * (1 - weight)
    if site.zone == "nose":
        skin.cover(0.6 * washed, (0.80, 0.79, 0.76), roughness=0.6)
    crystal = spots(site, rng, spacing_mm=0.36, radius_mm=(0.10, 0.34), keep=0.95)
    edge = np.exp(-(((weight - 0.35) / 0.18) ** 2)) * (weight > 0.02)
    white = np.array([0.82, 0.82, 0.79])
    mix = smooth(big + 0.5 * fine, -1.0, 1.0)[..., None]
    sugar = varied(tone * mix + white * (1 - mix), fine, 0.08) * (0.70 + 0.35 * crystal.dome)[..., None]
    relief = amount * weight * (0.03 + 0.22 * crystal.dome + 0.03 * fine)
    skin.cover(weight, sugar, roughness=0.55, metallic=0.0, clearcoat=0.25 * crystal.dome, flatness=0.35, relief=relief)
    skin.film(0.6 * edge, (0.62, 0.42, 0.24))


def lead_fouled(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Grey to yellow-tan crust with hard glassy beads."""
    crust = np.array([(0.24, 0.22, 0.19), (0.36, 0.30, 0.19), (0.16, 0.15, 0.14)][int(rng.integers(3))])
    glass = np.array([(0.46, 0.37, 0.13), (0.34, 0.33, 0.30), (0.42, 0.31, 0.16)][int(rng.integers(3))])
    big = site.noise(11.0, rng, slope=1.3)
    fine = site.noise(1.8, rng, slope=0.6)
    weight = site.fire * coverage(big + 0.4 * fine - 0.3 * site.edge, 0.25 + 0.65 * amount, 0.7)
    skin.cover(
        0.92 * weight,
        varied(crust, big + 0.6 * fine, 0.16, 0.06),
        roughness=0.75,
        metallic=0.0,
        flatness=0.1,
        relief=0.03 * amount * smooth(fine, -1, 2),
    )
    beads = spots(site, rng, spacing_mm=0.62, radius_mm=(0.10, 0.36), keep=0.25 + 0.6 * amount)
    bead = beads.mask * weight * (site.fire > 0.5)
    skin.cover(
        bead,
        varied(glass, beads.tone, 0.25),
        roughness=0.12,
        metallic=0.0,
        clearcoat=1.0,
        flatness=0.3,
        relief=0.8 * beads.height,
    )


def splash_fouled(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Dark blobs thrown on a hot, otherwise clean nose."""
    blobs = spots(site, rng, spacing_mm=1.15, radius_mm=(0.12, 0.62), keep=0.12 + 0.5 * amount, ragged=0.22)
    drops = spots(site, rng, spacing_mm=0.6, radius_mm=(0.04, 0.14), keep=0.10 + 0.3 * amount)
    for found, share in ((blobs, 0.20), (drops, 0.3)):
        weight = found.mask * site.fire
        skin.cover(
            0.94 * weight,
            varied((0.030, 0.024, 0.019), found.tone, 0.35),
            roughness=0.55,
            metallic=0.0,
            flatness=0.0,
            relief=share * found.height,
        )


def speckled(skin: Skin, site: Site, colour: Array, keep: float, rng: np.random.Generator) -> None:
    """Scatter fine specks of one colour, 0.05-0.2 mm across."""
    found = spots(site, rng, spacing_mm=0.5, radius_mm=(0.035, 0.11), keep=keep)
    skin.cover(found.mask * site.fire, varied(colour, found.tone, 0.3), roughness=0.7, metallic=0.0, relief=0.4 * found.height)
