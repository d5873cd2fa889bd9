"""Squares of a picture that are looked at closely: where they lie, what they show, what lies beyond the edge."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.photo.instances import Instance
from plugread.photo.part_net import Answer

MULTIPLE = 32
"""Sides of a net's input divide by this."""

LEAST_CROP_PX = 48
"""No square is smaller, and no smaller picture is searched (our own choice)."""

# A square is this many firing ends wide: six turns of the thread behind it, for the scale. More room costs sharpness: at 2.4 the
# nose's overlap was 0.83 instead of 0.90 (median of the samples, one look at 448 px).
_ROOM = 1.5


@dataclass(frozen=True)
class Square:
    """A square of the picture, pixels from its left and top edge; it may reach beyond them."""

    x: float
    y: float
    side: float

    def holds(self, place: tuple[float, float], share: float) -> bool:
        """Return whether a place (x, y) lies no further from its middle than a share of its side."""
        return bool(np.hypot(self.x + self.side / 2 - place[0], self.y + self.side / 2 - place[1]) < share * self.side)


def rounded(side: float) -> int:
    """Return the multiple of `MULTIPLE` nearest to a side, at least one."""
    return max(round(side / MULTIPLE), 1) * MULTIPLE


def around(one: Instance, cell: tuple[float, float], origin: tuple[float, float], shape: tuple[int, ...]) -> Square:
    """Return the square to look at for a plug seen with cells of `cell` (x, y) pixels from `origin`."""
    x0, y0, x1, y1 = one.box
    width, height = (x1 - x0) * cell[0], (y1 - y0) * cell[1]
    return about(origin[0] + (x0 + x1) / 2 * cell[0], origin[1] + (y0 + y1) / 2 * cell[1], max(width, height), shape)


def about(x: float, y: float, size: float, shape: tuple[int, ...]) -> Square:
    """Return the square to look at for a firing end of `size` pixels about (x, y)."""
    side = float(np.clip(_ROOM * size, LEAST_CROP_PX, max(shape[:2])))
    return Square(x - side / 2, y - side / 2, side)


def alike(one: Square, other: Square) -> bool:
    """Return whether two squares would show the same plug."""
    off = np.hypot(one.x + one.side / 2 - other.x - other.side / 2, one.y + one.side / 2 - other.y - other.side / 2)
    return bool(off < 0.15 * min(one.side, other.side))


def resampled(
    plane: NDArray[np.float32], covers: tuple[float, float, float, float], square: Square, shape: tuple[int, ...]
) -> NDArray[np.float32]:
    """Return a plane that covers a box (x, y, width, height) on the (rows, columns) cells of a square; 0 beyond the box."""
    step = square.side / shape[1]
    own = covers[2] / plane.shape[1], covers[3] / plane.shape[0]
    # Cell c of the result has its middle at square.x + (c + 0.5) step; cell c of the plane at covers.x + (c + 0.5) own.
    x = (square.x + step / 2 - covers[0]) / own[0] - 0.5
    y = (square.y + step / 2 - covers[1]) / own[1] - 0.5
    move = np.array([[step / own[0], 0.0, x], [0.0, step / own[1], y]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpAffine(plane, move, (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_CONSTANT))


def emptied(answer: Answer, square: Square, shape: tuple[int, ...]) -> Answer:
    """Return the answer with everything beyond the picture's edge turned into background."""
    cells = answer.parts.shape[1]
    step = square.side / cells
    middles = (np.arange(cells) + 0.5) * step
    inside = ((middles + square.y > 0) & (middles + square.y < shape[0]))[:, None] & (
        (middles + square.x > 0) & (middles + square.x < shape[1])
    )
    if inside.all():
        return answer
    parts = np.where(inside, answer.parts, 0.0).astype(np.float32)
    parts[0][~inside] = 1.0
    return Answer(parts, np.where(inside, answer.heats, 0.0).astype(np.float32), answer.offsets, answer.views, answer.qualities)
