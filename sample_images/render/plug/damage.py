"""Damage that changes shape: wear, melting, chips, cracks, blows, torn threads; and the things that stick on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sample_images.render.noise import fractal, smooth, vector
from sample_images.render.plug.draws import draws
from sample_images.render.plug.gap import Clearance
from sample_images.render.plug.piece import Piece
from sample_images.render.plug.shape import PlugSpec
from sample_images.render.surfaces import Grid, ball, turn_z

Array = NDArray[np.float64]


def damaged(pieces: list[Piece], spec: PlugSpec) -> list[Piece]:
    """Return the pieces with every damage the readings ask for."""
    for reading, zone, change in (
        ("worn", "strap", _hollowed),
        ("worn", "centre", _rounded_off),
        ("preignition_melt", "centre", _melted_centre),
        ("preignition_melt", "strap", _melted_strap),
        ("detonation_damage", "nose", _chipped),
        ("nose_piece_missing", "nose", _piece_missing),
        ("nose_cracked", "nose", _cracked),
        ("struck", "strap", _bruised),
        ("thread_damaged", "thread", _torn),
    ):
        amount = spec.amount(reading)
        if amount > 0:
            pieces = [change(p, spec, amount, draws(spec, reading)) if p.zone == zone else p for p in pieces]
    return pieces


def attachments(pieces: list[Piece], spec: PlugSpec, facing: Clearance | None) -> list[Piece]:
    """Return what sticks on after the gap is set: the lump that bridges it, balls of metal."""
    out: list[Piece] = []
    if spec.amount("gap_bridged") and facing is not None:
        out.append(_bridge(facing, spec, draws(spec, "gap_bridged")))
    if spec.amount("metal_specks"):
        out += _balls(pieces, spec.amount("metal_specks"), draws(spec, "balls"))
    return out


def _hollowed(piece: Piece, spec: PlugSpec, amount: float, rng: np.random.Generator) -> Piece:
    """Hollow the strap where it faces the centre."""
    if spec.strap.kind == "multi":
        return piece
    p = piece.grid.points
    off = rng.normal(0, 0.25, 2)
    size = spec.centre.diameter_mm / 2 * rng.uniform(0.9, 1.3) + 0.15
    away = ((p[..., 0] - off[0]) ** 2 + (p[..., 1] - off[1]) ** 2) / size**2
    under = smooth(-piece.grid.normals()[..., 2], 0.2, 0.8)
    lift = amount * rng.uniform(0.2, 0.45) * np.exp(-(away**1.5)) * under
    return replace(piece, grid=piece.grid.moved(lift[..., None] * np.array([0.0, 0.0, 1.0])))


def _rounded_off(piece: Piece, spec: PlugSpec, amount: float, rng: np.random.Generator) -> Piece:
    """Wear the centre's tip round and a little to one side, the way sparks do."""
    p = piece.grid.points
    radius = np.hypot(p[..., 0], p[..., 1])
    wide, top = spec.centre.diameter_mm / 2, float(p[..., 2].max())
    share = np.clip(radius / wide, 0, 1.1)
    tilt = 0.5 * rng.uniform(0, 1) * (p[..., 0] * np.cos(a := rng.uniform(0, 2 * np.pi)) + p[..., 1] * np.sin(a)) / wide
    drop = amount * wide * (0.55 * share**2.5 + 0.25 * (1 + tilt) * share)
    near = smooth(p[..., 2], top - 1.1 * wide, top - 0.1 * wide)
    worn = piece.grid.moved((-drop * near)[..., None] * np.array([0.0, 0.0, 1.0]))
    return replace(piece, grid=worn, marks={**piece.marks, "bruise": 0.25 * near * amount})


def _melted_centre(piece: Piece, spec: PlugSpec, amount: float, rng: np.random.Generator) -> Piece:
    """Melt the centre down to a blob."""
    p = piece.grid.points
    base = spec.nose.protrusion_mm
    above = np.maximum(p[..., 2] - base, 0)
    sunk = above * (1 - 0.75 * amount * rng.uniform(0.7, 1.0))
    lump = vector(p, 4.5, rng, slope=1.6, finest_mm=1.0) * (0.28 * amount * smooth(above, 0.0, 0.4))[..., None]
    radius = np.hypot(p[..., 0], p[..., 1])
    dome = (
        -0.5
        * amount
        * (radius / max(float(radius.max()), 0.1)) ** 2
        * smooth(above, 0.05, 0.3)
        * spec.centre.diameter_mm
        / 2
        * 0.5
    )
    moved = p.copy()
    moved[..., 2] = np.where(above > 0, base + sunk + dome * 0.6, p[..., 2])
    melt = smooth(above, 0.0, 0.25)
    return replace(piece, grid=Grid(moved + lump), marks={**piece.marks, "melt": melt})


