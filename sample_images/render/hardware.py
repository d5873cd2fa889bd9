"""Metal things of a workshop, many with threads, rims and tips that are no plug's: bolts, taps, drills, spanners."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sample_images.render.draw import Rng, chance, metal, ratio, stuff, uniform
from sample_images.render.grain import grain, step
from sample_images.render.solids import Solid, box, of_grid, thread, tube, turned
from sample_images.render.surfaces import filled, sweep

Array = NDArray[np.float64]


class Piece(NamedTuple):
    """One part of a thing: shape, colour (3,) or (n, 3), and finish."""

    solid: Solid
    colour: Array
    roughness: float = 0.5
    metallic: float = 0.0
    clearcoat: float = 0.0
    sheen: float = 0.0


def metal_piece(rng: Rng, solid: Solid, colour: Array | None = None) -> Piece:
    """Return a metal part of the given or a random metal."""
    return Piece(solid, metal(rng) if colour is None else colour, uniform(rng, 0.18, 0.6), 1.0)


def _bolt(rng: Rng) -> list[Piece]:
    r = ratio(rng, 1.5, 8)
    length, pitch, colour = uniform(rng, 3, 9) * r, uniform(rng, 0.16, 0.32) * r, metal(rng)
    flats = r * uniform(rng, 3.0, 3.6)
    head = turned(
        [
            (r * 0.9, -length),
            (flats * 0.55, -length),
            (flats * 0.6, -length - 0.4),
            (flats * 0.6, -length - 1.3 * r),
            (0, -length - 1.35 * r),
        ],
        columns=48,
        flats_mm=flats,
    )
    end = turned([(0, 0.03), (0.7 * r, 0), (0.8 * r, -0.3 * pitch)], columns=40)
    return [metal_piece(rng, s, colour) for s in (thread(r, pitch, length), end, head)]


def _screw(rng: Rng) -> list[Piece]:
    r, colour = ratio(rng, 1.2, 4), metal(rng)
    length = r * uniform(rng, 6, 14)
    body = thread(r, 0.8 * r, length, depth_share=0.45)
    taper = np.clip(-body.vertices[:, 2:] / (4 * r), 0.05, 1) * [[1, 1, 0]] + [[0, 0, 1]]
    head = turned(
        [
            (r, -length),
            (2.1 * r, -length - 1.2 * r),
            (1.8 * r, -length - 1.7 * r),
            (0.5 * r, -length - 1.75 * r),
            (0, -length - 1.2 * r),
        ],
        columns=40,
        step_mm=0.5,
    )
    return [metal_piece(rng, s, colour) for s in (Solid(body.vertices * taper, body.faces), head)]


def _nut(rng: Rng) -> list[Piece]:
    r = ratio(rng, 2, 9)
    h, flats, colour = 1.6 * r, 3.2 * r, metal(rng)
    outside = turned(
        [(r * 1.05, 0), (1.55 * r, -0.02), (1.85 * r, -0.25 * r), (1.85 * r, -h + 0.25 * r), (1.55 * r, -h), (r * 1.05, -h)],
        columns=48,
        flats_mm=flats,
    )
    inside = Solid(thread(r, 0.25 * r, h).vertices * [0.95, 0.95, 1], thread(r, 0.25 * r, h).faces)
    return [metal_piece(rng, s, colour) for s in (outside, inside)]


def _washer(rng: Rng) -> list[Piece]:
    r = ratio(rng, 2.5, 14)
    inner, t = r * uniform(rng, 0.4, 0.75), ratio(rng, 0.6, 2.2)
    ring = turned(
        [(inner, -t), (inner, -0.1), (inner + 0.1, 0), (r - 0.15, 0), (r, -0.15), (r, -t), (inner, -t)], columns=56, step_mm=0.6
    )
    return [metal_piece(rng, ring)]


def _socket(rng: Rng) -> list[Piece]:
    r = uniform(rng, 6, 16)
    inner, length, colour = r * uniform(rng, 0.62, 0.85), uniform(rng, 15, 50), metal(rng)
    wall = turned([(r - 0.8, 0), (r, -0.8), (r, -length), (0, -length)], columns=64)
    bore = turned(
        [(0, -0.6 * length), (inner, -0.6 * length), (inner, -0.5), (inner + 0.3, 0), (r - 0.8, 0)],
        columns=60,
        flats_mm=2 * inner * 0.93 if chance(rng, 0.6) else 0.0,
    )
    return [metal_piece(rng, wall, colour), metal_piece(rng, bore, colour * 0.8)]


def _tap(rng: Rng) -> list[Piece]:
    """A thread-cutting tap: thread with flutes and a square end."""
    r, colour = uniform(rng, 2.5, 8), metal(rng, "steel", "black_oxide", "yellow_zinc")
    length = uniform(rng, 5, 9) * r
    body = thread(r, uniform(rng, 0.18, 0.3) * r, length, columns=64)
    angle = np.arctan2(body.vertices[:, 1], body.vertices[:, 0])
    flute = 1 - 0.45 * step(np.cos(4 * angle), 0.55, 0.85) * step(body.vertices[:, 2], -length, -0.7 * length)
    lead = np.clip(0.62 - body.vertices[:, 2] / (6 * r), 0, 1)
    cut = Solid(body.vertices * np.stack([flute * lead, flute * lead, np.ones_like(flute)], -1), body.faces)
    shank = turned([(0.8 * r, -length), (0.75 * r, -1.9 * length), (0, -1.9 * length)], columns=40)
    tip = turned([(0, 0.02), (0.55 * r, 0), (0.6 * r, -0.2)], columns=40)
    return [metal_piece(rng, s, colour) for s in (cut, shank, tip)]


def _drill(rng: Rng) -> list[Piece]:
    r, colour = ratio(rng, 1.0, 6.5), metal(rng, "steel", "black_oxide", "yellow_zinc")
    length = r * uniform(rng, 10, 22)
    body = turned([(0, 0), (r * 0.98, -0.6 * r), (r, -0.8 * r), (r, -length)], columns=56, step_mm=max(0.4, r / 6))
    x, y, z = body.vertices.T
    flute = 1 - 0.5 * step(np.cos(2 * (np.arctan2(y, x) + z / r * 0.6)), 0.1, 0.75) * step(z, -0.75 * length, -0.6 * length)
    return [metal_piece(rng, Solid(np.stack([x * flute, y * flute, z], -1), body.faces), colour)]


def _rivet(rng: Rng) -> list[Piece]:
    r, colour = ratio(rng, 1.2, 3.2), metal(rng, "aluminium", "steel", "copper")
    head = turned(
        [(0.35 * r, 0.5 * r), (1.2 * r, 0.45 * r), (2 * r, 0), (r, -0.01), (r, -4 * r), (0, -4.2 * r)], columns=40, step_mm=0.4
    )
    pin = turned([(0, 14 * r), (0.3 * r, 13.5 * r), (0.3 * r, 0)], columns=24)
    return [metal_piece(rng, head, colour), metal_piece(rng, pin)]


def _coin(rng: Rng) -> list[Piece]:
    r, t = uniform(rng, 8, 15), uniform(rng, 1.2, 2.6)
    disc = turned(
        [(0, -0.25), (r - 1.4, -0.25), (r - 1.2, 0), (r - 0.2, 0), (r, -0.2), (r, -t), (0, -t)], columns=72, step_mm=0.35
    )
    relief = 0.15 * step(grain(disc.vertices[:, 0], disc.vertices[:, 1], 18, rng, slope=1.0), 0.2, 0.5)
    inside = (np.hypot(*disc.vertices[:, :2].T) < r - 1.6) & (disc.vertices[:, 2] > -0.5)
    return [
        metal_piece(
            rng, Solid(disc.vertices + np.outer(relief * inside, [0, 0, 1]), disc.faces), metal(rng, "copper", "brass", "nickel")
        )
    ]


def _spring(rng: Rng) -> list[Piece]:
    r, turns = ratio(rng, 2, 9), uniform(rng, 5, 14)
    t = np.linspace(0, 2 * np.pi * turns, int(26 * turns))
    wire = r * uniform(rng, 0.08, 0.2)
    path = np.stack([r * np.cos(t), r * np.sin(t), -t / 6.283 * wire * uniform(rng, 2.2, 5)], -1)
    return [metal_piece(rng, tube(path, wire, columns=10))]


def _bracket(rng: Rng) -> list[Piece]:
    """A bent strip: looks like a strap."""
    r, h = uniform(rng, 4, 15), uniform(rng, 4, 15)
    a = np.linspace(0, np.pi / 2, 12)
    bend = np.concatenate([[(r, -6)], np.stack([r - 2 + 2 * np.cos(a), h - 2 + 2 * np.sin(a)], -1), [(-5, h)]])
    path = filled(bend, 0.5)
    bar = sweep(path, np.full(len(path), uniform(rng, 1.5, 8)), np.full(len(path), uniform(rng, 0.7, 3)))
    return [metal_piece(rng, of_grid(bar))]


def _spanner(rng: Rng) -> list[Piece]:
    """An open-ended spanner, flat on the table."""
    length, w, t = uniform(rng, 60, 130), uniform(rng, 5, 10), uniform(rng, 2.5, 5)
    colour, finish = metal(rng, "zinc", "nickel", "black_oxide"), uniform(rng, 0.15, 0.4)
    shank = Piece(box(t, w, length, cells=8).moved((0, 0, -length / 2)), colour, finish, 1.0)
    jaw_r = 1.35 * w
    angle = np.linspace(0.42, 2 * np.pi - 0.42, 40)
    jaw = np.stack([0 * angle, jaw_r * np.sin(angle), jaw_r * np.cos(angle) + 0.8 * jaw_r], -1)
    return [shank, Piece(tube(jaw, 0.42 * w, columns=12), colour, finish, 1.0)]


def _screwdriver(rng: Rng) -> list[Piece]:
    r, length = uniform(rng, 1.5, 4), uniform(rng, 40, 90)
    blade = turned([(0, 0), (0.25 * r, 0), (r, -3 * r), (r, -length)], columns=24)
    flat = 1 - 0.8 * step(blade.vertices[:, 2], -5 * r, -0.5)
    handle = turned(
        [
            (1.5 * r, -length),
            (3 * r, -length - 4),
            (2.4 * r, -length - 14),
            (3.2 * r, -length - 30),
            (2.9 * r, -length - 55),
            (0, -length - 60),
        ],
        columns=48,
    )
    grip = 1 + 0.05 * np.cos(8 * np.arctan2(handle.vertices[:, 1], handle.vertices[:, 0]))
    return [
        metal_piece(rng, Solid(blade.vertices * np.stack([flat, 1 + 0 * flat, 1 + 0 * flat], -1), blade.faces)),
        Piece(
            Solid(handle.vertices * np.stack([grip, grip, 1 + 0 * grip], -1), handle.faces),
            stuff(rng, "red", "yellow", "black", "blue", "green"),
            0.3,
            0.0,
            0.7,
        ),
    ]


HARDWARE: Mapping[str, Callable[[Rng], list[Piece]]] = {
    "bolt": _bolt,
    "screw": _screw,
    "nut": _nut,
    "washer": _washer,
    "socket": _socket,
    "tap": _tap,
    "drill": _drill,
    "rivet": _rivet,
    "coin": _coin,
    "spring": _spring,
    "bracket": _bracket,
    "spanner": _spanner,
    "screwdriver": _screwdriver,
}
"""Makers by name."""
