"""What the plugs lie on: table tops of a workshop, as a patch of ground with vertex colours and a little relief."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sample_images.render.draw import Rng, chance, metal, mix, ratio, stuff, uniform
from sample_images.render.grain import grain, step
from sample_images.render.mesh import Mesh, MeshBuilder

Array = NDArray[np.float64]

FINE_FROM = 400
"""Grids of so many cells along an edge always show their fine tooth, coarser ones sometimes."""


@dataclass
class Look:
    """A surface over the plane: colour (n, 3) linear sRGB, the rest numbers or arrays of shape (n,).

    `height_mm` is never above 0, so that whatever lies on the table lies on z = 0.
    """

    colour: Array
    roughness: Array | float = 0.6
    metallic: Array | float = 0.0
    clearcoat: Array | float = 0.0
    sheen: Array | float = 0.0
    height_mm: Array | float = 0.0


def ground(rng: Rng, kind: str, *, view_mm: float, cells: int) -> Mesh:
    """Return the ground about the origin, z = 0 its highest plane.

    Parameters
    ----------
    view_mm : width of what the camera sees; the grid is fine within about half of it each way, coarse beyond.
    cells : edge of the grid in cells.
    """
    line = _graded(view_mm, cells)
    u, v = (a.ravel() for a in np.meshgrid(line, line, indexing="ij"))
    look = PATTERNS[kind](rng, u, v)
    _dirty(rng, look, u, v, view_mm)
    if cells >= FINE_FROM or chance(rng, 0.4):
        _fine(rng, look, u, v)
    height = np.minimum(np.broadcast_to(look.height_mm, u.shape), 0.0)
    far = step(np.maximum(np.abs(u), np.abs(v)), 0.8 * view_mm, 2.4 * view_mm)  # cells too coarse for relief
    height = height + (height.mean() - height) * far
    builder = MeshBuilder()
    builder.add(
        np.stack([u, v, height], -1), _cells_faces(cells), "background", np.clip(look.colour, 0.006, 0.92),
        roughness=np.clip(look.roughness, 0.06, 1), metallic=look.metallic, clearcoat=look.clearcoat, sheen=look.sheen,
    )  # fmt: skip
    return builder.join()


def muted(table: Mesh) -> Mesh:
    """Return the table in the duller colours of a used workshop, for pictures that people look at."""
    grey = (table.colour @ np.array([0.2126, 0.7152, 0.0722], np.float32))[:, None]
    tan = grey * np.array([1.06, 1.0, 0.90], np.float32)
    return replace(table, colour=(0.45 * table.colour + 0.55 * tan).astype(np.float32))


def darkened(table: Mesh, share: float) -> Mesh:
    """Return the table in the dark: colours times `share`, as on an oily bench or black rubber."""
    return replace(table, colour=np.maximum(share * table.colour, 0.006).astype(np.float32))


def _graded(view_mm: float, cells: int) -> Array:
    t = np.linspace(-1, 1, cells)
    reach = max(6 * view_mm, 420.0)
    near = 0.75 * view_mm / reach
    return np.asarray(reach * (near * t + (1 - near) * t**7))


def _cells_faces(cells: int) -> NDArray[np.uint32]:
    k = np.arange(cells * cells, dtype=np.uint32).reshape(cells, cells)
    a, b, c, d = k[:-1, :-1].ravel(), k[1:, :-1].ravel(), k[1:, 1:].ravel(), k[:-1, 1:].ravel()
    return np.concatenate([np.stack([a, b, c], -1), np.stack([a, c, d], -1)])


def _dirty(rng: Rng, look: Look, u: Array, v: Array, view_mm: float) -> None:
    """Oil stains, wipe marks and dust, on three tables in five."""
    if chance(rng, 0.4):
        return
    cloud = grain(u, v, ratio(rng, 60, 500), rng, slope=1.4)
    stain = step(cloud, uniform(rng, 0.3, 1.6), uniform(rng, 1.7, 2.6)) * uniform(rng, 0.2, 0.8)
    look.colour = mix(look.colour, look.colour * np.array([0.32, 0.27, 0.22]), stain)
    look.roughness = np.broadcast_to(look.roughness, u.shape) * (1 - 0.4 * stain)
    if chance(rng, 0.6):
        specks = step(grain(u, v, ratio(rng, 15, 50), rng, slope=1.0), 2.2, 2.8) * uniform(rng, 0.2, 0.9)
        look.colour = mix(look.colour, stuff(rng, "black", "rust", "light_grey", "brown"), specks)


def _fine(rng: Rng, look: Look, u: Array, v: Array) -> None:
    """What no surface is without when seen from near: a fine tooth, uneven gloss, scuffs, hairs and crumbs of dirt."""
    tooth = 0.6 * grain(u, v, 26, rng, slope=0.9) + 0.4 * grain(u, v, 9, rng, slope=0.7)
    cloud = grain(u, v, ratio(rng, 90, 300), rng, slope=1.5)
    look.colour = look.colour * np.exp(uniform(rng, 0.02, 0.09) * tooth + uniform(rng, 0.02, 0.10) * cloud)[:, None]
    look.roughness = np.clip(look.roughness + uniform(rng, 0.02, 0.10) * cloud + 0.03 * tooth, 0.06, 1)
    if chance(rng, 0.6):
        _scuffs(rng, look, u, v)
    if chance(rng, 0.7):
        _crumbs(rng, look, u, v)


def _scuffs(rng: Rng, look: Look, u: Array, v: Array) -> None:
    """Thin scratches in a few directions, lighter or darker than what they cross."""
    for _ in range(int(rng.integers(1, 4))):
        a, b = _turned(rng, u, v)
        bent = b + 0.6 * grain(a, b, 160, rng, slope=1.8)
        line = step(grain(a, bent, ratio(rng, 40, 110), rng, slope=0.6, stretch=ratio(rng, 20, 60)), uniform(rng, 2.0, 2.6), 3.0)
        share = line * uniform(rng, 0.1, 0.5)
        look.colour = look.colour * np.exp((0.7 if chance(rng, 0.6) else -0.8) * share)[:, None]


def _crumbs(rng: Rng, look: Look, u: Array, v: Array) -> None:
    """Grit of several sizes, thicker in some places, with short dark fibres."""
    thick = 0.5 * grain(u, v, ratio(rng, 60, 200), rng, slope=1.4)
    for period in (ratio(rng, 12, 24), ratio(rng, 30, 60)):
        grit = step(grain(u, v, period, rng, slope=1.0) + thick, uniform(rng, 2.4, 3.0), 3.3) * uniform(rng, 0.3, 0.9)
        look.colour = mix(look.colour, stuff(rng, "black", "brown", "dark_grey", "rust", "tan"), grit)


def _shaded(rng: Rng, colour: Array, u: Array, v: Array, amount: float, period_mm: float, **kind: float) -> Array:
    """A colour with mottled lightness."""
    return np.asarray(colour) * np.exp(amount * grain(u, v, period_mm, rng, **kind))[:, None]


def _turned(rng: Rng, u: Array, v: Array) -> tuple[Array, Array]:
    a = uniform(rng, 0, 2 * np.pi)
    return u * np.cos(a) + v * np.sin(a), v * np.cos(a) - u * np.sin(a)


def _two(rng: Rng) -> tuple[Array, Array]:
    first = stuff(rng)
    return first, (stuff(rng) if chance(rng, 0.6) else np.clip(first * ratio(rng, 0.25, 3), 0.02, 0.85))


def _wood(rng: Rng, u: Array, v: Array) -> Look:
    a, b = _turned(rng, u, v)
    light = stuff(rng, "pine", "oak", "walnut")
    rings = grain(a, b, ratio(rng, 120, 260), rng, slope=1.5, stretch=12)
    lines = 0.5 + 0.5 * np.sin(2 * np.pi * (b / ratio(rng, 5, 18) + 1.2 * rings))
    pores = step(grain(a, b, 40, rng, slope=0.4, stretch=18), 0.9, 2.2)
    colour = mix(light, light * np.array([0.55, 0.48, 0.40]), 0.75 * lines**2)
    colour = mix(colour, light * 0.25, 0.6 * pores) * np.exp(0.12 * rings)[:, None]
    coat = uniform(rng, 0.2, 1) if chance(rng, 0.3) else 0.0
    return Look(colour, uniform(rng, 0.35, 0.8), clearcoat=coat, height_mm=-0.04 * pores)


def _planks(rng: Rng, u: Array, v: Array) -> Look:
    look = _wood(rng, u, v)
    width = ratio(rng, 35, 120)
    _, b = _turned(rng, u, v)
    board = np.floor(b / width)
    look.colour = look.colour * np.exp(0.25 * np.sin(board * 12.9 + rng.uniform(0, 6)))[:, None]
    seam = 1 - step(np.abs(b / width - board - 0.5) * width, width / 2 - 1.6, width / 2 - 0.7)
    look.colour = mix(look.colour * 0.08, look.colour, seam)
    look.height_mm = -1.5 * (1 - seam)
    return look


def _steel(rng: Rng, u: Array, v: Array) -> Look:
    a, b = _turned(rng, u, v)
    brushed = grain(a, b, ratio(rng, 15, 50), rng, slope=0.3, stretch=40)
    worn = grain(u, v, ratio(rng, 80, 400), rng, slope=1.3)
    colour = metal(rng, "steel", "zinc", "aluminium") * np.exp(0.10 * brushed + 0.15 * worn)[:, None]
    rust = step(worn, uniform(rng, 0.8, 2.5), 3.0)
    scratch = step(grain(a + b, b - a, 90, rng, slope=0.3, stretch=60), 2.3, 2.6) * 0.6
    colour = mix(mix(colour, stuff(rng, "rust"), rust), np.array([0.8, 0.8, 0.8]), scratch)
    return Look(colour, np.clip(uniform(rng, 0.22, 0.55) + 0.05 * brushed + 0.3 * rust, 0.1, 1), metallic=1 - rust)


def _cardboard(rng: Rng, u: Array, v: Array) -> Look:
    a, b = _turned(rng, u, v)
    fibre = grain(a, b, 60, rng, slope=0.7, stretch=4)
    colour = _shaded(rng, stuff(rng, "kraft"), u, v, 0.08, 300) * np.exp(0.07 * fibre)[:, None]
    ribs = -0.06 * (1 + np.sin(2 * np.pi * b / uniform(rng, 4, 8)))
    return Look(colour, uniform(rng, 0.75, 1), height_mm=ribs)


def _cloth(rng: Rng, u: Array, v: Array) -> Look:
    a, b = _turned(rng, u, v)
    pitch = ratio(rng, 0.5, 1.3)
    slub_a, slub_b = 0.25 * grain(a, b, 50, rng, slope=0.8, stretch=12), 0.25 * grain(b, a, 50, rng, slope=0.8, stretch=12)
    warp, weft = np.sin(2 * np.pi * (a / pitch + slub_b)), np.sin(2 * np.pi * (b / pitch + slub_a))
    weave = warp * weft * np.exp(-((u / 130) ** 2 + (v / 130) ** 2))
    folds = grain(a, b, ratio(rng, 260, 700), rng, slope=2.4, stretch=uniform(rng, 1.0, 3.0))
    depth = ratio(rng, 0.3, 4.0)
    first, second = _two(rng)
    shade = 0.16 * weave + 0.5 * (slub_a + slub_b) + 0.10 * grain(u, v, 200, rng, slope=1.4)
    colour = np.broadcast_to(first, (len(u), 3)) * np.exp(shade)[:, None]
    if chance(rng, 0.3):
        stripes = step(np.sin(2 * np.pi * a / ratio(rng, 6, 40)), -0.1, 0.1)
        colour = mix(colour, second, stripes)
    height = depth * np.minimum(folds, 1.2) + 0.06 * pitch * weave
    return Look(colour, 0.95, sheen=uniform(rng, 0.1, 0.8), height_mm=height - 1.3 * depth)


def _denim(rng: Rng, u: Array, v: Array) -> Look:
    look = _cloth(rng, u, v)
    a, b = _turned(rng, u, v)
    twill = step(np.sin(2 * np.pi * (a + b) / 1.6), -0.4, 0.4)
    look.colour = mix(stuff(rng, "blue") * 0.7, np.full(3, 0.25), 0.35 * twill + 0.15 * (grain(u, v, 50, rng, slope=0.5) > 1))
    return look


def _painted(rng: Rng, u: Array, v: Array) -> Look:
    wear = grain(u, v, ratio(rng, 40, 200), rng, slope=1.0)
    chipped = step(wear, uniform(rng, 1.4, 3.0), 3.1)
    colour = mix(_shaded(rng, stuff(rng), u, v, uniform(rng, 0, 0.15), 300), metal(rng, "steel") * 0.7, chipped)
    return Look(colour, uniform(rng, 0.15, 0.6) + 0.2 * chipped, clearcoat=uniform(rng, 0, 1) * (1 - chipped), metallic=chipped)


def _concrete(rng: Rng, u: Array, v: Array) -> Look:
    sand = grain(u, v, 14, rng, slope=0.8)
    grit = step(grain(u, v, 30, rng, slope=1.1), 1.0, 1.6)
    cloud = grain(u, v, ratio(rng, 150, 500), rng, slope=1.3)
    base = stuff(rng, "grey", "light_grey", "tan")
    colour = mix(np.broadcast_to(base, (len(u), 3)), base * ratio(rng, 0.4, 1.5), 0.6 * grit)
    colour = colour * np.exp(0.13 * sand + 0.18 * cloud)[:, None]
    pits = step(grain(u, v, 55, rng, slope=1.2), 1.9, 2.6)
    return Look(mix(colour, colour * 0.35, pits), 0.9, height_mm=-0.03 * np.abs(sand) - 0.35 * pits)


def _checker(rng: Rng, u: Array, v: Array) -> Look:
    a, b = _turned(rng, u, v)
    size = ratio(rng, 2.0, 30)
    first, second = _two(rng)
    share = (np.floor(a / size) + np.floor(b / size)) % 2
    return Look(_shaded(rng, mix(first, second, share), u, v, uniform(rng, 0, 0.15), 120), uniform(rng, 0.25, 0.9))


def _stripes(rng: Rng, u: Array, v: Array) -> Look:
    a, _ = _turned(rng, u, v)
    first, second = _two(rng)
    wave = a / ratio(rng, 1.2, 30) + uniform(rng, 0, 0.3) * grain(u, v, 150, rng)
    share = step(np.sin(2 * np.pi * wave), -uniform(rng, 0.05, 0.9), uniform(rng, 0.05, 0.9))
    relief = -ratio(rng, 0.02, 0.8) * share if chance(rng, 0.5) else 0.0
    return Look(_shaded(rng, mix(first, second, share), u, v, 0.08, 100), uniform(rng, 0.2, 0.9), height_mm=relief)


def _print(rng: Rng, u: Array, v: Array) -> Look:
    """Lines of text, a table or a picture box on paper."""
    a, b = _turned(rng, u, v)
    line, letter = ratio(rng, 2.5, 7), ratio(rng, 0.8, 2.2)
    row, column = np.floor(b / line), np.floor(a / letter)
    ink = np.sin(row * 127.1 + column * 311.7) * 43758.5
    stroke = grain(a, b, 18, rng, slope=0.3) > -0.2
    text = ((ink - np.floor(ink)) > 0.22) & ((b / line) % 1 < 0.52) & (np.sin(row * 7.7) > -0.8) & stroke
    colour = mix(
        stuff(rng, "white", "white", "cream", "yellow"), stuff(rng, "black", "black", "blue", "red"), text * uniform(rng, 0.6, 1)
    )
    return Look(_shaded(rng, colour, u, v, 0.02, 200), uniform(rng, 0.5, 0.95))


def _rubber(rng: Rng, u: Array, v: Array) -> Look:
    """A ribbed or studded tool-tray mat."""
    a, b = _turned(rng, u, v)
    pitch = ratio(rng, 3, 9)
    ribs = step(np.sin(2 * np.pi * a / pitch), -0.3, 0.3)
    if chance(rng, 0.5):
        ribs = ribs * step(np.sin(2 * np.pi * b / pitch), -0.3, 0.3)
    colour = _shaded(rng, stuff(rng, "black", "dark_grey", "blue", "red", "grey"), u, v, 0.15, 90)
    return Look(colour * (0.8 + 0.4 * ribs)[:, None], uniform(rng, 0.5, 0.9), height_mm=-ratio(rng, 0.2, 1.2) * (1 - ribs))


def _uniform(rng: Rng, u: Array, v: Array) -> Look:
    """A smooth plain table top, often white or grey: not a reference sheet."""
    names = ("white", "light_grey", "grey", "cream") if chance(rng, 0.6) else ()
    colour = stuff(rng, *names)
    slope = np.tanh((u * rng.normal() + v * rng.normal()) / 400)
    gloss = uniform(rng, 0, 1) if chance(rng, 0.4) else 0.0
    return Look(
        np.broadcast_to(colour, (len(u), 3)) * np.exp(uniform(rng, 0, 0.2) * slope)[:, None],
        uniform(rng, 0.1, 0.95),
        clearcoat=gloss,
    )


def _speckle(rng: Rng, u: Array, v: Array) -> Look:
    """Laminate or stone with flecks."""
    first, second = _two(rng)
    colour = np.broadcast_to(first, (len(u), 3))
    for period in (ratio(rng, 8, 16), ratio(rng, 20, 40), ratio(rng, 50, 120)):
        fleck = step(grain(u, v, period, rng, slope=uniform(rng, 0.9, 1.3)), uniform(rng, 0.6, 1.4), uniform(rng, 1.6, 2.2))
        colour = mix(colour, mix(first, second, uniform(rng, 0.2, 1.0)) * ratio(rng, 0.6, 1.4), fleck)
    return Look(colour, uniform(rng, 0.1, 0.6), clearcoat=uniform(rng, 0, 1) * chance(rng, 0.5))


def _terrazzo(rng: Rng, u: Array, v: Array) -> Look:
    size = ratio(rng, 4, 14)
    cell = np.floor(u / size) * 57.0 + np.floor(v / size) * 131.0
    dx, dy = u / size % 1 - 0.5 + 0.2 * np.sin(cell), v / size % 1 - 0.5 + 0.2 * np.cos(1.7 * cell)
    chip = np.hypot(dx, dy * (1 + 0.4 * np.sin(3 * cell))) + 0.1 * grain(u, v, 30, rng, slope=0.8) < 0.34
    tone = 0.5 + 0.5 * np.sin(cell * 2.3)
    colour = mix(stuff(rng, "light_grey", "cream", "white"), mix(stuff(rng), stuff(rng), tone), chip.astype(float))
    return Look(colour, uniform(rng, 0.1, 0.4), clearcoat=0.5)


def _graph(rng: Rng, u: Array, v: Array) -> Look:
    """A cutting mat or squared paper."""
    a, b = _turned(rng, u, v)
    pitch = ratio(rng, 4, 25)
    width = min(0.08 * pitch, 0.5)
    fine = np.minimum(np.abs((a / pitch + 0.5) % 1 - 0.5), np.abs((b / pitch + 0.5) % 1 - 0.5)) * pitch
    first, second = _two(rng)
    return Look(_shaded(rng, mix(second, first, step(fine, width, 2 * width)), u, v, 0.04, 150), uniform(rng, 0.4, 0.9))


def _tiles(rng: Rng, u: Array, v: Array) -> Look:
    a, b = _turned(rng, u, v)
    size = ratio(rng, 20, 110)
    edge = np.minimum(np.abs((a / size) % 1 - 0.5), 9)
    edge = np.maximum(edge, np.abs((b / size) % 1 - 0.5)) * size
    grout = step(edge, size / 2 - 1.8, size / 2 - 1.0)
    colour = mix(_shaded(rng, stuff(rng), u, v, 0.12, 200), stuff(rng, "grey", "dark_grey", "light_grey"), grout)
    return Look(colour, uniform(rng, 0.08, 0.3) + 0.5 * grout, clearcoat=1 - grout, height_mm=-0.8 * grout)


def _tread(rng: Rng, u: Array, v: Array) -> Look:
    """Chequered plate: raised lozenges in two directions."""
    a, b = _turned(rng, u, v)
    p = ratio(rng, 12, 30)
    i, j = np.floor(a / p), np.floor(b / p)
    x, y = (a / p) % 1 - 0.5, (b / p) % 1 - 0.5
    swap = ((i + j) % 2).astype(bool)
    long, short = np.where(swap, x + y, x - y), np.where(swap, x - y, x + y)
    raised = 1 - step((long / 0.62) ** 2 + (short / 0.2) ** 2, 0.6, 1.1)
    colour = metal(rng, "steel", "aluminium") * np.exp(0.15 * grain(u, v, 120, rng))[:, None] * (0.8 + 0.2 * raised)[:, None]
    return Look(colour, 0.45 - 0.15 * raised, metallic=0.95, height_mm=-1.2 * (1 - raised))


def _gravel(rng: Rng, u: Array, v: Array) -> Look:
    """Ground outdoors: grit and small stones."""
    stones = grain(u, v, ratio(rng, 35, 110), rng, slope=1.1)
    fine = grain(u, v, 30, rng, slope=0.4)
    colour = (
        mix(stuff(rng, "grey", "tan"), stuff(rng, "dark_grey", "light_grey"), step(stones, -0.5, 0.9))
        * np.exp(0.2 * fine)[:, None]
    )
    depth = ratio(rng, 0.3, 2.5)
    return Look(colour, 0.95, height_mm=depth * np.minimum(stones, 1.5) - 1.6 * depth)


def _foil(rng: Rng, u: Array, v: Array) -> Look:
    """Crumpled metal foil or a baking tray."""
    crease = np.abs(grain(u, v, ratio(rng, 60, 200), rng, slope=1.2))
    depth = ratio(rng, 0.05, 1.5)
    return Look(
        np.broadcast_to(metal(rng, "aluminium", "steel"), (len(u), 3)).copy(),
        uniform(rng, 0.12, 0.4),
        metallic=1.0,
        height_mm=-depth * crease,
    )


PATTERNS: Mapping[str, Callable[[Rng, Array, Array], Look]] = {
    "wood": _wood, "steel": _steel, "cardboard": _cardboard, "cloth": _cloth, "painted": _painted, "concrete": _concrete,
    "checker": _checker, "stripes": _stripes, "print": _print, "rubber": _rubber, "uniform": _uniform, "speckle": _speckle,
    "graph": _graph, "foil": _foil, "planks": _planks, "denim": _denim, "terrazzo": _terrazzo, "tiles": _tiles, "tread": _tread,
    "gravel": _gravel,
}  # fmt: skip
