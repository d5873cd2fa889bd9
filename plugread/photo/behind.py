"""Where the rest of a plug lies: hex, insulator and terminal behind the thread, whether the finder marked them or not.

White porcelain and bright hex faces are plain, neutral and straight-edged like paper: no reference is looked for there.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.photo.references import load_references
from plugread.pixels import Mask
from plugread.records import PARTS, FiringEnd

Floats = NDArray[np.float64]

_FRONT, _BACK = ("nose", "centre", "strap"), ("rim", "thread", "hex", "upper")
_LIKELY, _LEAST_CELLS, _LEAST_TURN = 0.5, 12, 0.25


def behind_mask(ends: tuple[FiringEnd, ...] | list[FiringEnd], size: tuple[int, int], scale: float) -> Mask:
    """Return where the bodies of the plugs must lie, on a grid of `size` (w, h) with cells of `scale` full-size pixels."""
    mask = np.zeros(size[::-1], np.uint8)
    for end in ends:
        body = body_outline(end)
        if body is not None:
            cv2.fillPoly(mask, [np.rint(body / scale).astype(np.int32)], (1,))
    return mask > 0


def body_outline(end: FiringEnd) -> Floats | None:
    """Return four corners (x, y), full-size pixels, of the strip behind the firing end; None seen end-on or without a thread."""
    front, back = _cells(end, _FRONT), _cells(end, _BACK)
    if min(len(front), len(back)) < _LEAST_CELLS:
        return None
    start, reach = front.mean(0), back.mean(0) - front.mean(0)
    length = float(np.hypot(*reach))
    along = reach / max(length, 1e-6)
    across = np.array([along[1], -along[0]])
    width = float(np.ptp(np.percentile((back - start) @ across, [2, 98])))
    if length < _LEAST_TURN * width:
        return None
    wider, longer = load_references().body
    half, end_at = wider * width / 2 * across, longer * width * along
    begin = length * along
    return np.array([start + begin - half, start + begin + half, start + end_at + half, start + end_at - half])


def shell_width_px(end: FiringEnd) -> float:
    """Return about how wide the shell is in full-size pixels; 0 where it is not seen."""
    cells = _cells(end, ("rim", "thread"))
    if len(cells) < _LEAST_CELLS:
        return 0.0
    _, (one, other), _ = cv2.minAreaRect(cells.astype(np.float32))
    return float(min(one, other))


def _cells(end: FiringEnd, names: tuple[str, ...]) -> Floats:
    """Return the middles (n, 2) of the cells that are likely one of the parts, full-size pixels."""
    parts = end.parts
    rows, columns = np.nonzero(parts.probability[[PARTS.index(name) for name in names]].sum(0) > _LIKELY)
    return np.stack([parts.x0 + (columns + 0.5) * parts.step, parts.y0 + (rows + 0.5) * parts.step], -1)
