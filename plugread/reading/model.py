"""A taught model: arrays that turn a feature vector into chances, how far it has seen, and what it cannot tell apart.

Plain numpy, so that reading a photo never loads scikit-learn; the chances equal those of the fitted model it was taken from.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plugread.reading.features import NAMES
from plugread.reading.surface import ANSWERS, NOTHING

Floats = NDArray[np.float64]


_SURFACE = slice(NAMES.index(f"surface_{ANSWERS[0]}"), NAMES.index(f"surface_{NOTHING}") + 1)
"""What the surface net says, no firing end last."""


@dataclass(frozen=True, eq=False)
class Model:
    """What was learned; k readings, n features.

    Parameters
    ----------
    readings : the ids it tells apart, in the order of the rows below.
    mean, scale : of shape (n,); a feature that was not measured counts as its mean.
    used : of shape (n,), 1 for a feature that was ever measured while learning, else 0.
    weights, bias : of shapes (k, n) and (k,); divided by the temperature already.
    share : of shape (k,), each reading's share of the training photos.
    centres : of shape (k, n), the mean of each reading after scaling.
    precision : of shape (n, n), inverse of the spread within readings after scaling.
    farthest : distance past which a firing end is unlike anything it was taught.
    doubt : a reading belongs to the set of answers while 1 - its chance stays at or below this.
    card : the model card as it was loaded.
    """

    readings: tuple[str, ...]
    mean: Floats
    scale: Floats
    used: Floats
    weights: Floats
    bias: Floats
    share: Floats
    centres: Floats
    precision: Floats
    farthest: float
    doubt: float
    card: Mapping[str, Any]


@dataclass(frozen=True, eq=False)
class Prediction:
    """Chances (k,) in the order of the model's readings, the distance to what it has seen, and the set of answers.

    `nothing` says that this is, as it seems, no firing end; `known` is false then, and where it is unlike all that was seen.
    """

    chance: Floats
    distance: float
    answers: tuple[str, ...]
    known: bool
    nothing: bool = False


def predict(model: Model, vector: Floats) -> Prediction:
    """Return what the model makes of one feature vector of shape (n,)."""
    scaled = scaled_vector(model, vector)
    chance = chances(model, scaled)
    distance = nearest(scaled, model.centres, model.precision)
    nothing = _is_nothing(vector)
    return Prediction(chance, distance, answers(model, chance), distance <= model.farthest and not nothing, nothing)


def _is_nothing(vector: Floats) -> bool:
    """Return whether no firing end is the likeliest answer of the surface net; where it did not look, nobody said so."""
    *looks, nothing = vector[_SURFACE]
    return bool(nothing > max(looks))  # NaN, where the surface was not looked at, is not larger


def answers(model: Model, chance: Floats) -> tuple[str, ...]:
    """Return the set of readings that cannot be ruled out, the likeliest always among them."""
    kept = (1 - chance <= model.doubt) | (chance == chance.max())
    return tuple(name for name, stays in zip(model.readings, kept, strict=True) if stays)


def scaled_vector(model: Model, vector: Floats) -> Floats:
    """Return the vector in units of the training spread; 0 where nothing was measured now or ever."""
    measured = np.isfinite(vector) & (model.used > 0)
    return np.where(measured, (np.where(measured, vector, 0.0) - model.mean) / model.scale, 0.0)


def chances(model: Model, scaled: Floats) -> Floats:
    """Return the chance of each reading, shape (k,), summing to 1."""
    score = model.weights @ scaled + model.bias
    raised = np.exp(score - score.max())
    return np.asarray(raised / raised.sum())


def nearest(scaled: Floats, centres: Floats, precision: Floats) -> float:
    """Return the Mahalanobis distance to the nearest centre."""
    off = centres - scaled
    return float(np.sqrt((off @ precision * off).sum(1).min()))
