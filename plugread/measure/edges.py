"""An edge followed across a picture, column by column, to a fraction of a pixel: near where it is expected, and without jumps.

Source of the method: the smoothest steep path by dynamic programming, as for live contours (Amini, Weymouth, Jain, IEEE Trans.
PAMI 12 (1990) 855, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_MOST_STEP_PX, _STEP_COST = 3, 0.25
"""An edge moves at most so many rows from column to column, each at this cost in units of the steepest place."""


@dataclass(frozen=True, eq=False)
class Edge:
    """Row of the edge in each column (n,), and how clearly it stands out there (n,): its slope over that of the gap's light."""

    rows: Floats
    clearness: Floats


def follow(picture: NDArray[np.float32], expected: Floats, middle: Floats, *, reach_px: float, sigma_px: float) -> Edge:
    """Return the edge between metal and the light of the gap.

    Parameters
    ----------
    picture : float32 of shape (h, w, 3), encoded 0-1; the edge runs from column to column.
    expected : row of the edge in each column (w,), from the part map.
    middle : row of the middle of the gap in each column (w,); the metal lies on the other side of the edge.
    reach_px : how far off the expected row the edge may be (1 sigma).
    sigma_px : blur along the rows before the slope is taken.
    """
    side = 1 if np.median(expected - middle) > 0 else -1
    metal = _band(picture.shape, expected + side * reach_px * np.linspace(1.0, 2.5, 6)[:, None])
    light = _band(picture.shape, expected + (middle - expected) * np.linspace(0.5, 1.0, 6)[:, None])
    slope = _slope(picture, picture[metal].mean(0) - picture[light].mean(0), round(2 * reach_px) | 1, sigma_px) * side
    near = np.exp(-0.5 * ((np.arange(len(picture))[:, None] - expected[None]) / reach_px) ** 2)
    worth = np.clip(slope, 0, None) * near
    path = _best_path(worth / max(float(np.percentile(worth.max(0), 50)), 1e-9))
    usual = 1.4826 * float(np.median(np.abs(slope[light])))
    return Edge(_between_pixels(slope, path), slope[path, np.arange(len(path))] / max(usual, 1e-4))


def _band(shape: tuple[int, ...], rows: Floats) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    """Return the indices of rows (n, w) in their columns."""
    return np.clip(np.rint(rows).astype(int), 0, shape[0] - 1), np.broadcast_to(np.arange(shape[1]), rows.shape)


def _slope(picture: NDArray[np.float32], step: NDArray[np.float32], width: int, sigma_px: float) -> Floats:
    """Return the change of colour along the rows (h, w), as far as it goes from the colour of the light to that of the metal.

    `step` (w, 3) is that difference in each column; it is averaged over `width` columns.
    """
    size = int(np.ceil(3 * sigma_px)) * 2 + 1
    smooth = cv2.GaussianBlur(picture, (1, size), sigmaX=0.01, sigmaY=sigma_px, borderType=cv2.BORDER_REPLICATE)
    wide = cv2.blur(step[None].astype(np.float64), (max(3, width), 1), borderType=cv2.BORDER_REPLICATE)[0]
    way = wide / np.maximum(np.linalg.norm(wide, axis=-1), 1e-6)[:, None]
    return np.asarray((np.gradient(smooth.astype(np.float64), axis=0) * way[None]).sum(-1))


def _best_path(worth: Floats) -> NDArray[np.int_]:
    """Return the row in each column of the path that collects most worth at the cost of its steps."""
    height, width = worth.shape
    rows, steps = np.arange(height), np.arange(-_MOST_STEP_PX, _MOST_STEP_PX + 1)
    total, came = worth[:, 0], np.zeros((height, width), int)
    padded = np.full(height + 2 * _MOST_STEP_PX, -np.inf)
    within_reach = np.lib.stride_tricks.sliding_window_view(padded, len(steps))  # of each row, follows `padded`
    for column in range(1, width):
        padded[_MOST_STEP_PX : _MOST_STEP_PX + height] = total
        options = within_reach - _STEP_COST * np.abs(steps)
        best = options.argmax(1)
        came[:, column] = rows + steps[best]
        total = options[rows, best] + worth[:, column]
    path = np.zeros(width, int)
    path[-1] = int(total.argmax())
    for column in range(width - 1, 0, -1):
        path[column - 1] = came[path[column], column]
    return path


def _between_pixels(slope: Floats, path: NDArray[np.int_]) -> Floats:
    """Return the path with each row moved to the steepest beside it and refined by a parabola through the slope there."""
    columns = np.arange(slope.shape[1])
    k = np.clip(path, 2, len(slope) - 3)
    k = k - 1 + np.argmax([slope[k + d, columns] for d in (-1, 0, 1)], axis=0)
    a, b, c = (slope[k + d, columns] for d in (-1, 0, 1))
    bend = a - 2 * b + c
    shift = np.where(bend < 0, 0.5 * (a - c) / np.where(bend < 0, bend, -1.0), 0.0)
    return np.asarray(k + np.clip(shift, -0.5, 0.5))
