"""Shapes of the firing end: nose, centre electrode, straps, rim and bore, before wear, damage and deposits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sample_images.render.noise import fractal, smooth, vector
from sample_images.render.plug.piece import Piece
from sample_images.render.plug.shape import PlugSpec
from sample_images.render.surfaces import Grid, capped, filled, revolve, rounded, sweep

Array = NDArray[np.float64]

NOSE_STEP_MM, CRACKED_STEP_MM = 0.07, 0.032
METAL_STEP_MM = 0.1
SHELL_STEP_MM = 0.11
FOOT_MM = 0.7
"""How deep the strap's foot is sunk in the rim, hidden by the weld."""


def tip_height_mm(spec: PlugSpec) -> float:
    """Return the height of the centre electrode's tip above the shell's end face."""
    return spec.nose.protrusion_mm + spec.centre.stand_out_mm


def firing_end(spec: PlugSpec, detail: float) -> list[Piece]:
    """Return nose, centre, rim, bore and straps."""
    rng = np.random.default_rng([spec.seed, 1])
    cracked = "nose_cracked" in spec.readings
    pieces = [
        Piece("nose", "nose", "ceramic", nose_grid(spec, (CRACKED_STEP_MM if cracked else NOSE_STEP_MM) / detail)),
        Piece("centre", "centre", "nickel", centre_grid(spec, METAL_STEP_MM / detail, rng)),
        *shell_pieces(spec, SHELL_STEP_MM / detail, rng),
    ]
    if spec.centre.kind == "fine_wire":
        pieces.append(Piece("centre", "centre", "precious", wire_grid(spec, METAL_STEP_MM / detail)))
    return pieces + strap_pieces(spec, METAL_STEP_MM / detail, rng)


def nose_grid(spec: PlugSpec, step_mm: float) -> Grid:
    """Return the ceramic nose, from the hole of the centre electrode over the tip down to the bottom of the bore."""
    nose, bore = spec.nose, spec.bore_radius_mm
    top, hole = nose.protrusion_mm, _core_radius(spec)
    lip = min(nose.edge_radius_mm, 0.45 * (nose.tip_radius_mm - hole))
    rim = rounded(
        [(hole, top - 0.8), (hole, top), (nose.tip_radius_mm, top), (nose.tip_radius_mm, top - 2.5 * lip)], lip, steps=6
    )
    rim = rim[rim[:, 1] > top - 2.2 * lip - 1e-9] if nose.style != "barrel" else rim
    start = rim[-1, 1]
    z = np.linspace(start - 0.05, top - nose.depth_mm, 60)
    r = np.minimum(rim[-1, 0] + _flare(spec, start - z), bore - 0.12)
    bottom = [(bore + 0.4, z[-1] - 0.8)]
    profile = np.concatenate([[(hole, top - 0.8)], rim, np.stack([r, z], -1), bottom])
    fine = filled(profile, step_mm)
    depth = top - fine[:, 1]
    keep = np.ones(len(fine), bool)
    keep[1:-1] = (depth[1:-1] < 4.0) | (np.arange(1, len(fine) - 1) % 2 == 0)
    return revolve(fine[keep], _columns(nose.tip_radius_mm * 1.1, step_mm))


def centre_grid(spec: PlugSpec, step_mm: float, rng: np.random.Generator) -> Grid:
    """Return the nickel centre, or the nickel base that carries a fine wire."""
    top, radius = spec.nose.protrusion_mm, _core_radius(spec)
    tip = tip_height_mm(spec)
    if spec.centre.kind == "fine_wire":
        wire = spec.centre.diameter_mm / 2
        shoulder = min(top + 0.35 * spec.centre.stand_out_mm, tip - 0.25)
        low = max(top - 0.1, shoulder - (radius - wire))
        corners = [(wire * 0.5, shoulder + 0.02), (wire + 0.03, shoulder), (radius, low), (radius, top - 1.5)]
        return revolve(filled(rounded(corners, 0.12), step_mm), _columns(radius, step_mm))
    edge = spec.centre.edge_radius_mm + 0.22 * spec.wear
    dome = {"flat": 0.015, "domed": 0.16, "pointed": 0.3, "grooved": 0.02}[spec.centre.style] * radius
    corners = [(0.0, tip + 1e-4), (radius * 0.5, tip - 0.25 * dome), (radius, tip - dome), (radius, top - 1.5)]
    if spec.centre.style == "grooved":
        groove = radius * 0.22
        corners[:1] = [(0.0, tip - 1.6 * groove), (groove, tip - 0.01)]
    if spec.centre.style == "pointed":
        corners[2] = (radius * 0.8, tip - dome)
    line = filled(rounded(corners, min(edge, 0.45 * radius), steps=6), step_mm)
    grid = revolve(line, _columns(radius, step_mm))
    return grid.moved(vector(grid.points, 9.0, rng, slope=1.8) * 0.008)