def _melted_strap(piece: Piece, spec: PlugSpec, amount: float, rng: np.random.Generator) -> Piece:
    """Round, thin and sag the strap's end once the centre has gone."""
    share = smooth(amount, 0.35, 1.0)
    p = piece.grid.points
    towards = smooth(np.hypot(p[..., 0], p[..., 1]), 0.62 * spec.rim_outer_mm, 0.5) * smooth(p[..., 2], 0.5, 1.5)
    middle = p.mean(1, keepdims=True)
    round_off = (middle - p) * (0.35 * share * towards)[..., None]
    lump = vector(p, 5.0, rng, slope=1.6, finest_mm=1.0) * (0.22 * share * towards)[..., None]
    melt = share * towards
    return replace(piece, grid=Grid(p + round_off + lump), marks={**piece.marks, "melt": melt})


def _chipped(piece: Piece, spec: PlugSpec, amount: float, rng: np.random.Generator) -> Piece:
    """Break small bites out of the nose's lip."""
    for _ in range(1 + int(amount * 3.9)):
        size = rng.uniform(0.5, 1.1) * (0.6 + 0.7 * amount)
        piece = _bitten(piece, spec, size, rng.uniform(0.55, 0.9), rng, spread=1.1)
    return piece


def _piece_missing(piece: Piece, spec: PlugSpec, amount: float, rng: np.random.Generator) -> Piece:
    """Break a large shell-shaped piece out of the nose."""
    return _bitten(piece, spec, (0.7 + 0.9 * amount) * spec.nose.tip_radius_mm, rng.uniform(0.72, 0.92), rng, spread=0.4)


def _bitten(piece: Piece, spec: PlugSpec, size_mm: float, deep: float, rng: np.random.Generator, *, spread: float = 0.8) -> Piece:
    """Cut the nose by a ball about a point outside its lip; the cut is rippled like broken ceramic."""
    angle = spec.open_side + rng.normal(0, spread)
    out = turn_z(angle)[:, 0]
    lip = out * spec.nose.tip_radius_mm + np.array([0.0, 0.0, spec.nose.protrusion_mm])
    steep = rng.uniform(0.3, 0.9)
    middle = lip + size_mm * (1.25 - deep) * (out * steep + np.array([0, 0, 1 - steep])) / np.hypot(steep, 1 - steep)
    p = piece.grid.points
    away = p - middle
    distance = np.linalg.norm(away, axis=-1)
    ripple = 0.05 * size_mm * fractal(p, 3.0 * size_mm, rng, slope=1.3) + 0.018 * size_mm * np.sin(
        distance * 9 / size_mm + 2 * fractal(p, 4.0 * size_mm, rng)
    )
    wall = size_mm + ripple
    inside = (distance < wall) & (p[..., 2] > spec.nose.protrusion_mm - spec.nose.depth_mm + 0.5)
    pushed = middle + away / np.maximum(distance, 1e-6)[..., None] * wall[..., None]
    bare = smooth(wall - distance, -0.05, 0.05) * (p[..., 2] > spec.nose.protrusion_mm - spec.nose.depth_mm + 0.5)
    fresh = np.maximum(piece.marks.get("fresh", np.zeros(distance.shape)), bare)
    return replace(piece, grid=Grid(np.where(inside[..., None], pushed, p)), marks={**piece.marks, "fresh": fresh})


def _cracked(piece: Piece, spec: PlugSpec, amount: float, rng: np.random.Generator) -> Piece:
    """Draw a hairline down the nose, with a branch when it is long."""
    p = piece.grid.points
    theta, radius = np.arctan2(p[..., 1], p[..., 0]), np.hypot(p[..., 0], p[..., 1])
    depth = spec.nose.protrusion_mm - p[..., 2]
    side, length, width = rng.choice([-1, 1]), 1.5 + 6.0 * amount, 0.060 + 0.035 * amount
    along = p * np.array([0.0, 0.0, 1.0])
    line, halo = np.zeros(theta.shape), np.zeros(theta.shape)
    for turn, slant, begin in _crack_lines(rng, side, amount):
        sway = 0.10 * fractal(along, 7.0, rng, slope=1.2) + 0.05 * fractal(along, 2.0, rng, slope=0.6) - 0.0
        off = (
            np.abs((theta - spec.open_side - turn - sway - slant * np.maximum(depth - begin, 0) + np.pi) % (2 * np.pi) - np.pi)
            * radius
        )
        reach = smooth(depth, length, length - 0.8) * smooth(depth, begin, begin + 0.3)
        uneven = 1 + 0.35 * fractal(along, 1.5, rng, slope=0.8)
        line = np.maximum(line, smooth(off, width * np.clip(uneven, 0.5, 1.6), 0.01) * reach)
        halo = np.maximum(halo, smooth(off, 6 * width, 0.0) * reach)
    return replace(piece, marks={**piece.marks, "crack": line, "seep": halo})


