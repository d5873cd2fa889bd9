"""Readings away from the firing end: insulator stains and tracks, oil and water in the well, gas past seat or crimp."""

from __future__ import annotations

import numpy as np

from sample_images.render.noise import fractal, smooth
from sample_images.render.plug.piece import Site
from sample_images.render.plug.skin import Array, Skin, coverage, varied
from sample_images.render.plug.spots import spots


def above_crimp_mm(site: Site) -> Array:
    """Return the distance of each point above the crimp, towards the terminal, mm."""
    return float(site.points[..., 2].max()) - 1.6 - site.z


def corona_stain(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """An even yellow-brown ring on the insulator just above the crimp."""
    width, tone = rng.uniform(2.0, 5.0), np.array([0.44, 0.27, 0.10]) * rng.uniform(0.7, 1.3)
    if site.zone != "upper":
        return
    mid = site.noise(9.0, rng, slope=1.4)
    up = above_crimp_mm(site) + 0.12 * mid
    ring = smooth(up, width, 0.25 * width) * (0.85 + 0.05 * mid)
    lip = np.exp(-(((up - 0.8 * width) / (0.18 * width)) ** 2))
    skin.film(ring * (0.5 + 0.5 * amount), tone ** (0.6 + 0.5 * ring[..., None]), roughness=0.45)
    skin.film(0.6 * amount * lip, (0.50, 0.36, 0.20), roughness=0.5)


def gas_past_insulator(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Uneven brown and black tongues rising from the crimp."""
    count, angles = int(rng.integers(2, 6)), rng.uniform(0, 2 * np.pi, 6)
    lengths, widths = rng.uniform(3, 14, 6) * (0.4 + 0.6 * amount), rng.uniform(0.15, 0.55, 6)
    if site.zone not in ("upper", "crimp"):
        return
    noise = site.noise(8.0, rng, slope=1.2)
    theta = np.arctan2(site.points[..., 1], site.points[..., 0])
    up = above_crimp_mm(site) if site.zone == "upper" else np.zeros_like(theta)
    weight = np.zeros_like(theta)
    for k in range(count):
        off = np.abs((theta - angles[k] + np.pi) % (2 * np.pi) - np.pi)
        tongue = smooth(off + 0.10 * noise, widths[k], 0.3 * widths[k]) * smooth(up + 0.8 * noise, lengths[k], 0.2 * lengths[k])
        weight = np.maximum(weight, tongue)
    tone = varied((0.05, 0.032, 0.02), noise, 0.35, 0.2)
    skin.cover(weight * (0.5 + 0.45 * amount), tone, roughness=0.7, clearcoat=0.1, metallic=0.0)


def flashover_track(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Thin black lines etched along the insulator from terminal to shell."""
    count, angles = 1 + int(amount * 2.4), site.spec.strap.angle + np.pi * (np.arange(4) + 0.5) + rng.normal(0, 0.4, 4)
    if site.zone != "upper":
        return
    theta = np.arctan2(site.points[..., 1], site.points[..., 0])
    along = site.points * np.array([0.0, 0.0, 1.0])
    line = np.zeros_like(theta)
    for k in range(count):
        sway = 0.16 * fractal(along, 30.0, rng, slope=1.6) + 0.05 * fractal(along, 6.0, rng, slope=0.8)
        off = np.abs((theta - angles[k] - sway + np.pi) % (2 * np.pi) - np.pi) * site.radius
        line = np.maximum(line, smooth(off, 0.30, 0.10))
    skin.film(0.5 * smooth(np.minimum(off, 9.0), 1.1, 0.1), (0.62, 0.52, 0.40))
    skin.cover(0.95 * line, (0.025, 0.022, 0.02), roughness=0.8, clearcoat=0.0, relief=-0.03)


def body_cracked(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """A crack in the upper insulator at the hex, running up at a slant."""
    beside = site.spec.strap.angle + 0.5 * np.pi * rng.choice([-1, 1])
    start, slant, length = beside + rng.normal(0, 0.4), rng.uniform(0.4, 1.0) * rng.choice([-1, 1]), 4 + 12 * amount
    if site.zone != "upper":
        return
    theta = np.arctan2(site.points[..., 1], site.points[..., 0])
    up = above_crimp_mm(site)
    sway = 0.10 * fractal(site.points * np.array([0.0, 0.0, 1.0]), 8.0, rng, slope=0.9)
    off = np.abs((theta - start - slant * up / 8 - sway + np.pi) % (2 * np.pi) - np.pi) * site.radius
    line = smooth(off, 0.22, 0.06) * smooth(up, length, length - 1.5)
    skin.cover(0.9 * line, (0.10, 0.085, 0.07), roughness=0.9, clearcoat=0.0, relief=-0.05)
    skin.film(0.4 * smooth(off, 0.9, 0.1) * smooth(up, length, length - 1.5), (0.70, 0.62, 0.50))


def gas_past_seat(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Soot on seat, gasket and threads in streaks where gas blew past."""
    angle, spread = rng.uniform(0, 2 * np.pi), rng.uniform(0.2, 1.2)
    if site.zone not in ("seat", "thread", "hex"):
        return
    noise = site.noise(9.0, rng, slope=1.2, stretch=2.9)
    lean = spread * site.facing(angle) - 1.4 * (site.zone == "hex")
    weight = coverage(noise + lean + 0.5 * site.hollow, 0.2 + 0.65 * amount, 0.6)
    skin.cover(0.93 * weight, varied((0.022, 0.020, 0.018), noise, 0.2), roughness=0.95, metallic=0.0, clearcoat=0.0, sheen=0.04)


def oil_in_well(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Oil on hex, crimp and ribs: a brown wet film with runs."""
    if site.zone not in ("hex", "crimp", "upper", "seat", "terminal"):
        return
    big = site.noise(22.0, rng, slope=1.4)
    runs = site.noise(9.0, rng, slope=1.2, stretch=5.0)
    weight = coverage(big + 0.5 * runs + 0.8 * site.hollow, 0.25 + 0.6 * amount, 0.6)
    skin.film(weight, (0.40, 0.23, 0.09), roughness=0.10, clearcoat=1.0, relief=0.02 + 0.10 * smooth(runs, 0.2, 1.4))
    dirt = weight * smooth(runs + 1.2 * site.hollow, 0.3, 1.6)
    skin.cover(0.8 * dirt, (0.030, 0.020, 0.012), roughness=0.14, metallic=0.0, clearcoat=1.0)


def water_in_well(skin: Skin, site: Site, amount: float, rng: np.random.Generator) -> None:
    """Rust on shell and hex, a ring of chalk on the insulator."""
    level = rng.uniform(1.0, 4.0)
    mid = site.noise(7.0, rng, slope=1.0)
    fine = site.noise(1.8, rng, slope=0.5)
    if site.zone in ("hex", "crimp", "seat", "terminal"):
        rust = coverage(mid + 0.5 * fine + 0.5 * site.hollow, 0.2 + 0.65 * amount, 0.6)
        tone = varied((0.24, 0.085, 0.030), mid + fine, 0.28, 0.2)
        skin.cover(0.95 * rust, tone, roughness=1.0, metallic=0.0, relief=0.05 * amount * smooth(fine, -1, 2))
        pits = spots(site, rng, spacing_mm=1.2, radius_mm=(0.1, 0.4), keep=0.4 * amount, reach_mm=(-45.0, 0.0))
        skin.cover(0.8 * pits.mask * rust, (0.09, 0.04, 0.02), roughness=1.0, metallic=0.0)
    elif site.zone == "upper":
        up = above_crimp_mm(site)
        chalk = np.exp(-(((up - level - 0.25 * mid) / 0.7) ** 2)) * smooth(fine + mid, -1.5, 0.5)
        skin.cover(0.75 * chalk * amount, (0.74, 0.72, 0.66), roughness=1.0, clearcoat=0.0, relief=0.03)
        skin.film(0.5 * smooth(up + 0.5 * mid, 2.5, 0.2) * amount, (0.62, 0.36, 0.17))
