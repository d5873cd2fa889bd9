"""A model fitted to measured photos: the estimator that does best on plugs it has not seen, its chances tempered, as arrays.

Everything is scikit-learn's; what is kept of it is a handful of arrays that plain numpy predicts from.
"""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plugread.reading.features import NAMES
from plugread.reading.model import Model, chances, scaled_vector
from plugread.reading.surface import ANSWERS

Floats = NDArray[np.float64]
Names = NDArray[np.str_]
Index = NDArray[np.intp]
Split = tuple[Index, Index]

STRENGTHS = (0.01, 0.03, 0.1, 0.3, 1.0)
"""Inverse penalties of the logistic regression that are tried."""
HELD_BACK = (1.0, 0.15)
"""Weights of the measured features beside the surface net's that are tried: many weak ones drown few strong ones (our choice)."""
TEMPERATURE_FROM = 200
"""Photos from which a temperature is fitted: with fewer it would follow chance more than it mends."""
_ROUNDS = 2000
_LEAST_CHANCE = 1e-12


def splits(reading: Names, group: Index, most: int, seed: int) -> list[Split]:
    """Return up to `most` (learn, check) splits that keep groups whole and readings in proportion."""
    from sklearn.model_selection import StratifiedGroupKFold

    fewest = min(len(set(group[reading == name])) for name in set(reading))
    folds = int(np.clip(fewest, 2, most))
    cut = StratifiedGroupKFold(folds, shuffle=True, random_state=seed)
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "The least populated class")  # of one group; it is then learned or checked, not both
        return list(cut.split(np.zeros(len(group)), reading, group))


def candidates() -> dict[str, Any]:
    """Return the estimators that are tried, by what they are called in the model card; each with gaps filled, features scaled."""
    from sklearn.linear_model import LogisticRegression

    return {
        f"logistic regression, C = {c}, measured features x {w:g}": _pipeline(LogisticRegression(C=c, max_iter=_ROUNDS), w)
        for w in HELD_BACK
        for c in STRENGTHS
    }


def _pipeline(estimator: Any, held_back: float) -> Any:
    from sklearn.impute import SimpleImputer
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import FunctionTransformer, StandardScaler

    weigh = FunctionTransformer(_weighed, kw_args={"held_back": held_back})
    return make_pipeline(SimpleImputer(keep_empty_features=True), StandardScaler(), weigh, estimator)


def _weighed(scaled: Floats, held_back: float) -> Floats:
    return scaled * feature_weights(scaled.shape[1], held_back)


def feature_weights(count: int, held_back: float) -> Floats:
    """Return the weight of each of `count` features before the penalty: 1 for the surface net's, the last ones of `NAMES`."""
    weight = np.full(count, held_back)
    weight[len(NAMES) - len(ANSWERS) :] = 1.0
    return weight


def best_candidate(x: Floats, reading: Names, group: Index, seed: int) -> str:
    """Return the name of the candidate with the least log-loss on plugs held out; the middle one where none can be held out."""
    folds = [fold for fold in splits(reading, group, 4, seed) if len(set(reading[fold[0]])) > 1]
    if not folds:
        return list(candidates())[len(STRENGTHS) // 2]
    return min(candidates(), key=lambda name: _held_out_loss(candidates()[name], x, reading, folds))


def _held_out_loss(estimator: Any, x: Floats, reading: Names, folds: list[Split]) -> float:
    from sklearn.base import clone

    losses = []
    for learn, check in folds:
        fitted = clone(estimator).fit(x[learn], reading[learn])
        chance = fitted.predict_proba(x[check])
        column = {name: k for k, name in enumerate(fitted.classes_)}
        right = [row[column[name]] if name in column else 0.0 for row, name in zip(chance, reading[check], strict=True)]
        losses.append(-np.log(np.maximum(right, _LEAST_CHANCE)).mean())
    return float(np.mean(losses))


def fit(x: Floats, reading: Names, group: Index, *, name: str, seed: int) -> Model:
    """Return the model of one candidate, not yet told how far it can be trusted.

    Parameters
    ----------
    x : features of shape (m, n), NaN where nothing was measured.
    reading, group : of shape (m,).
    name : a key of `candidates`.
    """
    steps, inverse_temperature = _fitted(candidates()[name], x, reading, group, seed)
    scaler, weigh, estimator = steps[1:]
    weights, bias = _one_row_each(_weighed(estimator.coef_, **weigh.kw_args), estimator.intercept_)
    names, counts = np.unique(reading, return_counts=True)
    bare = Model(
        readings=tuple(str(one) for one in names),
        mean=scaler.mean_,
        scale=scaler.scale_,
        used=np.asarray(np.isfinite(x).any(0), np.float64),
        weights=weights * inverse_temperature,
        bias=bias * inverse_temperature,
        share=counts / counts.sum(),
        centres=np.zeros((len(names), x.shape[1])),
        precision=np.eye(x.shape[1]),
        farthest=np.inf,
        doubt=1.0,
        card={"estimator": name, "temperature": 1 / inverse_temperature},
    )
    return _with_distances(bare, x, reading)


def _fitted(steps: Any, x: Floats, reading: Names, group: Index, seed: int) -> tuple[Any, float]:
    """Return the fitted pipeline, and the factor its scores are to be multiplied by so that chances come true."""
    folds = splits(reading, group, 5, seed)
    if len(x) < TEMPERATURE_FROM or any(set(reading[learn]) != set(reading) for learn, _ in folds):
        return steps.fit(x, reading), 1.0
    from sklearn.calibration import CalibratedClassifierCV

    tempered = CalibratedClassifierCV(steps, method="temperature", cv=folds, ensemble=False).fit(x, reading)
    inner = tempered.calibrated_classifiers_[0]
    both_ways = 2 if len(set(reading)) == 2 else 1  # of two readings scikit-learn tempers (-score, score)
    return inner.estimator, both_ways * float(inner.calibrators[0].beta_)


def _one_row_each(weights: Floats, bias: Floats) -> tuple[Floats, Floats]:
    """Return one row of weights for each reading; scikit-learn keeps a single row for two."""
    if len(weights) > 1:
        return weights, bias
    return np.vstack([np.zeros_like(weights), weights]), np.concatenate([np.zeros(1), bias])


def _with_distances(model: Model, x: Floats, reading: Names) -> Model:
    from dataclasses import replace

    from sklearn.covariance import LedoitWolf

    scaled = np.array([scaled_vector(model, row) for row in x])
    centres = np.array([scaled[reading == name].mean(0) for name in model.readings])
    within = scaled - centres[np.searchsorted(model.readings, reading)]
    precision = LedoitWolf(assume_centered=True).fit(within).precision_
    return replace(model, centres=centres, precision=precision)


def all_chances(model: Model, x: Floats) -> Floats:
    """Return the chances (m, k) of a whole table."""
    return np.array([chances(model, scaled_vector(model, row)) for row in x])
