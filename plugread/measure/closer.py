"""A closer look at the electrodes: the net once more, on a few millimetres about the gap, so that its cells are far finer.

The whole firing end is looked at with cells of about 0.1 mm; here they are about 0.05 mm.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.measure.axis import UprightPlug
from plugread.photo.part_net import shipped_net
from plugread.resources import models_dir

Look = Callable[[NDArray[np.uint8]], NDArray[np.float32]]
"""From a square picture (h, w, 3), encoded RGB, to part probabilities (9, cells, cells), channels as `PARTS`."""

WINDOW_MM, BEFORE_MM = 9.0, 1.5
"""Side of the square looked at, and how much of it lies in front of the foremost part of the plug."""
NET_PX, MOST_ENLARGED = 384, 2.0
"""Side of the picture given to the net, and how much it may be enlarged to that."""


def shipped_look(rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return what the shipped net marks in a square picture; see `Look`.

    Raises
    ------
    ModelError
        The shipped model is missing or damaged.
    """
    return shipped_net(models_dir() / "locator").answer(rgb, (rgb.shape[1], rgb.shape[0])).parts


def closer(plug: UprightPlug, px_per_mm: float, look: Look) -> tuple[UprightPlug, tuple[int, int]] | None:
    """Return the plug cut down to the electrodes, with finer part maps, and its corner (u, v); None outside the picture."""
    body = plug.probability("nose", "centre", "strap", "rim", "thread") > 0.5
    rows = np.flatnonzero(body.any(1))
    if not len(rows):
        return None
    side, height, width = round(WINDOW_MM * px_per_mm), *body.shape
    top = int(np.clip(rows[0] - BEFORE_MM * px_per_mm, 0, max(height - side, 0)))
    left = int(np.clip(width / 2 - side / 2, 0, max(width - side, 0)))
    rgb = plug.rgb[top : top + side, left : left + side]
    side = min(rgb.shape[:2])
    if side < 4 * px_per_mm:
        return None
    rgb = np.ascontiguousarray(rgb[:side, :side])
    part = look(_net_picture(rgb))
    step = side / part.shape[-1]
    fine = np.stack([cv2.resize(plane, (side, side), interpolation=cv2.INTER_LINEAR) for plane in part])
    to_photo = plug.to_photo.copy()
    to_photo[:, 2] += plug.to_photo[:, :2] @ (left, top)
    return replace(plug, rgb=rgb, part=fine, to_photo=to_photo, step=step), (left, top)


def _net_picture(rgb: NDArray[np.float32]) -> NDArray[np.uint8]:
    side = min(NET_PX, max(int(rgb.shape[0] * MOST_ENLARGED) // 32 * 32, 96))
    way = cv2.INTER_AREA if side < rgb.shape[0] else cv2.INTER_CUBIC
    small = cv2.resize(rgb, (side, side), interpolation=way)
    return np.asarray(np.clip(small * 255 + 0.5, 0, 255), np.uint8)
