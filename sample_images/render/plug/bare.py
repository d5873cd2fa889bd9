"""Bare stuffs and what ordinary use does to them. Colours are linear reflectances, our estimate by eye."""

from __future__ import annotations

import numpy as np

from sample_images.render.noise import smooth
from sample_images.render.plug.piece import Site
from sample_images.render.plug.shape import Odd
from sample_images.render.plug.skin import Array, Skin, coverage, varied

METAL_ZONES = ("rim", "bore", "thread", "seat", "hex", "crimp", "terminal")

TEMPER = np.array(
    [
        (0.50, 0.47, 0.42),
        (0.44, 0.35, 0.21),
        (0.30, 0.21, 0.17),
        (0.19, 0.16, 0.23),
        (0.15, 0.18, 0.27),
        (0.20, 0.22, 0.24),
        (0.11, 0.105, 0.10),
    ]
)
"""Oxide colours of steel and nickel, cool to burnt: bare, straw, brown, purple, blue, pale blue, scale."""


def temper(heat: Array) -> Array:
    """Return the oxide colour (..., 3) for heat 0-1."""
    place = np.clip(heat, 0, 1) * (len(TEMPER) - 1)
    low = np.minimum(place.astype(int), len(TEMPER) - 2)
    part = (place - low)[..., None]
    return TEMPER[low] * (1 - part) + TEMPER[low + 1] * part


def bare(site: Site, rng: np.random.Generator) -> Skin:
    """Return the piece as it left the factory, with the grain of its making."""
    shape = site.z.shape
    fine = site.noise(4.0, rng, slope=0.6)
    plating = [(0.52, 0.49, 0.45), (0.58, 0.57, 0.55), (0.44, 0.42, 0.38)][int(rng.integers(3))]
    matt = float(rng.uniform(0.24, 0.42))
    stuff = site.piece.stuff
    if stuff == "ceramic":
        skin = Skin.bare(shape, (0.83, 0.815, 0.78), roughness=0.5, flatness=0.55)
        skin.height = 0.003 * fine
    elif stuff == "glazed":
        skin = Skin.bare(shape, (0.84, 0.83, 0.80), roughness=0.35, clearcoat=1.0, flatness=0.35)
    elif stuff in ("nickel", "precious"):
        colour = (0.57, 0.54, 0.49) if stuff == "nickel" else (0.60, 0.58, 0.55)
        skin = Skin.bare(shape, colour, roughness=0.34, metallic=1.0)
        skin.height = 0.003 * fine
    elif stuff == "bright":
        skin = Skin.bare(shape, (0.80, 0.80, 0.79), roughness=0.22, metallic=1.0)
    elif stuff == "deposit":
        skin = Skin.bare(shape, (0.05, 0.045, 0.04), roughness=0.8)
    else:
        skin = Skin.bare(shape, plating, roughness=matt, metallic=1.0)
    skin.colour = varied(skin.colour, fine, 0.03)
    skin.roughness = np.clip(skin.roughness + 0.03 * fine, 0.05, 1)
    return skin


def used(skin: Skin, site: Site, rng: np.random.Generator) -> None:
    """Lay on what every used plug shows: oxide on electrodes and rim, grime in the roots, a stain deep on the nose."""
    age = 0.45 + 0.55 * site.spec.wear
    big = site.noise(18.0, rng, slope=1.4)
    mid = site.noise(5.0, rng, slope=0.9)
    stain = rng.uniform(0.5, 1.2) * np.array([0.30, 0.21, 0.13])
    grime = rng.uniform(0.6, 1.6) * np.array([0.035, 0.028, 0.022])
    rusty = float(rng.random() < 0.15) * rng.uniform(0.15, 0.55)
    rim_dark = rng.uniform(0.35, 1.0)
    veil, hue = rng.uniform(0.25, 1.0), rng.uniform(0.0, 1.0)
    if site.zone == "nose":
        film = np.array([0.42, 0.30, 0.19]) * hue + np.array([0.40, 0.37, 0.33]) * (1 - hue)
        skin.cover(veil * age * (0.75 + 0.15 * big + 0.08 * mid), varied(film, mid, 0.1, 0.05), roughness=0.75, flatness=0.25)
        ring = smooth(site.deep + 0.12 * big, 0.25, 0.95)
        skin.cover(age * 0.8 * ring, varied(stain, mid, 0.15), roughness=0.7, flatness=0.2)
    elif site.zone in ("centre", "strap"):
        _oxidised(skin, site, age, big, mid)
    elif site.zone in ("rim", "bore"):
        hue = 0.45 * temper(0.3 + 0.6 * rim_dark + 0.1 * big) + 0.55 * np.array([0.20, 0.18, 0.16])
        skin.cover(0.55 + 0.4 * rim_dark * age, varied(hue * 0.6, mid + 0.5 * big, 0.2), roughness=0.55, metallic=0.75)
        soot = coverage(0.6 * mid + 0.8 * big - 0.6 * site.edge, rim_dark * (0.35 + 0.6 * age), 1.4)
        skin.cover(0.85 * soot, varied((0.030, 0.026, 0.023), mid, 0.2), roughness=0.85, metallic=0.0, sheen=0.04)
    elif site.zone in METAL_ZONES:
        _grimy(skin, site, age, grime, big, mid)
        _rusty(skin, site, rusty, mid, rng)
    elif site.zone == "upper":
        dust = coverage(mid + 0.5 * big + 1.2 * site.hollow, 0.25 * age)
        skin.cover(0.25 * dust, (0.30, 0.25, 0.20), roughness=0.6, clearcoat=0.5)


