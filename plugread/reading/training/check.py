"""How far a model can be trusted: every photo judged by a model that never saw its group.

Refusal by distance and sets of answers come from the same held-out judgements (cross-conformal: Vovk, Ann. Math. Artif. Intell.
74 (2015) 9; score 1 - chance of the truth: Sadinle, Lei, Wasserman, JASA 114 (2019) 223; both from memory). A plug scores as its
worst shot.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plugread.errors import ModelError
from plugread.reading.model import nearest, scaled_vector
from plugread.reading.training.fit import all_chances, best_candidate, fit, splits
from plugread.reading.training.study import Study

Floats = NDArray[np.float64]
Index = NDArray[np.intp]

ALPHA = 0.1
"""Share of plugs whose reading may lie outside the set of answers."""
KEPT = 0.995
"""Share of good photos that must not be refused as unlike anything seen; what is no firing end at all the surface net tells."""
SIZES = (10, 30, 100, 300, 1000)
"""Numbers of plugs at which the learning curve is taken."""


@dataclass(frozen=True, eq=False)
class HeldOut:
    """Judgements of m photos by models that never saw their group: chance (m, k), distance (m,), fold (m,)."""

    readings: tuple[str, ...]
    chance: Floats
    distance: Floats
    fold: Index


@dataclass(frozen=True)
class Trust:
    """Limits for the model, and how they did on plugs held out.

    `farthest` and `doubt` as in `Model`; `coverage` of plugs (all shots inside their sets), `set_size` the mean number of
    answers for a photo, `single` the share of photos with one answer; `refused` the share of good photos refused.
    """

    farthest: float
    doubt: float
    coverage: float
    photo_coverage: float
    set_size: float
    single: float
    refused: float


def hold_out(study: Study, seed: int) -> HeldOut:
    """Return held-out judgements; the choice of estimator is made anew inside each split.

    Raises
    ------
    ModelError
        if the groups cannot be parted so that two readings are learned at a time.
    """
    readings = tuple(sorted(set(study.reading.tolist())))
    chance = np.zeros((len(study.x), len(readings)))
    distance, fold = np.zeros(len(study.x)), np.zeros(len(study.x), np.intp)
    for k, (learn, check) in enumerate(splits(study.reading, study.group, 5, seed)):
        known = study.x[learn], study.reading[learn], study.group[learn]
        if len(set(known[1])) < 2:
            raise ModelError(
                f"the plugs cannot be parted by {study.grouped_by} so that two readings are learned and others checked",
                "teach it more plugs, of more engines",
            )
        model = fit(*known, name=best_candidate(*known, seed), seed=seed)
        chance[np.ix_(check, np.searchsorted(readings, model.readings))] = all_chances(model, study.x[check])
        distance[check] = [nearest(scaled_vector(model, row), model.centres, model.precision) for row in study.x[check]]
        fold[check] = k
    return HeldOut(readings, chance, distance, fold)


def trust(study: Study, held: HeldOut) -> Trust:
    """Return the limits, and what they give on folds they were not set on."""
    truth = np.searchsorted(held.readings, study.reading)
    score = 1 - held.chance[np.arange(len(truth)), truth]
    inside, size, far = np.zeros(len(score), bool), np.zeros(len(score)), np.zeros(len(score), bool)
    for k in range(held.fold.max() + 1):
        here, there = held.fold == k, held.fold != k
        most = conformal_limit(worst_shots(score[there], study.plug[there]))
        kept = (1 - held.chance[here] <= most) | (held.chance[here] == held.chance[here].max(1, keepdims=True))
        inside[here], size[here] = kept[np.arange(here.sum()), truth[here]], kept.sum(1)
        far[here] = held.distance[here] > np.quantile(held.distance[there], KEPT)
    return Trust(
        farthest=float(np.quantile(held.distance, KEPT)),
        doubt=conformal_limit(worst_shots(score, study.plug)),
        coverage=float(1 - worst_shots(~inside, study.plug).mean()),
        photo_coverage=float(inside.mean()),
        set_size=float(size.mean()),
        single=float((size == 1).mean()),
        refused=float(far.mean()),
    )


def worst_shots(score: Floats | NDArray[np.bool_], plug: NDArray[np.str_]) -> Floats:
    """Return the highest score of each plug."""
    _, which = np.unique(plug, return_inverse=True)
    worst = np.zeros(which.max() + 1)
    np.maximum.at(worst, which, score)
    return worst


def conformal_limit(scores: Floats) -> float:
    """Return the score that a new plug stays at or below with chance 1 - ALPHA; 1 where too few are known."""
    rank = math.ceil((len(scores) + 1) * (1 - ALPHA))
    return float(np.sort(scores)[rank - 1]) if rank <= len(scores) else 1.0


# ---- learning curve --------------------------------------------------------------------------------------


def learning_curve(study: Study, name: str, seed: int) -> list[tuple[int, float]]:
    """Return (plugs learned from, balanced accuracy on plugs held out), readings in turn; the last uses all there are."""
    from sklearn.metrics import recall_score

    folds = splits(study.reading, study.group, 5, seed)
    most = min(len(set(study.plug[learn])) for learn, _ in folds)
    curve = []
    for size in (*[size for size in SIZES if size < most], most):
        said = np.empty(len(study.x), study.reading.dtype)
        for learn, check in folds:
            some = learn[np.isin(study.plug[learn], _plugs_in_turn(study, learn, size, seed))]
            said[check] = _said(study, some, check, name, seed)
        recall = recall_score(study.reading, said, average="macro", labels=sorted(set(study.reading)), zero_division=0.0)
        curve.append((size, float(recall)))
    return curve


def _plugs_in_turn(study: Study, learn: Index, size: int, seed: int) -> list[str]:
    """Return `size` plugs, one of each reading in turn, in an order drawn by `seed`."""
    rng = np.random.default_rng(seed)
    queues = [
        rng.permutation(np.unique(study.plug[learn][study.reading[learn] == name])) for name in np.unique(study.reading[learn])
    ]
    rng.shuffle(queues)
    rounds = range(max(len(queue) for queue in queues))
    return [str(queue[k]) for k in rounds for queue in queues if k < len(queue)][:size]


def _said(study: Study, learn: Index, check: Index, name: str, seed: int) -> NDArray[np.str_]:
    if len(set(study.reading[learn].tolist())) < 2:
        return np.full(len(check), study.reading[learn][0])
    model = fit(study.x[learn], study.reading[learn], study.group[learn], name=name, seed=seed)
    best = all_chances(model, study.x[check]).argmax(1)
    return np.asarray(np.array(model.readings, np.str_)[best], np.str_)
