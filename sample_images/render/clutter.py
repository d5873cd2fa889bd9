"""Things that lie about in a workshop, and the hard negatives among them: threads, tips, rims and balls that are no plug.

Each maker returns pieces in its own frame, long axis along z, roughly about the origin. None stands for a make or brand.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sample_images.render.camera import frame
from sample_images.render.draw import Rng, chance, metal, ratio, stuff, uniform
from sample_images.render.grain import grain, grain_on, step
from sample_images.render.mesh import Mesh, MeshBuilder
from sample_images.render.solids import Solid, box, of_grid, patch, thread, tube, turned
from sample_images.render.surfaces import Grid, ball, filled, sweep

Array = NDArray[np.float64]


class Piece(NamedTuple):
    """One part of a thing: shape, colour (3,) or (n, 3), and finish."""

    solid: Solid
    colour: Array
    roughness: float = 0.5
    metallic: float = 0.0
    clearcoat: float = 0.0
    sheen: float = 0.0


def make_clutter(rng: Rng, kind: str) -> Mesh:
    """Return one thing of the named kind as a mesh of part "background", with grime on it."""
    builder = MeshBuilder()
    grime = uniform(rng, 0, 0.9) * chance(rng, 0.6)
    for piece in MAKERS[kind](rng):
        points = piece.solid.vertices
        mottle = grain_on(points, ratio(rng, 8, 60), rng, slope=1.2)
        dirt = step(mottle, 0.3, 1.8) * grime
        colour = np.broadcast_to(piece.colour, points.shape) * np.exp(0.10 * mottle)[:, None] * (1 - 0.75 * dirt)[:, None]
        builder.add(
            points, piece.solid.faces, "background", np.clip(colour, 0.006, 0.92),
            roughness=np.clip(piece.roughness + 0.06 * mottle + 0.3 * dirt, 0.08, 1), metallic=piece.metallic * (1 - dirt),
            clearcoat=piece.clearcoat, sheen=piece.sheen,
        )  # fmt: skip
    return builder.join()


def _metal_piece(rng: Rng, solid: Solid, colour: Array | None = None) -> Piece:
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
    return [_metal_piece(rng, s, colour) for s in (thread(r, pitch, length), end, head)]


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
    return [_metal_piece(rng, s, colour) for s in (Solid(body.vertices * taper, body.faces), head)]


def _nut(rng: Rng) -> list[Piece]:
    r = ratio(rng, 2, 9)
    h, flats, colour = 1.6 * r, 3.2 * r, metal(rng)
    outside = turned(
        [(r * 1.05, 0), (1.55 * r, -0.02), (1.85 * r, -0.25 * r), (1.85 * r, -h + 0.25 * r), (1.55 * r, -h), (r * 1.05, -h)],
        columns=48,
        flats_mm=flats,
    )
    inside = Solid(thread(r, 0.25 * r, h).vertices * [0.95, 0.95, 1], thread(r, 0.25 * r, h).faces)
    return [_metal_piece(rng, s, colour) for s in (outside, inside)]


def _washer(rng: Rng) -> list[Piece]:
    r = ratio(rng, 2.5, 14)
    inner, t = r * uniform(rng, 0.4, 0.75), ratio(rng, 0.6, 2.2)
    ring = turned(
        [(inner, -t), (inner, -0.1), (inner + 0.1, 0), (r - 0.15, 0), (r, -0.15), (r, -t), (inner, -t)], columns=56, step_mm=0.6
    )
    return [_metal_piece(rng, ring)]


def _socket(rng: Rng) -> list[Piece]:
    r = uniform(rng, 6, 16)
    inner, length, colour = r * uniform(rng, 0.62, 0.85), uniform(rng, 15, 50), metal(rng)
    wall = turned([(r - 0.8, 0), (r, -0.8), (r, -length), (0, -length)], columns=64)
    bore = turned(
        [(0, -0.6 * length), (inner, -0.6 * length), (inner, -0.5), (inner + 0.3, 0), (r - 0.8, 0)],
        columns=60,
        flats_mm=2 * inner * 0.93 if chance(rng, 0.6) else 0.0,
    )
    return [_metal_piece(rng, wall, colour), _metal_piece(rng, bore, colour * 0.8)]


def _box(rng: Rng) -> list[Piece]:
    return [
        Piece(
            box(ratio(rng, 6, 70), ratio(rng, 6, 70), ratio(rng, 3, 30)),
            stuff(rng),
            uniform(rng, 0.15, 0.9),
            float(chance(rng, 0.3)),
        )
    ]


def _brick(rng: Rng) -> list[Piece]:
    solid = box(uniform(rng, 60, 100), 50, 30, cells=24)
    rough = grain_on(solid.vertices, 40, rng, slope=0.7)
    return [
        Piece(
            Solid(solid.vertices + 0.25 * rough[:, None] * np.sign(solid.vertices), solid.faces),
            stuff(rng, "rust", "tan", "light_grey") * np.exp(0.15 * rough)[:, None],
            0.95,
        )
    ]


def _ball(rng: Rng) -> list[Piece]:
    r = ratio(rng, 2.5, 16)
    smooth = of_grid(ball(np.zeros(3), r, 28, 48))
    shape = smooth.vertices * [1, 1, uniform(rng, 0.7, 1.4)]
    return [Piece(Solid(shape, smooth.faces), stuff(rng), uniform(rng, 0.1, 0.9), float(chance(rng, 0.35)))]


def _walnut(rng: Rng) -> list[Piece]:
    """A wrinkled ball: looks like a crusted nose."""
    r = ratio(rng, 4, 17)
    grid = ball(np.zeros(3), r, 100, 150)
    wrinkle = 1.2 - np.abs(grain_on(grid.points / r, uniform(rng, 4, 9), rng, slope=1.5))
    seam = -np.exp(-((grid.points[..., 0] / (0.05 * r)) ** 2))
    pushed = grid.pushed(r * (0.07 * wrinkle + 0.05 * seam))
    shade = np.exp(0.3 * wrinkle - 0.3).reshape(-1, 1)
    return [Piece(of_grid(pushed), stuff(rng, "tan", "kraft", "brown", "grey", "cream") * shade, uniform(rng, 0.5, 0.95))]


def _pen(rng: Rng) -> list[Piece]:
    r, length, barrel = uniform(rng, 2.8, 5.5), uniform(rng, 60, 120), stuff(rng)
    cone = uniform(rng, 2, 4) * r
    flats = 1.75 * r if chance(rng, 0.4) else 0.0
    tip_colour = stuff(rng, "black", "pine", "light_grey")
    body = turned([(r, -cone), (r, -length), (0, -length - 1)], columns=48, flats_mm=flats)
    nose = turned([(0.14 * r, -0.25 * cone), (0.9 * r, -cone), (r, -cone - 0.3)], columns=40)
    lead = turned([(0, 0), (0.05 * r, -0.2), (0.15 * r, -0.27 * cone)], columns=24)
    return [
        Piece(body, barrel, uniform(rng, 0.15, 0.6), 0.0, uniform(rng, 0, 1)),
        Piece(nose, tip_colour, 0.5, float(chance(rng, 0.3))),
        Piece(lead, stuff(rng, "black", "dark_grey", "blue"), 0.4),
    ]


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
    return [_metal_piece(rng, s, colour) for s in (cut, shank, tip)]


def _drill(rng: Rng) -> list[Piece]:
    r, colour = ratio(rng, 1.0, 6.5), metal(rng, "steel", "black_oxide", "yellow_zinc")
    length = r * uniform(rng, 10, 22)
    body = turned([(0, 0), (r * 0.98, -0.6 * r), (r, -0.8 * r), (r, -length)], columns=56, step_mm=max(0.4, r / 6))
    x, y, z = body.vertices.T
    flute = 1 - 0.5 * step(np.cos(2 * (np.arctan2(y, x) + z / r * 0.6)), 0.1, 0.75) * step(z, -0.75 * length, -0.6 * length)
    return [_metal_piece(rng, Solid(np.stack([x * flute, y * flute, z], -1), body.faces), colour)]


def _rivet(rng: Rng) -> list[Piece]:
    r, colour = ratio(rng, 1.2, 3.2), metal(rng, "aluminium", "steel", "copper")
    head = turned(
        [(0.35 * r, 0.5 * r), (1.2 * r, 0.45 * r), (2 * r, 0), (r, -0.01), (r, -4 * r), (0, -4.2 * r)], columns=40, step_mm=0.4
    )
    pin = turned([(0, 14 * r), (0.3 * r, 13.5 * r), (0.3 * r, 0)], columns=24)
    return [_metal_piece(rng, head, colour), _metal_piece(rng, pin)]


def _coin(rng: Rng) -> list[Piece]:
    r, t = uniform(rng, 8, 15), uniform(rng, 1.2, 2.6)
    disc = turned(
        [(0, -0.25), (r - 1.4, -0.25), (r - 1.2, 0), (r - 0.2, 0), (r, -0.2), (r, -t), (0, -t)], columns=72, step_mm=0.35
    )
    relief = 0.15 * step(grain(disc.vertices[:, 0], disc.vertices[:, 1], 18, rng, slope=1.0), 0.2, 0.5)
    inside = (np.hypot(*disc.vertices[:, :2].T) < r - 1.6) & (disc.vertices[:, 2] > -0.5)
    return [
        _metal_piece(
            rng, Solid(disc.vertices + np.outer(relief * inside, [0, 0, 1]), disc.faces), metal(rng, "copper", "brass", "nickel")
        )
    ]


def _wire(rng: Rng) -> list[Piece]:
    t = np.linspace(0, 1, 70)
    path = np.stack(
        [
            rng.normal(0, 8) * np.sin(t * uniform(rng, 3, 9) + uniform(rng, 0, 6)),
            rng.normal(0, 20) * np.sin(t * uniform(rng, 2, 7)),
            uniform(rng, 60, 140) * (t - 0.5),
        ],
        -1,
    )
    return [Piece(tube(path, ratio(rng, 0.5, 4)), stuff(rng), uniform(rng, 0.25, 0.7), float(chance(rng, 0.25)))]


def _spring(rng: Rng) -> list[Piece]:
    r, turns = ratio(rng, 2, 9), uniform(rng, 5, 14)
    t = np.linspace(0, 2 * np.pi * turns, int(26 * turns))
    wire = r * uniform(rng, 0.08, 0.2)
    path = np.stack([r * np.cos(t), r * np.sin(t), -t / 6.283 * wire * uniform(rng, 2.2, 5)], -1)
    return [_metal_piece(rng, tube(path, wire, columns=10))]


SKIN = ((0.48, 0.27, 0.19), (0.60, 0.38, 0.29), (0.22, 0.11, 0.07), (0.35, 0.19, 0.12), (0.10, 0.055, 0.04))
GLOVES = ((0.02, 0.02, 0.025), (0.05, 0.12, 0.35), (0.62, 0.62, 0.60), (0.55, 0.2, 0.05))


def _finger(rng: Rng) -> list[Piece]:
    """A finger with a nail, bare or gloved, oily or not."""
    bare = chance(rng, 0.7)
    palette = SKIN if bare else GLOVES
    colour = np.array(palette[int(rng.integers(len(palette)))]) * np.exp(rng.normal(0, 0.12))
    r = uniform(rng, 6.5, 9.5)
    t = np.linspace(0, 1, 40)
    bend = uniform(rng, 0, 18)
    path = np.stack([-bend * t**2, 0 * t, -70 * t], -1)
    radius = r * np.minimum(1.0, np.sqrt(np.clip(t * 10, 0.0, 1))) * (1 + 0.08 * np.cos(t * 14) + 0.25 * t)
    skin = tube(path, radius, columns=36)
    lines = grain(skin.vertices[:, 0] + 2 * skin.vertices[:, 1], skin.vertices[:, 2], 30, rng, slope=0.8)
    oil = step(grain_on(skin.vertices, 60, rng, slope=1.3), 0.5, 1.8) * uniform(rng, 0, 0.8) * chance(rng, 0.6)
    pieces = [
        Piece(skin, colour * (1 - 0.8 * oil)[:, None] * np.exp(0.06 * lines)[:, None], 0.5, 0.0, 0.15 if bare else 0.3, 0.2)
    ]
    if bare:
        nail = ball(np.zeros(3), 1.0, 14, 20).points * [0.22 * r, 0.55 * r, 0.75 * r] + [0.83 * r, 0, -1.0 * r]
        pieces.append(Piece(of_grid(Grid(nail)), np.clip(colour * [1.25, 1.2, 1.2] + 0.08, 0, 0.9), 0.3, 0.0, 0.5))
    return pieces


def _bracket(rng: Rng) -> list[Piece]:
    """A bent strip: looks like a strap."""
    r, h = uniform(rng, 4, 15), uniform(rng, 4, 15)
    a = np.linspace(0, np.pi / 2, 12)
    bend = np.concatenate([[(r, -6)], np.stack([r - 2 + 2 * np.cos(a), h - 2 + 2 * np.sin(a)], -1), [(-5, h)]])
    path = filled(bend, 0.5)
    bar = sweep(path, np.full(len(path), uniform(rng, 1.5, 8)), np.full(len(path), uniform(rng, 0.7, 3)))
    return [_metal_piece(rng, of_grid(bar))]


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
        _metal_piece(rng, Solid(blade.vertices * np.stack([flat, 1 + 0 * flat, 1 + 0 * flat], -1), blade.faces)),
        Piece(
            Solid(handle.vertices * np.stack([grip, grip, 1 + 0 * grip], -1), handle.faces),
            stuff(rng, "red", "yellow", "black", "blue", "green"),
            0.3,
            0.0,
            0.7,
        ),
    ]


def _upper_end(rng: Rng) -> list[Piece]:
    """The wrong end of a plug: ribbed white insulator, terminal, hexagon; no firing end."""
    r, colour = uniform(rng, 4.2, 6), metal(rng, "zinc", "nickel", "steel")
    flats = uniform(rng, 14, 21)
    ribs = int(rng.integers(0, 6))
    z = np.linspace(-9, -9 - uniform(rng, 16, 30), 60)
    bump = (0.25 + 0.25 * np.cos(2 * np.pi * ribs * np.clip((z + 9) / (z[-1] + 9), 0, 0.7) / 0.7)) * (ribs > 0)
    profile = list(zip((r - 0.8) + bump + 0.6 * np.linspace(0, 1, 60), z, strict=True))
    white = turned([(r - 1.6, z[0] + 0.3), *profile], columns=56)
    terminal = turned([(0, 0), (2.6, -0.1), (3.1, -0.8), (3.1, -4.2), (2.1, -5), (2.1, -8.9)], columns=40, step_mm=0.5)
    end = z[-1]
    hexagon = turned(
        [
            (r, end),
            (flats * 0.5, end - 1.4),
            (flats * 0.577, end - 2.4),
            (flats * 0.577, end - 10),
            (flats * 0.5, end - 10.5),
            (0, end - 10.5),
        ],
        columns=60,
        flats_mm=flats,
    )
    glaze = Piece(white, stuff(rng, "white", "white", "white", "pink", "cream"), 0.2, 0.0, uniform(rng, 0.3, 1))
    return [glaze, _metal_piece(rng, terminal), _metal_piece(rng, hexagon, colour)]


def _boot(rng: Rng) -> list[Piece]:
    """A rubber plug cap or hose end: a dark rim with something light inside."""
    r = uniform(rng, 6, 12)
    hole, length = r * uniform(rng, 0.5, 0.8), uniform(rng, 25, 60)
    cap = turned(
        [
            (0, -12),
            (hole, -12),
            (hole, -0.4),
            (hole + 0.5, 0),
            (r - 0.5, 0),
            (r, -0.5),
            (r * 0.95, -0.4 * length),
            (r * 0.8, -length),
            (0, -length),
        ],
        columns=60,
    )
    pieces = [Piece(cap, stuff(rng, "black", "dark_grey", "red", "blue"), uniform(rng, 0.4, 0.9))]
    if chance(rng, 0.5):
        pieces.append(
            Piece(
                turned([(0, -uniform(rng, 0, 5)), (0.5 * hole, -5), (0.5 * hole, -11.9)], columns=36),
                stuff(rng, "white", "cream", "tan", "grey"),
                0.6,
            )
        )
    return pieces


def _bottle_cap(rng: Rng) -> list[Piece]:
    r, h = uniform(rng, 10, 16), uniform(rng, 6, 12)
    cap = turned([(0, 0), (r - 1, 0), (r, -1), (r, -h), (r - 1, -h)], columns=96)
    wave = 1 + 0.03 * np.sign(np.cos(36 * np.arctan2(cap.vertices[:, 1], cap.vertices[:, 0]))) * (cap.vertices[:, 2] < -1)
    return [
        Piece(
            Solid(cap.vertices * np.stack([wave, wave, 1 + 0 * wave], -1), cap.faces),
            stuff(rng),
            uniform(rng, 0.2, 0.7),
            float(chance(rng, 0.3)),
        )
    ]


def _page(rng: Rng) -> list[Piece]:
    """A printed page or label."""
    w, h = ratio(rng, 25, 120), ratio(rng, 25, 120)
    a, b = np.meshgrid(np.linspace(-w / 2, w / 2, 70), np.linspace(-h / 2, h / 2, 70), indexing="ij")
    line, letter = uniform(rng, 2.5, 6), uniform(rng, 0.8, 2)
    ink = np.sin(np.floor(b / line) * 127.1 + np.floor(a / letter) * 311.7) * 43758.5
    text = ((ink % 1) > 0.25) & ((b / line) % 1 < 0.5) & (np.abs(a) < 0.42 * w) & (np.abs(b) < 0.44 * h)
    curl = 0.15 + 0.0004 * a**2 * chance(rng, 0.4)
    colour = np.where(text.ravel()[:, None], stuff(rng, "black", "blue", "red"), stuff(rng, "white", "cream", "yellow", "kraft"))
    return [Piece(_upright(patch(a, b, curl)), colour, uniform(rng, 0.4, 0.95))]


def _rag(rng: Rng) -> list[Piece]:
    """A crumpled rag with folds."""
    size, depth = uniform(rng, 50, 140), uniform(rng, 2, 9)
    a, b = np.meshgrid(np.linspace(-1, 1, 80), np.linspace(-1, 1, 80), indexing="ij")
    wobble = 1 + 0.12 * grain(a * 60, b * 60, 150, rng, slope=1.4)
    folds = grain(a * size / 2, b * size / 2, uniform(rng, 60, 130), rng, slope=1.7, stretch=uniform(rng, 1, 2.5))
    height = depth * (0.9 + np.clip(folds, -0.85, 2)) * step(1 - np.maximum(np.abs(a), np.abs(b)), -0.05, 0.5) + 0.2
    weave = np.exp(0.1 * np.sin(a.ravel() * size * 2.4) * np.sin(b.ravel() * size * 2.4))[:, None]
    return [Piece(_upright(patch(a * size / 2 * wobble, b * size / 2 * wobble, height)), stuff(rng) * weave, 0.95, 0.0, 0.0, 0.6)]


def _upright(flat: Solid) -> Solid:
    """Turn a sheet that lies flat so that its face looks along +x, as `FLAT` things are laid."""
    return flat.turned(np.array([[0.0, 0, 1], [0, 1, 0], [-1, 0, 0]]))


def _white_block(rng: Rng) -> list[Piece]:
    """A white thing that is no reference sheet: eraser, tile, soap, lid."""
    return [
        Piece(
            box(ratio(rng, 4, 20), ratio(rng, 15, 60), ratio(rng, 15, 80)),
            stuff(rng, "white", "white", "light_grey"),
            uniform(rng, 0.15, 0.9),
            0.0,
            uniform(rng, 0, 0.8),
        )
    ]


MAKERS: Mapping[str, Callable[[Rng], list[Piece]]] = {
    "bolt": _bolt, "screw": _screw, "nut": _nut, "washer": _washer, "socket": _socket, "box": _box, "brick": _brick, "ball": _ball,
    "walnut": _walnut, "pen": _pen, "tap": _tap, "drill": _drill, "rivet": _rivet, "coin": _coin, "wire": _wire, "spring": _spring,
    "finger": _finger, "bracket": _bracket, "spanner": _spanner, "screwdriver": _screwdriver, "upper_end": _upper_end, "boot": _boot,
    "bottle_cap": _bottle_cap, "page": _page, "rag": _rag, "white_block": _white_block,
}  # fmt: skip

FLAT = frozenset({"page", "rag", "spanner", "white_block", "box", "brick"})
"""Laid with their x side up; everything else lies on its long side or stands at random."""


def laid(rng: Rng, kind: str) -> Mesh:
    """Return one thing of the named kind resting on z = 0 about the origin, turned at random."""
    thing = make_clutter(rng, kind)
    around = uniform(rng, 0, 2 * np.pi)
    if kind in FLAT:
        pose = np.stack(
            [
                np.array([0.0, 0, 1]),
                np.array([np.cos(around), np.sin(around), 0]),
                np.array([np.sin(around), -np.cos(around), 0]),
            ],
            1,
        )
    elif kind in {"washer", "coin", "nut", "bottle_cap"} and chance(rng, 0.8):
        pose = frame(np.array([0.0, 0, 1.0 if chance(rng, 0.75) else -1.0]), around)
    elif chance(rng, 0.75) or float(np.ptp(thing.vertices, axis=0).max()) > 32.0:
        pose = frame(np.array([np.cos(around), np.sin(around), uniform(rng, -0.05, 0.05)]), uniform(rng, 0, 6.28))
    else:
        pose = frame(rng.standard_normal(3) + [0, 0, 0.6], uniform(rng, 0, 6.28))
    low = float((thing.vertices @ pose[2]).min())
    return thing.placed(pose, np.array([0.0, 0.0, -low + 0.02]))
