"""A net that always knows: it reads part and plug numbers that a test wrote into the picture's red and green."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.photo.part_net import CELL_PX, Answer
from plugread.records import PARTS

STEP = 20
"""Code values for one part (red) or plug (green)."""

SURE = 0.97

NOSE, CENTRE, STRAP, RIM, THREAD, HEX = (PARTS.index(n) for n in ("nose", "centre", "strap", "rim", "thread", "hex"))


def coded(parts: NDArray[np.integer], plug: NDArray[np.integer]) -> NDArray[np.uint8]:
    """Return a picture that carries the part (red) and plug (green) of each pixel."""
    return np.stack([parts * STEP, plug * STEP, np.zeros_like(parts)], -1).astype(np.uint8)


class Oracle:
    """Answers like a perfect net; `view` and `quality` are what it says of every crop that shows a nose.

    `wander` lets the votes for the nose centre miss by that share of the firing end's size (one standard deviation).
    """

    def __init__(self, *, view: str = "side", quality: str = "fine", sure: float = SURE, wander: float = 0.0) -> None:
        self.view, self.quality, self.sure, self.wander = view, quality, sure, wander
        self.asked: list[tuple[int, int]] = []

    def answer(self, rgb: NDArray[np.uint8], size: tuple[int, int]) -> Answer:
        self.asked.append(size)
        cells = (size[0] // CELL_PX, size[1] // CELL_PX)
        small = cv2.resize(rgb, cells, interpolation=cv2.INTER_NEAREST)
        parts, plug = small[..., 0] // STEP, small[..., 1] // STEP
        chance = np.full((len(PARTS), *parts.shape), (1 - self.sure) / (len(PARTS) - 1), np.float32)
        np.put_along_axis(chance, parts[None].astype(np.int64), self.sure, axis=0)
        view = self.view if (parts == NOSE).any() else "none"
        views = {name: 0.94 if name == view else 0.02 for name in ("none", "side", "oblique", "end")}
        qualities = {name: 0.94 if name == self.quality else 0.02 for name in ("fine", "blurred", "blown_out", "too_dark")}
        return Answer(chance, _heats(parts), self._votes(parts, plug), views, qualities)

    def _votes(self, parts: NDArray[np.uint8], plug: NDArray[np.uint8]) -> NDArray[np.float32]:
        noise = np.random.default_rng(1).normal(0, 1, (2, *parts.shape))
        size = np.sqrt(np.isin(parts, (NOSE, CENTRE, STRAP, RIM)).sum() / max(len(np.unique(plug)) - 1, 1))
        return np.asarray(_offsets(parts, plug) + self.wander * size * noise, np.float32)


def _offsets(parts: NDArray[np.uint8], plug: NDArray[np.uint8]) -> NDArray[np.float32]:
    rows, columns = np.mgrid[: parts.shape[0], : parts.shape[1]] + 0.5
    offsets = np.zeros((2, *parts.shape), np.float32)
    for number in np.unique(plug[plug > 0]):
        mine = plug == number
        nose = mine & (parts == NOSE)
        at = nose if nose.any() else mine
        offsets[0][mine] = (columns[at].mean() - columns)[mine]
        offsets[1][mine] = (rows[at].mean() - rows)[mine]
    return offsets


def _heats(parts: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Strap, centre and rim each have their heat at their own middle, the thread its own; the rest stays cold."""
    heats = np.zeros((5, *parts.shape), np.float32)
    rows, columns = np.mgrid[: parts.shape[0], : parts.shape[1]]
    for channel, part in enumerate((STRAP, CENTRE, RIM, THREAD, NOSE)):
        here = parts == part
        if here.any():
            far = (rows - rows[here].mean()) ** 2 + (columns - columns[here].mean()) ** 2
            heats[channel] = np.exp(-far / 8)
    return heats
