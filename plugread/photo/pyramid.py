"""A picture at full, half, quarter... size, and pieces of it at about the size asked for.

Averaging two by two is many times quicker than any other reduction and blurs nothing that the smaller size could show; the rest
of the way, less than a factor of two, is left to whoever uses the piece.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.photo.squares import Square
from plugread.pixels import halved

Picture = NDArray[np.uint8]


class Pyramid:
    """A picture, uint8 of shape (h, w, 3), and its smaller copies, each made when first needed."""

    def __init__(self, rgb: Picture) -> None:
        self._levels = [rgb]
        self.shape = rgb.shape

    def whole(self, width: int) -> Picture:
        """Return the whole picture at `width` pixels or up to twice as many (fewer only where it has fewer)."""
        return self._level(self._depth(self.shape[1] / width))

    def piece(self, square: Square, side: int) -> tuple[Picture, Square]:
        """Return the pixels of a square, `side` to twice `side` wide, and the square moved to whole pixels.

        Beyond the edge the outermost pixels are repeated.
        """
        depth = self._depth(square.side / side)
        step, level = 2**depth, self._level(depth)
        x, y, wide = (max(round(v / step), low) for v, low in ((square.x, -(10**9)), (square.y, -(10**9)), (square.side, 1)))
        height, width = level.shape[:2]
        inner = level[max(y, 0) : max(y + wide, 1), max(x, 0) : max(x + wide, 1)]
        edges = max(-y, 0), max(y + wide - height, 0), max(-x, 0), max(x + wide - width, 0)
        pixels = cv2.copyMakeBorder(inner, *edges, cv2.BORDER_REPLICATE)
        return np.asarray(pixels, np.uint8), Square(x * step, y * step, wide * step)

    def _depth(self, shrink: float) -> int:
        """Return how many halvings still leave at least the size asked for."""
        return max(int(np.floor(np.log2(max(shrink, 1.0)) + 1e-9)), 0)

    def _level(self, depth: int) -> Picture:
        while len(self._levels) <= depth:
            self._levels.append(np.asarray(halved(self._levels[-1]), np.uint8))
        return self._levels[depth]
