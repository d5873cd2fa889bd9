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


def follow(picture: NDArray[np.float32], expected: Floats, *, reach_px: float, sigma_px: float, metal_above: bool) -> Edge:
    """Return the edge between metal and the light of the gap.

    Parameters
    ----------
    picture : float32 of shape (h, w, 3), encoded 0-1; the edge runs from column to column.
    expected : row of the edge in each column (w,), from the part map.
    reach_px : how far off it may be (1 sigma); sigma_px : blur along the rows before the slope is taken.
    metal_above : True where the metal lies above the edge (the strap), False where below (the centre).
    """
    slope = _slope_towards_metal(picture, expected, reach_px, sigma_px, metal_above=metal_above)
    rows = np.arange(len(picture))[:, None]
    near = np.exp(-0.5 * ((rows - expected[None]) / reach_px) ** 2)
    worth = np.clip(slope, 0, None) * near
    path = _best_path(worth / max(float(np.percentile(worth.max(0), 50)), 1e-9))
    clearness = _clearness(slope, path, expected, -1 if metal_above else 1, reach_px)
    return Edge(_between_pixels(slope, path), clearness)


def _slope_towards_metal(
    picture: NDArray[np.float32], expected: Floats, reach_px: float, sigma_px: float, *, metal_above: bool
) -> Floats:
    """Return the change of colour along the rows (h, w), counted positive in the direction from the gap's light to the metal."""
    size = int(np.ceil(3 * sigma_px)) * 2 + 1
    smooth = cv2.GaussianBlur(picture, (1, size), sigmaX=0.01, sigmaY=sigma_px, borderType=cv2.BORDER_REPLICATE)
    side = -1 if metal_above else 1
    change = np.gradient(smooth.astype(np.float64), axis=0) * side
    step = _beside(picture, expected, side, reach_px).mean(0) - _beside(picture, expected, -side, reach_px).mean(0)
    width = max(3, round(2 * reach_px) | 1)
    step = cv2.blur(step[None], (width, 1), borderType=cv2.BORDER_REPLICATE)[0]
    step /= np.maximum(np.linalg.norm(step, axis=-1), 1e-6)[:, None]
    return np.asarray((change * step[None]).sum(-1))


def _beside(plane: NDArray[np.floating], expected: Floats, side: int, reach_px: float) -> Floats:
    """Return the values of a band to one side of the edge, shape (6, w, ...)."""
    offsets = side * np.linspace(1.0, 2.5, 6) * reach_px
    rows = np.clip(np.rint(expected[None] + offsets[:, None]).astype(int), 0, len(plane) - 1)
    return np.asarray(plane[rows, np.arange(plane.shape[1])[None]], np.float64)


def _clearness(slope: Floats, path: NDArray[np.int_], expected: Floats, side: int, reach_px: float) -> Floats:
    """Return the slope on the path over the usual slope in the gap's light (w,)."""
    usual = 1.4826 * float(np.median(np.abs(_beside(slope, expected, -side, reach_px))))
    return np.asarray(slope[path, np.arange(len(path))] / max(usual, 1e-4))


def _best_path(worth: Floats) -> NDArray[np.int_]:
    """Return the row in each column of the path that collects most worth at the cost of its steps."""
    height, width = worth.shape
    steps = np.arange(-_MOST_STEP_PX, _MOST_STEP_PX + 1)
    cost = _STEP_COST * np.abs(steps)[:, None]
    total, came = worth[:, 0], np.zeros((height, width), int)
    for column in range(1, width):
        padded = np.pad(total, _MOST_STEP_PX, constant_values=-np.inf)
        options = np.stack([padded[_MOST_STEP_PX + s : _MOST_STEP_PX + s + height] for s in steps]) - cost
        best = options.argmax(0)
        came[:, column] = np.arange(height) + steps[best]
        total = options[best, np.arange(height)] + worth[:, column]
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
