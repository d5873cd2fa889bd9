"""Things that come near to a plug and are none: a bolt with its washer, a pipe fitting, a glow pin, a nozzle, a cable lug.

Each has some of thread, hexagon, rim, white sleeve and tip, never a nose in a bore with a strap over it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from sample_images.render.draw import Rng, chance, metal, ratio, stuff, uniform
from sample_images.render.hardware import Piece, metal_piece
from sample_images.render.solids import Solid, box, thread, turned


def _washer_bolt(rng: Rng) -> list[Piece]:
    """A bolt of a plug's size with a sealing washer under its hexagon: a drain plug, a banjo bolt."""
    r, pitch, colour = uniform(rng, 4.8, 9.2), uniform(rng, 0.95, 1.6), metal(rng)
    length, flats = uniform(rng, 9, 27), uniform(rng, 14, 24)
    hole = uniform(rng, 0.3, 0.7) * r if chance(rng, 0.5) else 0.0
    front = [(hole, -uniform(rng, 2, 8)), (hole, -0.3), (hole + 0.2, 0.02)] if hole else [(0, 0.02)]
    end = turned([(0, -8.0), *front, (0.86 * r, 0), (0.9 * r, -0.6)] if hole else [*front, (0.86 * r, 0), (0.9 * r, -0.6)])
    collar = r + uniform(rng, 1.5, 4)
    washer = turned([(r, -length + 1.6), (collar, -length + 1.6), (collar, -length), (r, -length)], columns=56, step_mm=0.4)
    head = turned(
        [(r, -length), (0.5 * flats, -length), (0.577 * flats, -length - 1), (0.577 * flats, -length - 8), (0, -length - 9)],
        columns=60, flats_mm=flats,
    )  # fmt: skip
    pieces = [metal_piece(rng, s, colour) for s in (thread(r, pitch, length, columns=60), end, head)]
    return [*pieces, metal_piece(rng, washer, metal(rng, "copper", "aluminium", "steel"))]


def _fitting(rng: Rng) -> list[Piece]:
    """A pipe fitting: threads both ways from a hexagon, open bore, sometimes white sealing tape."""
    r, colour, flats = uniform(rng, 4.5, 9), metal(rng, "brass", "zinc", "steel", "nickel"), uniform(rng, 13, 24)
    length, back = uniform(rng, 8, 16), uniform(rng, 6, 14)
    bore = r * uniform(rng, 0.45, 0.72)
    front = thread(r, uniform(rng, 0.9, 1.6), length, columns=60)
    tail = thread(r * uniform(rng, 0.7, 1.0), 1.1, back, columns=56)
    face = turned([(0, -length), (bore, -length), (bore, -0.3), (bore + 0.3, 0.03), (0.84 * r, 0.03), (0.88 * r, -0.4)])
    nut = turned(
        [(r, -length), (0.5 * flats, -length), (0.577 * flats, -length - 1), (0.577 * flats, -length - 7), (r, -length - 8)],
        columns=60, flats_mm=flats,
    )  # fmt: skip
    pieces = [metal_piece(rng, s, colour) for s in (front, face, nut, tail.moved((0, 0, -length - 7.5)))]
    if chance(rng, 0.4):
        tape = turned([(r, -1), (r + 0.15, -1.2), (r + 0.2, -0.7 * length), (r, -0.75 * length)], step_mm=0.5)
        pieces.append(Piece(tape, stuff(rng, "white", "white", "pink"), 0.7))
    return pieces


def _glow_pin(rng: Rng) -> list[Piece]:
    """A pin out of a threaded body with hexagon and terminal: what a diesel has in a plug's place."""
    pin, r, colour = uniform(rng, 2.0, 3.0), uniform(rng, 4.6, 6.2), metal(rng, "zinc", "steel", "nickel", "yellow_zinc")
    long, flats = uniform(rng, 14, 30), uniform(rng, 10, 15)
    rod = turned([(0, long), (0.8 * pin, long - 0.5), (pin, long - 2), (pin, 0), (r * 0.9, -2.5), (r * 0.9, -8)])
    screwed = thread(r, uniform(rng, 0.95, 1.3), 14.0, columns=56).moved((0, 0, -8))
    head = turned(
        [(r, -22), (0.5 * flats, -22), (0.577 * flats, -23), (0.577 * flats, -30), (0.4 * flats, -31), (2, -31.2), (2, -38),
         (0, -39)],
        columns=56, flats_mm=flats,
    )  # fmt: skip
    tone = metal(rng, "steel", "black_oxide") if chance(rng, 0.7) else stuff(rng, "black", "tan", "grey")
    pieces = [
        Piece(rod, tone, uniform(rng, 0.3, 0.9), float(chance(rng, 0.5))),
        *(metal_piece(rng, s, colour) for s in (screwed, head)),
    ]
    if chance(rng, 0.6):
        sleeve = turned([(2.1, -31), (3.2, -31.2), (3.2, -34), (2.1, -34.4)], step_mm=0.4)
        pieces.append(Piece(sleeve, stuff(rng, "white", "black", "cream"), 0.5))
    return pieces