def _crack_lines(rng: np.random.Generator, side: int, amount: float) -> list[tuple[float, float, float]]:
    """Return (turn from the open side, slant, depth where it begins): a line, its branch, beyond half a line on the far side.

    They lie where the open side and a look square to the gap both see them.
    """
    turn, other = side * rng.uniform(0.6, 1.1), -side * rng.uniform(0.6, 1.1)
    lines = [(turn, rng.uniform(-0.1, 0.1), -0.5), (turn, rng.uniform(0.15, 0.4) * rng.choice([-1, 1]), 1.2)]
    far = (other, rng.uniform(-0.2, 0.2), -0.5)
    return [*lines, far] if amount > 0.5 else lines


def _bruised(piece: Piece, spec: PlugSpec, amount: float, rng: np.random.Generator) -> Piece:
    """Flatten and scar the outside of the strap where it was hit."""
    p = piece.grid.points
    top = float(p[..., 2].max())
    outer = smooth(piece.grid.normals()[..., 2], 0.1, 0.7)
    twist = rng.normal(0, 0.06) * amount
    mark = np.zeros(p.shape[:2])
    for _ in range(2 + int(3 * amount)):
        spot = np.array([rng.uniform(-1.5, 3.5), rng.uniform(-1, 1), top]) @ turn_z(spec.strap.angle).T
        size = rng.uniform(0.35, 0.9)
        near = np.linalg.norm((p - spot) * np.array([1, 1, 0.6]), axis=-1) / size
        mark = np.maximum(mark, smooth(near + 0.25 * fractal(p, 2.0, rng), 1.0, 0.6))
    mark = mark * np.maximum(outer, 0.3)
    dent = piece.grid.normals() * (-0.12 * amount * mark)[..., None]
    bent = p + dent
    bent = (
        bent @ turn_z(0.0).T
        + np.stack([-p[..., 1], p[..., 0], 0 * p[..., 0]], -1) * (twist * smooth(p[..., 2], 0.5, top))[..., None]
    )
    return replace(piece, grid=Grid(bent), marks={**piece.marks, "bruise": mark * amount})


def _torn(piece: Piece, spec: PlugSpec, amount: float, rng: np.random.Generator) -> Piece:
    """Flatten, tear and gall some turns of the thread."""
    p = piece.grid.points
    radius = np.hypot(p[..., 0], p[..., 1])
    root = spec.size.minor_mm / 2
    where = -rng.uniform(0.1, 0.8) * spec.reach_mm
    near = np.exp(-(((p[..., 2] - where) / (1.5 + 4 * amount)) ** 2))
    rough = fractal(p, 5.0, rng, slope=0.8)
    crushed = near * smooth(rough + 0.4, -0.8, 0.8) * amount
    crest = smooth(radius, root + 0.05, root + 0.3)
    new = radius - crushed * crest * (radius - root) * 0.75 + 0.10 * crushed * rough
    scale = new / np.maximum(radius, 1e-6)
    moved = p * np.stack([scale, scale, np.ones_like(scale)], -1)
    return replace(piece, grid=Grid(moved), marks={**piece.marks, "bruise": 0.9 * crushed})


def _bridge(facing: Clearance, spec: PlugSpec, rng: np.random.Generator) -> Piece:
    """Return the lump that joins the electrodes."""
    middle = 0.5 * (facing.first + facing.second)
    lump = ball(np.zeros(3), 1.0, rows=26, columns=34)
    tall = facing.gap_mm * 0.5 + 0.28
    wide = max(0.45 * tall, min(0.5 + 0.35 * spec.amount("gap_bridged"), 0.5 * spec.centre.diameter_mm + 0.2))
    points = lump.points * np.array([wide, wide * rng.uniform(0.7, 1.0), tall])
    points = points * (1 + 0.14 * fractal(points, 2.6, rng, slope=1.1) + 0.04 * fractal(points, 0.9, rng, slope=0.6))[..., None]
    shift = rng.normal(0, 0.15, 3) * np.array([1, 1, 0])
    return Piece("strap", "strap", "deposit", Grid(points + middle + shift))


def _balls(pieces: list[Piece], amount: float, rng: np.random.Generator) -> list[Piece]:
    """Return bright balls of metal stuck on nose and electrodes."""
    hosts = [p for p in pieces if p.zone in ("nose", "centre", "strap")]
    out = []
    for _ in range(int(8 + 60 * amount)):
        host = hosts[int(rng.integers(len(hosts)))] if rng.random() < 0.4 else hosts[0]
        rows = host.grid.points.shape[0]
        spot = host.grid.points[int(rng.random() ** 1.3 * 0.45 * rows), int(rng.random() * host.grid.points.shape[1])]
        size = 0.05 + 0.20 * rng.beta(1.2, 2.5)
        out.append(Piece(host.zone, host.part, "bright", ball(spot, size, rows=7, columns=10)))
    return out
