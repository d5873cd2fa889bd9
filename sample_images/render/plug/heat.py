"""What heat leaves behind: white noses, blisters, burnt electrodes, specks of carbon and metal."""

from __future__ import annotations

import numpy as np

from sample_images.render.noise import smooth
from sample_images.render.plug.bare import temper
from sample_images.render.plug.piece import Site
from sample_images.render.plug.skin import Skin, varied
from sample_images.render.plug.spots import spots


def lean_white(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Very clean and white, edges sharp, electrodes pale; no blisters, no specks."""
    big = site.noise(14.0, rng, slope=1.6)
    white = np.array([0.88, 0.87, 0.845]) * rng.uniform(0.95, 1.0)
    if site.zone == "nose":
        clean = amount * (1 - 0.45 * smooth(site.depth + 0.5 * big, 4.0, 9.0))
        skin.cover(0.97 * clean, varied(white, big, 0.012), roughness=0.6, flatness=0.5)
    elif site.zone in ("centre", "strap"):
        skin.cover(0.55 * amount * site.hot, varied((0.40, 0.38, 0.35), big, 0.08), roughness=0.55, metallic=0.75)
    elif site.zone in ("rim", "bore"):
        skin.cover(0.35 * amount, varied((0.26, 0.24, 0.22), big, 0.1), roughness=0.7, metallic=0.5)


def overheated(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Dead chalky white with blisters and black or grey-brown specks; electrodes blued and burnt."""
    big = site.noise(12.0, rng, slope=1.5)
    mid = site.noise(3.5, rng, slope=0.9)
    chalk = np.array([0.84, 0.83, 0.81]) * rng.uniform(0.92, 1.0)
    speck_keep, glassy = rng.uniform(0.15, 0.55), rng.uniform(0.0, 0.8)
    blisters = spots(site, rng, spacing_mm=0.9, radius_mm=(0.08, 0.30), keep=0.3 + 0.6 * amount, ragged=0.15)
    specks = spots(site, rng, spacing_mm=0.5, radius_mm=(0.04, 0.14), keep=speck_keep * (0.4 + amount), ragged=0.2)
    if site.zone == "nose":
        hot = 1 - 0.6 * smooth(site.depth + 0.5 * big, 3.5, 8.0)
        skin.cover(
            smooth(amount, 0, 0.6) * hot,
            varied(chalk, big + 0.5 * mid, 0.025),
            roughness=1.0,
            flatness=0.25,
            relief=0.012 * amount * mid,
        )
        raised = blisters.mask * hot * smooth(amount, 0.15, 0.7)
        skin.cover(
            raised,
            varied((0.72, 0.69, 0.63), blisters.tone, 0.10),
            roughness=0.75 - 0.5 * glassy,
            clearcoat=glassy,
            relief=0.42 * blisters.height,
        )
        skin.cover(
            0.92 * specks.mask * amount**0.5,
            varied((0.055, 0.045, 0.037), specks.tone, 0.45),
            roughness=0.8,
            flatness=0.0,
            relief=0.3 * specks.height,
        )
    elif site.zone in ("centre", "strap", "rim"):
        heat = np.clip(0.15 + 0.85 * amount * (0.35 + 0.75 * site.hot) + 0.10 * big, 0, 1)
        share = 0.85 if site.zone != "rim" else 0.25
        skin.cover(
            share * smooth(amount, 0, 0.5),
            varied(temper(heat), mid, 0.15),
            roughness=0.45 + 0.25 * heat,
            metallic=0.85,
            relief=0.02 * amount * site.hot * mid,
        )
        scale = smooth(mid + 0.5 * big, 0.5, 1.5) * amount * site.hot
        skin.cover(0.7 * scale, (0.13, 0.12, 0.115), roughness=0.85, metallic=0.2, relief=0.03)


def peppered(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Fine dark and bright specks that knock throws on the nose."""
    dark = spots(site, rng, spacing_mm=0.42, radius_mm=(0.04, 0.16), keep=0.12 + 0.45 * amount)
    bright = spots(site, rng, spacing_mm=0.55, radius_mm=(0.04, 0.13), keep=0.06 + 0.3 * amount)
    if site.zone in ("nose", "strap", "centre"):
        skin.cover(
            0.9 * dark.mask * site.fire,
            varied((0.045, 0.042, 0.04), dark.tone, 0.4),
            roughness=0.7,
            metallic=0.0,
            flatness=0.0,
            relief=0.4 * dark.height,
        )
        skin.cover(
            bright.mask * site.fire, (0.78, 0.78, 0.77), roughness=0.25, metallic=1.0, flatness=0.0, relief=0.5 * bright.height
        )


def metal_specks(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Splatter of melted metal in the skin; the larger balls are pieces of their own."""
    smear = spots(site, rng, spacing_mm=0.6, radius_mm=(0.06, 0.28), keep=0.10 + 0.5 * amount, ragged=0.25)
    if site.zone in ("nose", "strap", "centre", "rim"):
        grey = varied((0.58, 0.58, 0.58), smear.tone, 0.2)
        skin.cover(
            smear.mask * site.fire, grey, roughness=0.32, metallic=1.0, clearcoat=0.0, flatness=0.0, relief=0.35 * smear.height
        )
