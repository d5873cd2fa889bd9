"""One closer look at one plug: what the net says of a square, which plug there is meant, and how well two looks agree."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plugread.photo.doubt import nearly_sure, nose_mask, sure_at_once
from plugread.photo.instances import Instance, instances, own_cells
from plugread.photo.part_net import Answer, PartNet
from plugread.photo.pyramid import Pyramid
from plugread.photo.squares import MULTIPLE, Square, around, emptied, resampled, rounded
from plugread.records import PARTS

Mask = NDArray[np.bool_]

# A closer look is repeated if the firing end fills less or more of it than these shares; pixels are enlarged no more than this.
_TOO_SMALL, _TOO_LARGE = 0.4, 0.9
_MOST_ENLARGED = 2.0


@dataclass(frozen=True, eq=False)
class Seen:
    """A look: which box (x, y, width, height) of the picture, and what the net said of it."""

    covers: tuple[float, float, float, float]
    answer: Answer

    def nose_on(self, square: Square, shape: tuple[int, ...]) -> Mask:
        """Return where it saw a nose, on the (rows, columns) cells of a square."""
        return resampled(self.answer.parts[PARTS.index("nose")], self.covers, square, shape) > 0.5


@dataclass(frozen=True, eq=False)
class Find:
    """A closer look at a plug: the plug meant, its cells, the others beside it, how well two looks agree on its nose (0-1)."""

    square: Square
    answer: Answer
    mine: Instance
    own: Mask
    others: tuple[Instance, ...]
    agreement: float = 0.0

    @property
    def step(self) -> float:
        """Pixels of the picture for one cell."""
        return self.square.side / int(self.answer.parts.shape[2])

    def nose(self) -> Mask:
        """Return the cells of its nose."""
        return nose_mask(self.answer, self.own)

    def place(self, one: Instance) -> tuple[float, float]:
        """Return the nose centre (x, y) of a plug seen here, in pixels of the picture."""
        return self.square.x + one.centre[0] * self.step, self.square.y + one.centre[1] * self.step

    def square_of(self, one: Instance, shape: tuple[int, ...]) -> Square:
        """Return the square to look at for a plug seen here, in a picture of `shape`."""
        return around(one, (self.step, self.step), (self.square.x, self.square.y), shape)


@dataclass(frozen=True)
class CloseLook:
    """Looks closely: sides of the net's input for a first closer look and for the two that follow a doubtful one."""

    net: PartNet
    first_px: int
    again_px: int

    def find(self, pyramid: Pyramid, square: Square, before: Seen) -> Find | None:
        """Return the plug in a square, looked at once more if it fills too little or too much; None if there is none."""
        seen = square, self._answer(pyramid, square, self.first_px)
        find = _found(*seen[1])
        if find is None:
            return None
        better = _better(find, square, pyramid)
        if better is not None:
            moved = better, self._answer(pyramid, better, self.first_px)
            there = _found(*moved[1])
            seen, find = (moved, there) if there is not None else (seen, find)
        return self._settled(pyramid, *seen, find, before)

    def _settled(self, pyramid: Pyramid, square: Square, seen: tuple[Square, Answer], find: Find, before: Seen) -> Find | None:
        """Return a find; after one mirrored look, or two larger ones, if it is not clear that the nose lies as seen `before`."""
        nose = find.nose()
        agreement = overlap(nose, before.nose_on(find.square, nose.shape) & find.own)
        if sure_at_once(find.answer, find.own, nose, agreement):
            return replace(find, agreement=agreement)
        if nearly_sure(find.answer, find.own, nose):
            again = self._mirrored(pyramid, square, seen, self.first_px)
            if again is not None and sure_at_once(again.answer, again.own, again.nose(), again.agreement):
                return again
        return self._mirrored(pyramid, square, self._answer(pyramid, square, self.again_px), self.again_px)

    def _mirrored(self, pyramid: Pyramid, square: Square, seen: tuple[Square, Answer], side_px: int) -> Find | None:
        """Return the plug in the mean of a look and one at the mirror image, with how well the two agree."""
        exact, plain = seen
        _, mirrored = self._answer(pyramid, square, side_px, mirrored=True)
        find = _found(exact, plain.averaged(mirrored))
        if find is None:
            return None
        return replace(find, agreement=overlap(nose_mask(plain, find.own), nose_mask(mirrored, find.own)))

    def _answer(self, pyramid: Pyramid, square: Square, most_px: int, *, mirrored: bool = False) -> tuple[Square, Answer]:
        """Return the square moved to whole pixels, and what the net says of it (of its mirror image, turned back)."""
        side = max(rounded(min(most_px, int(square.side * _MOST_ENLARGED))), 4 * MULTIPLE)
        crop, exact = pyramid.piece(square, side)
        if mirrored:
            answer = self.net.answer(np.ascontiguousarray(crop[:, ::-1]), (side, side)).mirrored()
        else:
            answer = self.net.answer(crop, (side, side))
        return exact, emptied(answer, exact, pyramid.shape)


def _better(find: Find, square: Square, pyramid: Pyramid) -> Square | None:
    """Return the square to look at instead where the plug fills too little or too much of one; None if it will do."""
    x0, y0, x1, y1 = find.mine.box
    filled = max(x1 - x0, y1 - y0) / find.answer.parts.shape[2]
    better = find.square_of(find.mine, pyramid.shape)
    return None if _TOO_SMALL < filled < _TOO_LARGE or 0.8 < better.side / square.side < 1.25 else better


def _found(square: Square, answer: Answer) -> Find | None:
    """Return the plug nearest to the middle of a closer look, None if it shows none."""
    plugs = instances(answer)
    if not plugs:
        return None
    middle = answer.parts.shape[2] / 2
    mine = min(plugs, key=lambda one: np.hypot(one.centre[0] - middle, one.centre[1] - middle) - 0.3 * np.sqrt(one.weight))
    others = tuple(one for one in plugs if one is not mine)
    return Find(square, answer, mine, own_cells(answer, mine, others), others)


def overlap(one: Mask, other: Mask) -> float:
    """Return intersection over union, 0-1."""
    return float((one & other).sum()) / max(int((one | other).sum()), 1)
