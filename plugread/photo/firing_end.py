"""From a closer look to a firing end: its boxes, parts and key points in pixels of the picture."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plugread.photo.doubt import Doubt, doubt_about
from plugread.photo.look import Find, Seen
from plugread.photo.squares import Square, resampled
from plugread.records import KEY_POINTS, PARTS, Box, FiringEnd, PartMap, View

Mask = NDArray[np.bool_]

MOST_DOUBTED = 0.25
"""A find with a doubt has no higher score than this: it may be counted in a row, it is not read."""
_SURROUNDINGS, _OWN_VOTES, _BORDER = 0.5, 1.2, 4
"""The map reaches so many widths of the closer look beyond it on each side. Beside others a cell there is the plug's if its vote
for the nose falls nearer than so many times the firing end's size. So many outermost cells of a closer look are left out."""
_VIEWS: tuple[View, ...] = ("side", "oblique", "end")


@dataclass(frozen=True, eq=False)
class Candidate:
    """A plug that was looked at closely.

    `end` is None where no nose shows; `doubt` is None where the find is believed; `centre` (x, y) is where its nose is voted to
    be and `reach` the square root of the firing end's area, both in pixels of the picture.
    """

    end: FiringEnd | None
    doubt: Doubt | None
    centre: tuple[float, float]
    reach: float


def judged(find: Find, before: Seen, *, alone: bool) -> Candidate:
    """Return the plug of a find with its firing end and what speaks against it.

    `before` is the look that led to it; `alone` where that saw no other plug.
    """
    nose = find.nose()
    doubt = doubt_about(find.answer, find.own, nose, find.agreement)
    x, y = find.mine.centre
    centre = find.square.x + x * find.step, find.square.y + y * find.step
    reach = float(np.sqrt(find.mine.weight)) * find.step
    most_off = np.inf if alone else _OWN_VOTES * reach
    sheets = before.answer.parts[PARTS.index("sheet")]
    end = _end(find, nose, _with_surroundings(find, before, centre, most_off), sheets) if nose.any() else None
    if end is not None and doubt is not None:
        end = replace(end, score=min(end.score, MOST_DOUBTED))
    return Candidate(end, doubt, centre, reach)


def _end(find: Find, nose: Mask, parts: PartMap, whole: NDArray[np.float32]) -> FiringEnd:
    views: dict[str, float] = {name: round(find.answer.views[name], 4) for name in _VIEWS}
    certainty = float(find.answer.parts[PARTS.index("nose")][nose].mean())
    return FiringEnd(
        nose_box=_nose_box(find, nose),
        view=max(_VIEWS, key=lambda name: views[name]),
        view_probability={**views, "unknown": round(find.answer.views["none"], 4)},
        parts=parts,
        key_points=_key_points(find),
        score=certainty * find.agreement * (1 - find.answer.views["none"]),
        agreement=find.agreement,
        sheets=whole,
    )


def _with_surroundings(find: Find, before: Seen, centre: tuple[float, float], most_off: float) -> PartMap:
    """Return the part map of the closer look, and around it what the look before saw of the same plug: its thread and body."""
    cells, step = int(find.answer.parts.shape[2]), find.step
    edge = round(_SURROUNDINGS * cells)
    size = cells + 2 * edge
    square = Square(find.square.x - edge * step, find.square.y - edge * step, size * step)
    dense = [resampled(plane, before.covers, square, (size, size)) for plane in (*before.answer.parts, *before.answer.offsets)]
    parts, offsets = np.stack(dense[:-2]), dense[-2:]
    cell = before.covers[2] / before.answer.parts.shape[2], before.covers[3] / before.answer.parts.shape[1]
    place = (np.arange(size, dtype=np.float32) + 0.5) * np.float32(step)
    x, y = place[None, :] + offsets[0] * cell[0] + square.x, place[:, None] + offsets[1] * cell[1] + square.y
    foreign = np.hypot(x - centre[0], y - centre[1]) > most_off
    beyond = ((place + square.x < 0) | (place + square.x > before.covers[2]))[None, :] | (
        (place + square.y < 0) | (place + square.y > before.covers[3])
    )[:, None]
    parts[:, foreign | beyond] = 0.0
    parts[0] = 1 - parts[1:].sum(0)
    sharp = slice(_BORDER, cells - _BORDER)
    inside = slice(edge + _BORDER, edge + cells - _BORDER)
    parts[:, inside, inside] = _own_parts(find)[:, sharp, sharp]
    return PartMap(parts, square.x, square.y, step)


def _own_parts(find: Find) -> NDArray[np.float32]:
    """Return the part map with the cells of other plugs turned into background."""
    if find.own.all():
        return find.answer.parts
    foreign = ~find.own & (find.answer.parts[1:8].sum(0) > 0.5)
    parts = find.answer.parts.copy()
    parts[:, foreign] = 0.0
    parts[0, foreign] = 1.0
    return parts


def _nose_box(find: Find, nose: Mask) -> Box:
    rows, columns = np.flatnonzero(nose.any(1)), np.flatnonzero(nose.any(0))
    x, y = find.square.x + columns[0] * find.step, find.square.y + rows[0] * find.step
    width, height = (columns[-1] + 1 - columns[0]) * find.step, (rows[-1] + 1 - rows[0]) * find.step
    return max(round(x), 0), max(round(y), 0), max(round(width), 1), max(round(height), 1)


def _key_points(find: Find) -> dict[str, tuple[float, float, float]]:
    """Return each key point's (x, y) in pixels of the picture and its confidence, by the centroid about the highest cell."""
    points = {}
    for name, heat in zip(KEY_POINTS, find.answer.heats[: len(KEY_POINTS)], strict=True):
        mine = np.where(find.own, heat, 0.0)
        row, column = np.unravel_index(int(np.argmax(mine)), mine.shape)
        top, left = max(row - 2, 0), max(column - 2, 0)
        patch = mine[top : row + 3, left : column + 3]
        rows, columns = np.mgrid[top : top + patch.shape[0], left : left + patch.shape[1]] + 0.5
        total = max(float(patch.sum()), 1e-9)
        x, y = float((columns * patch).sum()) / total, float((rows * patch).sum()) / total
        points[name] = (find.square.x + x * find.step, find.square.y + y * find.step, float(mine[row, column]))
    return points
