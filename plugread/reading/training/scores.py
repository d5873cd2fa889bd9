"""Scores of held-out judgements: right answers by reading with their intervals, log-loss, calibration and its noise."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Index = NDArray[np.intp]

Z_95 = 1.959963984540054
"""Two-sided 95 % point of the normal distribution."""
_BINS, _DRAWS, _NOISE = 10, 400, 0.95
_LEAST = 1e-12


@dataclass(frozen=True, eq=False)
class Scores:
    """How well m photos were judged; `confusion` (k, k) counts photos, rows the truth.

    `recall` has (share right, low, high) by reading. `ece` is the mean gap between stated chance and share right over ten bins of
    equal count; a perfectly calibrated model of this size would stay below `ece_noise` in 95 of 100 cases.
    """

    balanced_accuracy: float
    log_loss: float
    ece: float
    ece_noise: float
    confusion: Index
    recall: tuple[tuple[float, float, float], ...]


def score(chance: Floats, truth: Index, plug: NDArray[np.str_], seed: int) -> Scores:
    """Return the scores of chances (m, k) against the true column (m,); intervals count plugs, not photos."""
    from sklearn.metrics import confusion_matrix

    k = chance.shape[1]
    said = chance.argmax(1)
    confusion = confusion_matrix(truth, said, labels=range(k))
    recall = [wilson(float((said[truth == c] == c).mean()), len(set(plug[truth == c]))) for c in range(k)]
    right = np.maximum(chance[np.arange(len(truth)), truth], _LEAST)
    return Scores(
        balanced_accuracy=float(np.mean([share for share, _, _ in recall])),
        log_loss=float(-np.log(right).mean()),
        ece=calibration_error(chance.max(1), said == truth),
        ece_noise=_calibration_noise(chance.max(1), seed),
        confusion=np.asarray(confusion),
        recall=tuple(recall),
    )


def calibration_error(stated: Floats, right: NDArray[np.bool_]) -> float:
    """Return the expected calibration error over ten bins of equal count (Naeini, Cooper, Hauskrecht, AAAI 2015)."""
    order = np.argsort(stated, kind="stable")
    bins = [part for part in np.array_split(order, min(_BINS, len(order))) if len(part)]
    gaps = [abs(float(stated[part].mean() - right[part].mean())) * len(part) for part in bins]
    return sum(gaps) / len(order)


def _calibration_noise(stated: Floats, seed: int) -> float:
    """Return the error that a model whose chances all come true stays below in 95 of 100 draws."""
    rng = np.random.default_rng(seed)
    draws = [calibration_error(stated, rng.random(len(stated)) < stated) for _ in range(_DRAWS)]
    return float(np.quantile(draws, _NOISE))


def wilson(share: float, n: int) -> tuple[float, float, float]:
    """Return (share, low, high): the 95 % score interval (Wilson, JASA 22 (1927) 209) of a share seen in n independent cases."""
    square = Z_95**2 / n
    middle = (share + square / 2) / (1 + square)
    half = Z_95 / (1 + square) * math.sqrt(share * (1 - share) / n + square / (4 * n))
    return share, max(0.0, middle - half), min(1.0, middle + half)


def rules_chance(rules: Sequence[dict[str, float]], readings: Sequence[str], share: Floats) -> Floats:
    """Return what the colour rules alone say (m, k) of the same photos, told the same readings and shares as the model."""
    likelihood = np.array([[one[name] for name in readings] for one in rules])
    weighed = likelihood * share
    return np.asarray(weighed / weighed.sum(1, keepdims=True))


def mixed_up(confusion: Index, readings: Sequence[str], most: int = 8) -> list[tuple[str, str, int]]:
    """Return (truth, taken for, photos) of the commonest mistakes."""
    off = confusion - np.diag(np.diag(confusion))
    order = np.argsort(-off, axis=None, kind="stable")[:most]
    pairs = [tuple(int(i) for i in np.unravel_index(flat, off.shape)) for flat in order]
    return [(readings[i], readings[j], int(off[i, j])) for i, j in pairs if off[i, j] > 0]
