"""How the lines on an explaining picture look: each by its own dashes as well as its own colour, over a dark seam.

The dashes are what tells the lines apart for those who do not see the colours.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

SEAM, PAPER = (20, 20, 20), (255, 255, 255)

Ink = tuple[int, int, int]
Path = NDArray[np.int32]
"""Points (x, y) of a line, of shape (n, 2)."""


@dataclass(frozen=True)
class Style:
    """Colour of a line, and its dashes: lengths drawn and left out in turn, in line widths; () is a line without a break."""

    ink: Ink
    dash: tuple[float, ...] = ()


STYLES: Mapping[str, Style] = {
    "nose": Style((255, 176, 0)),
    "centre": Style((0, 158, 115), (1, 3)),
    "strap": Style((86, 180, 233), (6, 3)),
    "rim": Style((204, 121, 167), (3, 3)),
    "thread": Style((150, 150, 150), (12, 4)),
    "gap": Style(PAPER),
    "axis": Style(PAPER, (9, 3, 2, 3)),
    "reference": Style((240, 228, 66)),
}
"""In the order a key names them. The three without a break differ in shape: an outline, two strokes, a frame."""


def draw(canvas: NDArray[np.uint8], paths: Sequence[Path], style: Style, width: int, *, closed: bool) -> None:
    """Draw lines `width` pixels wide in one style, over an unbroken seam."""
    cv2.polylines(canvas, paths, closed, SEAM, 2 * width, cv2.LINE_AA)
    if not style.dash:
        cv2.polylines(canvas, paths, closed, style.ink, width, cv2.LINE_AA)
        return
    for path in paths:
        pieces = dashes(np.vstack([path, path[:1]]) if closed else path, [width * length for length in style.dash])
        cv2.polylines(canvas, pieces, False, style.ink, width, cv2.LINE_AA)


def dashes(path: Path, lengths: Sequence[float]) -> list[Path]:
    """Return the pieces of a line that are drawn where an even number of `lengths` is drawn and left out in turn."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    at = np.arange(0.0, along[-1], 1.0)
    points = np.stack([np.interp(at, along, path[:, k]) for k in (0, 1)], axis=-1).round().astype(np.int32)
    ends = np.cumsum(lengths)
    part = len(lengths) * (at // ends[-1]).astype(int) + np.searchsorted(ends, at % ends[-1], side="right")
    starts = np.flatnonzero(np.diff(part, prepend=-1))
    return [piece for first, piece in zip(starts, np.split(points, starts[1:]), strict=True) if part[first] % 2 == 0]
