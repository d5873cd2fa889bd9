"""Tells the plugs of one picture apart: each cell of a firing end points to the nose centre of its own plug.

The votes are gathered; where many meet lies a plug. Plugs that touch, or whose outlines overlap, are told apart as long
as their noses lie apart (the idea of pixel voting: Leibe et al., "Robust object detection with interleaved categorization
and segmentation", IJCV 77, 2008).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.photo.part_net import Answer
from plugread.records import PARTS

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]

_FIRING_END = tuple(PARTS.index(name) for name in ("nose", "centre", "strap", "rim"))

# Our own choices. Least weight (summed probability) of a plug, in cells and as a share of the heaviest; reach of one plug's votes
# and the first guess of it, both as shares of the square root of the area that votes, and its bounds in cells; how many plugs one
# picture may show; least probability of being firing end for a cell that votes.
_LEAST_CELLS, _LEAST_SHARE = 24.0, 0.02
_REACH, _FIRST_REACH, _REACH_CELLS = 0.55, 0.15, (5.0, 96.0)
_MOST_PLUGS, _VOTER = 16, 0.4


@dataclass(frozen=True, eq=False)
class Instance:
    """One plug in an answer: its nose centre (x, y) in cells, its firing end's box (x0, y0, x1, y1) in cells and its weight."""

    centre: tuple[float, float]
    box: tuple[float, float, float, float]
    weight: float


def instances(answer: Answer) -> tuple[Instance, ...]:
    """Return the plugs whose firing end shows in an answer, the most certain first."""
    chance = answer.parts[list(_FIRING_END)].sum(0)
    rows, columns = np.nonzero(chance > _VOTER)
    weight = chance[rows, columns]
    votes = np.stack([columns + 0.5 + answer.offsets[0, rows, columns], rows + 0.5 + answer.offsets[1, rows, columns]], -1)
    found: list[Instance] = []
    free = np.ones(len(rows), bool)
    while len(found) < _MOST_PLUGS and weight[free].sum() >= _LEAST_CELLS:
        first = float(np.clip(_FIRST_REACH * np.sqrt(weight[free].sum()), *_REACH_CELLS))
        peak = _peak(votes[free], weight[free], chance.shape, blur=first / 2)
        mine = free & _near(votes, weight, peak, free, first)
        if weight[mine].sum() < max(_LEAST_CELLS, _LEAST_SHARE * max((one.weight for one in found), default=0.0)):
            break
        found.append(_instance(votes[mine], weight[mine], columns[mine], rows[mine]))
        free &= ~mine
    return tuple(_without_doubles(found))


def own_cells(answer: Answer, mine: Instance, others: tuple[Instance, ...]) -> Mask:
    """Return which cells point nearer to this plug's nose than to any other's; True everywhere without others."""
    if not others:
        return np.ones(answer.parts.shape[1:], bool)
    rows, columns = np.mgrid[: answer.parts.shape[1], : answer.parts.shape[2]]
    x, y = columns + 0.5 + answer.offsets[0], rows + 0.5 + answer.offsets[1]
    distance = [np.hypot(x - one.centre[0], y - one.centre[1]) for one in (mine, *others)]
    return np.asarray(np.argmin(distance, axis=0) == 0)


def _peak(votes: Floats, weight: Floats, shape: tuple[int, ...], blur: float) -> tuple[float, float]:
    """Return where most votes meet, (x, y) in cells."""
    height, width = shape
    x = np.clip(votes[:, 0], 0, width - 1).astype(int)
    y = np.clip(votes[:, 1], 0, height - 1).astype(int)
    gathered = np.bincount(y * width + x, weight, height * width).reshape(height, width).astype(np.float32)
    blurred = cv2.GaussianBlur(gathered, (0, 0), blur)
    row, column = np.unravel_index(int(np.argmax(blurred)), blurred.shape)
    return float(column) + 0.5, float(row) + 0.5


def _near(votes: Floats, weight: Floats, peak: tuple[float, float], free: Mask, first: float) -> Mask:
    """Return the votes that belong to a peak: the reach grows with the number of cells that vote for it."""
    distance = np.hypot(votes[:, 0] - peak[0], votes[:, 1] - peak[1])
    reach = first
    for _ in range(4):
        area = weight[free & (distance < reach)].sum()
        reach = float(np.clip(_REACH * np.sqrt(area), *_REACH_CELLS))
    return np.asarray(distance < reach)


def _instance(votes: Floats, weight: Floats, columns: NDArray[np.int_], rows: NDArray[np.int_]) -> Instance:
    x, y = np.average(votes, axis=0, weights=weight)
    low = np.percentile(columns, 1), np.percentile(rows, 1)
    high = np.percentile(columns, 99) + 1, np.percentile(rows, 99) + 1
    return Instance((float(x), float(y)), (float(low[0]), float(low[1]), float(high[0]), float(high[1])), float(weight.sum()))


def _without_doubles(found: list[Instance]) -> list[Instance]:
    """Drop a plug whose nose centre lies inside a heavier one's reach: stray votes of the same plug."""
    kept: list[Instance] = []
    for one in sorted(found, key=lambda i: -i.weight):
        if all(_apart(one, other) for other in kept):
            kept.append(one)
    return kept


def _apart(small: Instance, large: Instance) -> bool:
    distance = np.hypot(small.centre[0] - large.centre[0], small.centre[1] - large.centre[1])
    nearest = (
        0.4 if small.weight > 0.5 * large.weight else 0.7
    )  # our own choice: a like-sized plug may lie closer than a stray one
    return bool(distance > nearest * np.sqrt(large.weight))