def _lug(rng: Rng) -> list[Piece]:
    """A ring terminal on its cable: a flat eye, a crimped barrel, a coloured sleeve."""
    eye, hole, thick = uniform(rng, 5, 10), uniform(rng, 2.2, 4.5), uniform(rng, 0.8, 2)
    tongue = uniform(rng, 8, 16)
    barrel, colour = uniform(rng, 2.2, 4.5), metal(rng, "copper", "zinc", "brass")
    ring = turned([(hole, -thick), (hole, 0), (eye, 0), (eye, -thick), (hole, -thick)], columns=48, step_mm=0.5)
    across = np.array([[0.0, 0, 1], [0, 1, 0], [-1, 0, 0]])
    neck = box(thick, 1.1 * eye, tongue).moved((-thick / 2, 0, -eye - 0.3 * tongue))
    tube = turned([(0.7 * barrel, 0), (barrel, -0.2), (barrel, -9), (0, -9)]).moved((0, 0, -eye - 0.7 * tongue))
    cable = turned([(0, 1), (1.25 * barrel, 0.6), (1.25 * barrel, -38), (0, -38.5)]).moved((0, 0, -eye - 0.7 * tongue - 7))
    sleeve = Piece(cable, stuff(rng, "red", "black", "blue", "yellow"), uniform(rng, 0.3, 0.8))
    return [
        metal_piece(rng, Solid(ring.vertices @ across.T, ring.faces), colour),
        *(metal_piece(rng, s, colour) for s in (neck, tube)),
        sleeve,
    ]


def _injector(rng: Rng) -> list[Piece]:
    """A fuel nozzle: a thin stepped tip with a dark seat, seal rings, a plastic shoulder."""
    r, colour = uniform(rng, 3.2, 5), metal(rng, "zinc", "steel", "nickel")
    tip = ratio(rng, 5, 16)
    nose = turned(
        [(0, 0), (0.35 * r, -0.1), (0.75 * r, -0.8), (0.8 * r, -tip), (r * 1.6, -tip - 1), (r * 1.7, -tip - 14), (0, -tip - 15)]
    )
    seal = turned([(0.8 * r, -0.4 * tip), (r * 1.05, -0.45 * tip), (r * 1.05, -0.6 * tip), (0.8 * r, -0.65 * tip)], step_mm=0.4)
    ring = turned([(1.6 * r, -tip - 4), (2.0 * r, -tip - 4.6), (2.0 * r, -tip - 6.4), (1.6 * r, -tip - 7)], step_mm=0.4)
    cap = turned([(1.5 * r, -tip - 12), (2.4 * r, -tip - 13), (2.3 * r, -tip - 26), (1.2 * r, -tip - 28), (0, -tip - 36)])
    soot = stuff(rng, "black", "brown", "tan") if chance(rng, 0.5) else colour
    return [
        Piece(nose, soot, uniform(rng, 0.3, 0.9), float(chance(rng, 0.6))),
        Piece(ring, stuff(rng, "black", "green", "rust"), 0.5),
        Piece(seal, stuff(rng, "white", "cream", "brown"), 0.6), Piece(cap, stuff(rng, "black", "grey", "teal"), 0.45),
    ]  # fmt: skip


NEAR_PLUGS: Mapping[str, Callable[[Rng], list[Piece]]] = {
    "washer_bolt": _washer_bolt, "fitting": _fitting, "glow_pin": _glow_pin, "lug": _lug, "injector": _injector,
}  # fmt: skip
"""Makers by name."""