def wire_grid(spec: PlugSpec, step_mm: float) -> Grid:
    """Return the fine wire of a precious-metal centre."""
    radius, tip = spec.centre.diameter_mm / 2, tip_height_mm(spec)
    bottom = min(spec.nose.protrusion_mm + 0.35 * spec.centre.stand_out_mm, tip - 0.25) - 0.2
    edge = min(spec.centre.edge_radius_mm * 0.4 + 0.5 * radius * spec.wear, 0.45 * radius)
    line = rounded([(0.0, tip + 1e-4), (radius, tip), (radius, bottom)], edge, steps=5)
    return revolve(filled(line, min(step_mm, radius / 3)), max(20, _columns(radius, step_mm)))


def shell_pieces(spec: PlugSpec, step_mm: float, rng: np.random.Generator) -> list[Piece]:
    """Return the shell's end face with its chamfers, and the bore down to the nose's seat."""
    bore, outer, chamfer = spec.bore_radius_mm, spec.rim_outer_mm, spec.body.chamfer_mm
    bottom = spec.nose.protrusion_mm - spec.nose.depth_mm - 0.9
    inner = 0.6 * chamfer
    face = rounded(
        [
            (bore, -2.5 * inner),
            (bore, -inner),
            (bore + inner, 0),
            (outer - chamfer, 0),
            (outer, -chamfer),
            (outer, -chamfer - 0.3),
        ],
        0.12,
    )
    ring = revolve(filled(face, step_mm), _columns(outer, step_mm))
    wobble = fractal(ring.points, 14.0, rng, slope=1.6) * 0.012
    ring = ring.moved(wobble[..., None] * np.array([0.0, 0.0, 1.0]))
    wall = revolve(filled(np.array([(bore + 0.05, bottom), (bore, -2.2 * inner)]), 2.5 * step_mm), _columns(outer, 1.5 * step_mm))
    wall = Grid(wall.points)
    return [Piece("rim", "rim", "steel", ring), Piece("bore", "rim", "steel", wall)]


def strap_pieces(spec: PlugSpec, step_mm: float, rng: np.random.Generator) -> list[Piece]:
    """Return the ground straps, each turned to its place; none for a surface gap."""
    if spec.strap.kind == "surface":
        return []
    pieces = []
    for k in range(spec.strap.count):
        grid = _strap_grid(spec, step_mm)
        grid = grid.moved(vector(grid.points, 16.0, rng, slope=1.7) * 0.02 * smooth(grid.points[..., 2], 0.2, 1.5)[..., None])
        angle = spec.strap.angle + 2 * np.pi * k / spec.strap.count
        pieces.append(Piece("strap", "strap", "nickel", grid.turned(angle), loose=True))
    if spec.strap.pad and spec.strap.kind == "j":
        pieces.append(Piece("strap", "strap", "precious", _pad_grid(spec, step_mm), loose=True))
    return pieces


def pad_height_mm(spec: PlugSpec) -> float:
    """Return how far a precious pad stands out of the strap."""
    return 0.25 if spec.strap.pad and spec.strap.kind == "j" else 0.0


