"""Plain little fields that stand in rows and columns: where a 24-patch chart may lie, whole, cut off or partly covered."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.pixels import halved

Floats = NDArray[np.float64]
Nodes = dict[tuple[int, int], int]

# Limits of this program (our own). How often the picture is halved, and how far codes may change from pixel to pixel of a field
# there; a field's least area, largest share of the picture's longer side, least share of its upright box, most slender shape; how
# many are looked at. How far the next one may lie from where its neighbours say (share of the pitch), how much larger it may be.
_LOOKS, _LEAST_AREA_PX, _MOST_SIDE, _LEAST_FILL, _MOST_SLENDER, _MOST_FIELDS = ((1, (14,)), (2, (14, 30))), 9, 0.14, 0.42, 4, 400
_OFF, _AREA_RATIO = 0.3, 3.5
# Where a lattice starts, two neighbours differ by so much in the share of red or blue: blotches of a bench and print do not.
_HUE_APART = 0.05
# Neighbours are so far apart in units of the field's size; two directions of a lattice stand at least so askew (sine), and one is
# at most so much longer. A lattice has at least so many fields,
# starts among so many neighbours and is bent by so little (mean, share of the pitch).
_PITCH, _LEAST_SINE, _LONGER, _LEAST_NODES, _NEIGHBOURS, _MOST_BENT = (0.9, 2.6), 0.55, 1.9, 7, 6, 0.15
_STEPS = ((1, 0), (0, 1), (-1, 0), (0, -1))


@dataclass(frozen=True, eq=False)
class Lattice:
    """Fields in rows and columns: index pairs (n, 2), their middles (n, 2) and the middle of index pairs by homography.

    The second index runs clockwise from the first as the picture is seen.
    """

    index: NDArray[np.int64]
    middle: Floats
    homography: Floats

    def place(self, index: Floats) -> Floats:
        """Return the pixels (m, 2) of index pairs (m, 2)."""
        return np.asarray(cv2.perspectiveTransform(np.asarray(index, np.float64)[None], self.homography)[0])


def lattices(rgb: NDArray[np.uint8], most: tuple[int, int]) -> list[Lattice]:
    """Return lattices of at most (long, short) fields in a picture (h, w, 3), the one with most fields first."""
    found: list[Lattice | None] = []
    for factor, limits in _LOOKS:
        looked_at = np.asarray(halved(rgb) if factor == 2 else rgb, np.uint8)
        change = np.asarray(cv2.morphologyEx(looked_at, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)), np.uint8)
        for limit in limits:
            middle, area = _fields(change, limit)
            if len(middle) >= _LEAST_NODES:
                grown = _grown_all(middle, area, _hues(looked_at, middle), most)
                found += [_fitted(nodes, (middle + 0.5) * factor - 0.5) for nodes in grown]
    return sorted((one for one in found if one is not None), key=lambda one: -len(one.index))


def _fields(change: NDArray[np.uint8], limit: int) -> tuple[Floats, Floats]:
    """Return middles (n, 2) and areas (n,) of small compact fields that change by no more than a limit, the largest first."""
    plain = cv2.inRange(change, (0, 0, 0), (limit,) * 3)
    _, _, stats, centres = cv2.connectedComponentsWithStats(plain, connectivity=4)
    area, w, h = (stats[:, k].astype(np.float64) for k in (cv2.CC_STAT_AREA, cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT))
    most = _MOST_SIDE * max(change.shape[:2])
    longer, shorter = np.maximum(w, h), np.minimum(w, h)
    good = (area >= _LEAST_AREA_PX) & (area >= _LEAST_FILL * w * h) & (longer <= np.minimum(most, _MOST_SLENDER * shorter))
    good[0] = False
    chosen = np.flatnonzero(good)
    chosen = chosen[np.argsort(-area[chosen], kind="stable")][:_MOST_FIELDS]
    return np.asarray(centres[chosen], np.float64), area[chosen]


def _hues(rgb: NDArray[np.uint8], middle: Floats) -> Floats:
    """Return the share of red and of blue (n, 2) at some pixels."""
    columns, rows = middle.astype(int).T
    codes = rgb[rows, columns].astype(np.float64) + 1.0
    return np.asarray(codes[:, [0, 2]] / codes.sum(1, keepdims=True))


def _grown_all(middle: Floats, area: Floats, hue: Floats, most: tuple[int, int]) -> list[Nodes]:
    """Return the lattices that grow from the fields, each field in at most one."""
    apart = np.hypot(*(middle[:, None] - middle[None]).transpose(2, 0, 1))
    size = np.sqrt(area)
    like = (apart > _PITCH[0] * size[:, None]) & (apart < _PITCH[1] * size[:, None] + 4)
    like &= (area[:, None] < _AREA_RATIO * area) & (area < _AREA_RATIO * area[:, None])
    unlike = like & (np.abs(hue[:, None] - hue[None]).max(-1) > _HUE_APART)
    used: set[int] = set()
    found = []
    for seed in np.flatnonzero(unlike.sum(1) > 1).tolist():
        if seed in used:
            continue
        near = np.flatnonzero(like[seed])
        near = near[np.argsort(apart[seed, near])][:_NEIGHBOURS]
        best = max((_grown(seed, a, b, middle, area, most) for a, b in _bases(seed, near, middle)), key=len, default={})
        if len(best) >= _LEAST_NODES:
            used |= set(best.values())
            found.append(best)
    return found


def _bases(seed: int, near: NDArray[np.int64], middle: Floats) -> list[tuple[int, int]]:
    """Return pairs of neighbours that may be the next along the two directions of a lattice, the second clockwise."""
    pairs = []
    for a in near:
        for b in near:
            u, v = middle[a] - middle[seed], middle[b] - middle[seed]
            one, two = float(np.hypot(*u)), float(np.hypot(*v))
            if u[0] * v[1] - u[1] * v[0] > _LEAST_SINE * one * two and max(one, two) < _LONGER * min(one, two):
                pairs.append((int(a), int(b)))
    return pairs


def _grown(seed: int, a: int, b: int, middle: Floats, area: Floats, most: tuple[int, int]) -> Nodes:
    """Return the lattice that starts with three fields and goes on where the next lies where it should."""
    nodes: Nodes = {(0, 0): seed, (1, 0): a, (0, 1): b}
    step = {(1, 0): middle[a] - middle[seed], (0, 1): middle[b] - middle[seed]}
    step |= {(-1, 0): -step[1, 0], (0, -1): -step[0, 1]}
    pitch = min(float(np.hypot(*step[1, 0])), float(np.hypot(*step[0, 1])))
    queue = deque(nodes)
    while queue:
        at = queue.popleft()
        here = middle[nodes[at]]
        for way in _STEPS:
            to = at[0] + way[0], at[1] + way[1]
            if to in nodes or not _room(nodes, to, most):
                continue
            back = at[0] - way[0], at[1] - way[1]
            ahead = here + (here - middle[nodes[back]] if back in nodes else step[way])
            off = np.abs(middle - ahead).sum(1)
            next_one = int(off.argmin())
            fits = off[next_one] < _OFF * pitch and next_one not in nodes.values()
            if fits and 1 / _AREA_RATIO < area[next_one] / area[seed] < _AREA_RATIO:
                nodes[to] = next_one
                queue.append(to)
    return nodes


def _room(nodes: Nodes, to: tuple[int, int], most: tuple[int, int]) -> bool:
    """Return whether the lattice stays within `most` fields, either way up, with one field more."""
    spans = [max(*(n[k] for n in nodes), to[k]) - min(*(n[k] for n in nodes), to[k]) + 1 for k in (0, 1)]
    return max(spans) <= most[0] and min(spans) <= most[1]


def _fitted(nodes: Nodes, middle: Floats) -> Lattice | None:
    index = np.array(list(nodes), np.int64)
    if min(np.ptp(index, axis=0)) < 1:
        return None
    places = middle[list(nodes.values())]
    homography = np.asarray(cv2.findHomography(index.astype(np.float64), places, 0)[0], np.float64)
    if homography.shape != (3, 3):
        return None
    lattice = Lattice(index, places, homography)
    at = index.astype(np.float64)
    fitted, beside = lattice.place(at), lattice.place(np.asarray(at + np.array([1.0, 0.0])))
    pitch = float(np.hypot(*(beside - fitted).T).mean())
    off = float(np.hypot(*(fitted - places).T).mean())
    return lattice if off < _MOST_BENT * pitch else None
