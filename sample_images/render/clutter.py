"""Things that lie about in a workshop, and the hard negatives among them: threads, tips, rims and balls that are no plug.

Each maker returns pieces in its own frame, long axis along z, roughly about the origin. None stands for a make or brand.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from sample_images.render.camera import frame
from sample_images.render.draw import Rng, chance, metal, ratio, stuff, uniform
from sample_images.render.grain import grain, grain_on, step
from sample_images.render.hardware import HARDWARE, Piece, metal_piece
from sample_images.render.mesh import Mesh, MeshBuilder
from sample_images.render.near_plugs import NEAR_PLUGS
from sample_images.render.solids import Solid, box, of_grid, patch, tube, turned
from sample_images.render.surfaces import Grid, ball

Array = NDArray[np.float64]


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
    return [glaze, metal_piece(rng, terminal), metal_piece(rng, hexagon, colour)]


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
    wobble = 1 + 0.10 * grain(a * 60, b * 60, 400, rng, slope=2.4)
    folds = grain(a * size / 2, b * size / 2, uniform(rng, 60, 130), rng, slope=2.2, stretch=uniform(rng, 1, 2.5))
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
    **HARDWARE, **NEAR_PLUGS, "box": _box, "brick": _brick, "ball": _ball, "walnut": _walnut, "pen": _pen, "wire": _wire,
    "finger": _finger, "upper_end": _upper_end, "boot": _boot, "bottle_cap": _bottle_cap, "page": _page, "rag": _rag,
    "white_block": _white_block,
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
        pose = frame(rng.standard_normal(3) + np.array([0, 0, 0.6]), uniform(rng, 0, 6.28))
    low = float((thing.vertices @ pose[2]).min())
    return thing.placed(pose, np.array([0.0, 0.0, -low + 0.02]))