def _strap_grid(spec: PlugSpec, step_mm: float) -> Grid:
    strap, path = spec.strap, _strap_path(spec, step_mm)
    left = np.r_[np.cumsum(np.hypot(*np.diff(path, axis=0).T)[::-1])[::-1], 0.0]
    run = 1 - left / left[0]
    edge = 0.18 * strap.thickness_mm
    narrow = edge - np.sqrt(np.maximum(edge**2 - np.maximum(edge - left, 0) ** 2, 0))
    weld = np.exp(-((path[:, 1] / 0.22) ** 2)) * (run < 0.4)
    width = strap.width_mm * _width_share(spec, run) * (1 + 0.12 * weld) - 2 * narrow
    thick = (
        strap.thickness_mm * (1 + 0.16 * weld) * (1 - (0.45 * smooth(run, 0.6, 1.0) if strap.style == "wedge" else 0))
        - 2 * narrow
    )
    grid = capped(
        sweep(path, width, thick, columns=max(28, int(2 * (strap.width_mm + strap.thickness_mm) / step_mm)), corner=0.4)
    )
    if strap.style == "forked":
        middle = np.exp(-((grid.points[..., 1] / (0.16 * strap.width_mm)) ** 2)) * smooth(grid.points[..., 0], 1.2, 0.2)
        grid = grid.moved(middle[..., None] * np.array([0.0, 0.0, 0.35]) * spec.strap.thickness_mm)
    return grid


def _strap_path(spec: PlugSpec, step_mm: float) -> Array:
    strap, tip = spec.strap, tip_height_mm(spec)
    foot = spec.bore_radius_mm + 0.5 * spec.body.rim_width_mm
    radius = spec.centre.diameter_mm / 2
    if strap.kind == "multi":
        height, end = max(tip - 0.25 * strap.thickness_mm, 0.8), radius + spec.gap_mm
    else:
        height = tip + spec.gap_mm + pad_height_mm(spec) + strap.thickness_mm / 2
        end = 0.55 * radius if strap.kind == "short" else -strap.reach_past_mm
    bend = max(min(strap.bend_mm + strap.thickness_mm / 2, height - 0.05, 0.8 * (foot - end)), 0.1)
    a = np.linspace(0, np.pi / 2, 14)[1:]
    arc = np.stack([foot - bend + bend * np.cos(a), height - bend + bend * np.sin(a)], -1)
    corners = np.concatenate([[(foot, -FOOT_MM), (foot, height - bend)], arc, [(end, height)]])
    path = filled(corners, step_mm)
    edge = 0.18 * strap.thickness_mm
    ends = np.array([(end + edge * (1 - np.sin(t)), height) for t in np.linspace(0, np.pi / 2, 5)])
    path = np.concatenate([path[path[:, 0] > end + edge + 1e-6], ends])
    path[:, 1] += strap.slant * np.maximum(foot - path[:, 0], 0) * (strap.kind != "multi")
    return path


def _pad_grid(spec: PlugSpec, step_mm: float) -> Grid:
    radius = max(0.35, spec.centre.diameter_mm * 0.5)
    low = tip_height_mm(spec) + spec.gap_mm
    line = rounded([(radius, low + 0.5), (radius, low), (0.0, low - 1e-4)], 0.06)
    return Grid(revolve(filled(line, min(step_mm, radius / 3)), 28).points)


def _width_share(spec: PlugSpec, run: Array) -> Array:
    share = spec.strap.end_width_share
    if spec.strap.style == "narrowed":
        share *= 0.75
    return 1 - (1 - share) * smooth(run, 0.5, 1.0)


def _core_radius(spec: PlugSpec) -> float:
    """Radius of the hole in the nose: the nickel centre itself, or the base of a fine wire."""
    if spec.centre.kind == "nickel":
        return spec.centre.diameter_mm / 2
    return float(np.clip(spec.centre.diameter_mm, 0.55, spec.nose.tip_radius_mm - 0.5))


def _flare(spec: PlugSpec, depth: Array) -> Array:
    """Return how much the nose's radius grows at `depth` below its lip."""
    nose = spec.nose
    grow = nose.slope * depth
    if nose.style == "bell":
        grow = grow * 0.4 + 0.02 * depth**2
    if nose.style == "straight":
        grow = 0.25 * grow + 2.0 * nose.slope * np.maximum(depth - 0.5 * nose.depth_mm, 0)
    if nose.style == "stepped":
        grow = 0.3 * grow + 0.45 * smooth(depth, 1.0, 1.3) + 0.5 * smooth(depth, 3.2, 3.5)
    if nose.style == "barrel":
        grow = grow + 0.35 * np.sin(np.clip(depth / 4.0, 0, 1) * np.pi)
    return grow + nose.shoulder_mm * smooth(depth, nose.shoulder_at_mm - 0.3, nose.shoulder_at_mm + 0.3)


def _columns(radius_mm: float, step_mm: float) -> int:
    return max(24, int(2 * np.pi * radius_mm / step_mm))