def _oxidised(skin: Skin, site: Site, age: float, big: Array, mid: Array) -> None:
    weight = age * (0.75 + 0.15 * mid) * (1 - 0.55 * site.edge)
    if site.piece.stuff == "precious":
        weight = 0.4 * weight
    brown = np.array([0.125, 0.105, 0.088])
    skin.cover(weight, varied(brown, 0.7 * big + 0.6 * mid, 0.25, 0.1), roughness=0.62, metallic=0.5, relief=0.004 * mid)
    blued = 0.8 * (site.spec.seed % 2) * age * smooth(site.hot + 0.15 * big, 0.25, 0.9) * (site.piece.stuff == "nickel")
    skin.cover(0.55 * blued, varied(temper(0.25 + 0.5 * site.hot + 0.1 * big), mid, 0.1), roughness=0.45, metallic=0.8)
    spark = site.hot * smooth(site.edge + 0.3 * mid, 0.1, 0.8)
    skin.cover(0.35 * spark, (0.36, 0.34, 0.31), roughness=0.5, metallic=0.8)


def _grimy(skin: Skin, site: Site, age: float, grime: Array, big: Array, mid: Array) -> None:
    dull = coverage(big + 0.4 * mid, 0.55 * age)
    skin.cover(0.6 * dull, varied((0.24, 0.215, 0.185), mid, 0.16), roughness=0.5, metallic=0.8)
    roots = np.clip(site.hollow * (0.9 + 0.35 * mid) + 0.25 * smooth(mid + 0.6 * big, 0.2, 1.6), 0, 1)
    skin.cover(roots * (0.55 + 0.45 * age), varied(grime, mid, 0.3), roughness=0.85, metallic=0.1)
    if site.zone == "thread":
        _caked(skin, site, age, grime, big, mid)


def _caked(skin: Skin, site: Site, age: float, grime: Array, big: Array, mid: Array) -> None:
    """Dull the thread's flanks, burn its first turns, cake its roots and leave its crests rubbed bright."""
    size = site.spec.size
    high = np.clip((site.radius - 0.5 * size.minor_mm) / (0.5 * (size.major_mm - size.minor_mm)), 0, 1)
    front = smooth(site.z + 1.2 * big, -9.0, 0.0)
    skin.cover(
        0.35 + 0.35 * age + 0.1 * mid, varied((0.20, 0.175, 0.15), mid + 0.5 * big, 0.22, 0.1), roughness=0.55, metallic=0.75
    )
    skin.cover(
        front * age * (0.75 + 0.2 * big) * (1 - 0.5 * site.edge), varied(grime * 1.6, mid, 0.3), roughness=0.8, metallic=0.2
    )
    filled = 0.28 + 0.22 * age + 0.10 * big + 0.07 * mid
    caked = smooth(high, filled + 0.16, filled - 0.10)
    skin.cover(caked * (0.75 + 0.25 * age), varied(grime * 0.8, mid, 0.35, 0.1), roughness=0.95, metallic=0.0)
    rubbed = smooth(high, 0.80, 0.97) * np.clip(0.75 + 0.25 * mid - 0.6 * front, 0, 1)
    skin.cover(rubbed, varied((0.55, 0.53, 0.50), mid, 0.1), roughness=0.3, metallic=1.0)


def _rusty(skin: Skin, site: Site, share: float, mid: Array, rng: np.random.Generator) -> None:
    fine = site.noise(2.5, rng, slope=0.8)
    rust = coverage(0.8 * mid + 0.5 * fine + 0.4 * site.hollow, 0.6 * share, 0.4) * (share > 0)
    skin.cover(0.75 * rust, varied((0.115, 0.045, 0.020), fine + 0.5 * mid, 0.3), roughness=0.95, metallic=0.0)


def odd_base(skin: Skin, site: Site, odd: Odd) -> None:
    """Replace the bare colour of ceramic, electrodes or shell by the odd ones, where there are any."""
    if not odd.base:
        return
    which = 0 if site.zone in ("nose", "upper") else (1 if site.zone in ("centre", "strap") else 2)
    skin.cover(np.full(site.z.shape, 0.9), odd.base[which])


def odd_coat(skin: Skin, site: Site, odd: Odd, rng: np.random.Generator) -> None:
    """Lay one strange coat over the firing end."""
    if odd.coat_share <= 0:
        return
    noise = site.noise(rng.uniform(5, 25), rng, slope=rng.uniform(0.8, 1.8))
    weight = site.fire * coverage(noise, odd.coat_share * 0.95)
    colour = varied(odd.coat, noise, rng.uniform(0, 0.3))
    skin.cover(weight, colour, roughness=odd.coat_roughness, metallic=0.0, clearcoat=odd.coat_gloss, flatness=0.0)
