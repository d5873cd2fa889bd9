"""Finds firing ends: a first look at the whole picture, a closer look at each plug; doubtful finds are refused with the reason.

The closer look sees every firing end at about the same size, once as it is and once mirrored; where the two disagree the
find is not believed. What was learned, from which pictures, stands in `models/locator/card.json`. The shipped net is a first,
short training on rendered pictures: dark, sooty plugs seen side on are often refused, some are marked wrongly.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from plugread.errors import PhotoError
from plugread.photo.doubt import Doubt, doubt_about, nose_mask, nothing_found
from plugread.photo.instances import Instance, instances, own_cells
from plugread.photo.lineup import counted_once, in_order, nose_centre
from plugread.photo.part_net import Answer, PartNet, load_net, shipped_nets
from plugread.photo.squares import LEAST_CROP_PX, MULTIPLE, Square, alike, around, cut_out, emptied, rounded
from plugread.records import KEY_POINTS, PARTS, Box, FiringEnd, PartMap, View
from plugread.resources import models_dir

Picture = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Kind = Literal["fine", "quick"]

# Sides in pixels of a net's input (our own choice, from scores against time): the whole picture, the same where many plugs
# are expected or were missed, and the square of a closer look.
_WHOLE_PX: dict[Kind, int] = {"fine": 640, "quick": 512}
_WHOLE_MANY_PX: dict[Kind, int] = {"fine": 960, "quick": 768}
_CLOSE_PX: dict[Kind, int] = {"fine": 576, "quick": 352}
_MANY, _MOST_LOOKS = 5, 20  # so many plugs expected are many; most closer looks at one picture
# A closer look is repeated if the firing end fills less or more of it than these shares; crops are enlarged no more than this.
_TOO_SMALL, _TOO_LARGE = 0.2, 0.72
_MOST_ENLARGED = 2.0
_VIEWS: tuple[View, ...] = ("side", "oblique", "end")


@dataclass(frozen=True, eq=False)
class _Find:
    """One closer look: where, what the net said, which plug was meant, and the others seen beside it."""

    square: Square
    answer: Answer
    agreement: float
    mine: Instance
    own: Mask
    others: tuple[Instance, ...]

    @property
    def step(self) -> float:
        """Pixels of the picture for one cell."""
        return self.square.side / int(self.answer.parts.shape[2])


class Locator:
    """Finds firing ends with one of the shipped nets."""

    def __init__(self, net: PartNet, kind: Kind) -> None:
        self._net, self._kind = net, kind

    def locate(self, rgb: Picture, *, expected: int | None = None, box: Box | None = None) -> tuple[FiringEnd, ...]:
        """Return the firing ends of a picture, in order along the row.

        Parameters
        ----------
        rgb : uint8 of shape (h, w, 3), upright, encoded sRGB.
        expected : how many plugs it should show; if fewer are found, a finer first look follows. The count may still differ.
        box : x, y, width, height of the only part to look at; the whole picture by default.

        Raises
        ------
        PhotoError
            No believable firing end, with the reason and what to do.
        """
        if box is not None:
            return self._inside(rgb, box, expected)
        sizes = [_WHOLE_PX[self._kind], _WHOLE_MANY_PX[self._kind]]
        ends: tuple[FiringEnd, ...] = ()
        problem: PhotoError | None = None
        for size in sizes[(expected or 1) >= _MANY :]:
            whole = self._net.answer(rgb, _net_size(rgb, size))
            found, doubt = self._closer(rgb, whole)
            problem = problem or (PhotoError(doubt.why, doubt.advice) if doubt else nothing_found(whole))
            ends = in_order(counted_once((*ends, *found)))
            if len(ends) >= (expected or 1) or expected is None:
                break
        if not ends:
            assert problem is not None
            raise problem
        return ends

    def _inside(self, rgb: Picture, box: Box, expected: int | None) -> tuple[FiringEnd, ...]:
        x, y = max(box[0], 0), max(box[1], 0)
        part = np.ascontiguousarray(rgb[y : box[1] + box[3], x : box[0] + box[2]])
        if min(part.shape[:2]) < LEAST_CROP_PX:
            raise PhotoError(f"the box {box} is too small to look at", f"draw it at least {LEAST_CROP_PX} px wide and high")
        return tuple(_moved(end, x, y) for end in self.locate(part, expected=expected))

    def _closer(self, rgb: Picture, whole: Answer) -> tuple[list[FiringEnd], Doubt | None]:
        """Look at each plug of the first look, and at plugs seen beside it; return the believed ones and the first doubt."""
        cell = rgb.shape[1] / whole.parts.shape[2], rgb.shape[0] / whole.parts.shape[1]
        waiting = [around(one, cell, (0.0, 0.0), rgb.shape) for one in instances(whole)]
        seen: list[Square] = []
        ends: list[FiringEnd] = []
        first: Doubt | None = None
        while waiting and len(seen) < 2 * _MOST_LOOKS:
            square = waiting.pop(0)
            if any(alike(square, other) for other in seen):
                continue
            seen.append(square)
            find = self._find(rgb, square)
            if find is None:
                continue
            seen.append(_of(find, find.mine, rgb.shape))
            waiting += [_of(find, one, rgb.shape) for one in find.others]
            end = _believed(find)
            if isinstance(end, Doubt):
                first = first or end
            elif not any(_holds(other, end) for other in ends):
                ends.append(end)
        return ends, None if ends else first

    def _find(self, rgb: Picture, square: Square) -> _Find | None:
        """Look closer, and once more if the plug fills too little or too much of the crop."""
        find = self._look(rgb, square)
        if find is None:
            return None
        x0, y0, x1, y1 = find.mine.box
        filled = max(x1 - x0, y1 - y0) / find.answer.parts.shape[2]
        better = _of(find, find.mine, rgb.shape)
        if _TOO_SMALL < filled < _TOO_LARGE or 0.8 < better.side / square.side < 1.25:
            return find
        return self._look(rgb, better) or find

    def _look(self, rgb: Picture, square: Square) -> _Find | None:
        crop = cut_out(rgb, square)
        side = min(_CLOSE_PX[self._kind], int(square.side * _MOST_ENLARGED))
        size = (max(rounded(side), 4 * MULTIPLE),) * 2
        plain = self._net.answer(crop, size)
        mirrored = self._net.answer(np.ascontiguousarray(crop[:, ::-1]), size).mirrored()
        answer = emptied(plain.averaged(mirrored), square, rgb.shape)
        plugs = instances(answer)
        if not plugs:
            return None
        middle = answer.parts.shape[2] / 2
        mine = min(plugs, key=lambda one: np.hypot(one.centre[0] - middle, one.centre[1] - middle) - 0.3 * np.sqrt(one.weight))
        others = tuple(one for one in plugs if one is not mine)
        own = own_cells(answer, mine, others)
        agreement = _overlap(nose_mask(plain, own), nose_mask(mirrored, own))
        return _Find(square, answer, agreement, mine, own, others)


def load_locator(kind: Kind = "fine", folder: Path | None = None) -> Locator:
    """Return the locator: "fine" for measuring, "quick" for a preview; from the installed models unless a folder is given.

    As long as the card lists no small net, "quick" runs the fine one on smaller pictures.

    Raises
    ------
    ModelError
        The shipped model is missing or damaged.
    """
    return _loaded(kind, folder or models_dir() / "locator")


@lru_cache(maxsize=4)
def _loaded(kind: Kind, folder: Path) -> Locator:
    """Return the locator; the two kinds share one net where only the fine one is shipped."""
    if kind == "quick" and "quick" not in shipped_nets(folder):
        return Locator(_loaded("fine", folder)._net, kind)
    return Locator(load_net(folder, kind), kind)


# ---- from a look to a firing end -------------------------------------------------------------------------


def _believed(find: _Find) -> FiringEnd | Doubt:
    nose = nose_mask(find.answer, find.own)
    doubt = doubt_about(find.answer, find.own, nose, find.agreement)
    return doubt or _end(find, nose)


def _end(find: _Find, nose: Mask) -> FiringEnd:
    views: dict[str, float] = {name: round(find.answer.views[name], 4) for name in _VIEWS}
    certainty = float(find.answer.parts[PARTS.index("nose")][nose].mean())
    return FiringEnd(
        nose_box=_nose_box(find, nose),
        view=max(_VIEWS, key=lambda name: views[name]),
        view_probability={**views, "unknown": round(find.answer.views["none"], 4)},
        parts=PartMap(_own_parts(find), find.square.x, find.square.y, find.step),
        key_points=_key_points(find),
        score=certainty * find.agreement * (1 - find.answer.views["none"]),
        agreement=find.agreement,
    )


def _own_parts(find: _Find) -> NDArray[np.float32]:
    """Return the part map with the cells of other plugs turned into background."""
    if find.own.all():
        return find.answer.parts
    foreign = ~find.own & (find.answer.parts[1:8].sum(0) > 0.5)
    parts = find.answer.parts.copy()
    parts[:, foreign] = 0.0
    parts[0, foreign] = 1.0
    return parts


def _nose_box(find: _Find, nose: Mask) -> Box:
    rows, columns = np.flatnonzero(nose.any(1)), np.flatnonzero(nose.any(0))
    x, y = find.square.x + columns[0] * find.step, find.square.y + rows[0] * find.step
    width, height = (columns[-1] + 1 - columns[0]) * find.step, (rows[-1] + 1 - rows[0]) * find.step
    return max(round(x), 0), max(round(y), 0), max(round(width), 1), max(round(height), 1)


def _key_points(find: _Find) -> dict[str, tuple[float, float, float]]:
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


def _net_size(rgb: Picture, long_side: int) -> tuple[int, int]:
    """Return the net's input (width, height) for a whole picture; the nets have seen every turn, so upright stays upright."""
    height, width = rgb.shape[:2]
    scale = long_side / max(height, width)
    return rounded(width * scale), rounded(height * scale)


def _of(find: _Find, one: Instance, shape: tuple[int, ...]) -> Square:
    return around(one, (find.step, find.step), (find.square.x, find.square.y), shape)


def _holds(end: FiringEnd, other: FiringEnd) -> bool:
    x, y, w, h = end.nose_box
    cx, cy = nose_centre(other)
    return x <= cx <= x + w and y <= cy <= y + h


def _overlap(one: Mask, other: Mask) -> float:
    return float((one & other).sum()) / max(int((one | other).sum()), 1)


def _moved(end: FiringEnd, x: int, y: int) -> FiringEnd:
    left, top, width, height = end.nose_box
    parts = PartMap(end.parts.probability, end.parts.x0 + x, end.parts.y0 + y, end.parts.step)
    points = {name: (px + x, py + y, sure) for name, (px, py, sure) in end.key_points.items()}
    box = (left + x, top + y, width, height)
    return FiringEnd(box, end.view, end.view_probability, parts, points, end.score, end.agreement, end.by_hand)
