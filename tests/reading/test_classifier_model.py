"""The taught model predicts in plain numpy what scikit-learn predicts, refuses what it never saw, and answers in sets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plugread.reading.features import NAMES
from plugread.reading.model import Model, answers, predict
from plugread.reading.surface import NOTHING
from plugread.reading.training.fit import TEMPERATURE_FROM, all_chances, candidates, fit, splits
from tests.reading.taught import THREE, studied, three

MANY = {"normal": 40, "carbon_fouled": 36, "oil_fouled": 35}
SETS: dict[str, Mapping[str, int]] = {
    "three": THREE,
    "two": {"normal": 6, "oil_fouled": 5},
    "three, tempered": MANY,
    "two, tempered": {"normal": 60, "oil_fouled": 55},
}


def scikit(name: str, study: Any) -> Any:
    """The estimator as scikit-learn fits it, tempered by scikit-learn's own calibration from so many photos on."""
    steps = candidates()[name]
    if len(study.x) >= TEMPERATURE_FROM:
        from sklearn.calibration import CalibratedClassifierCV

        folds = splits(study.reading, study.group, 5, 1)
        steps = CalibratedClassifierCV(steps, method="temperature", cv=folds, ensemble=False)
    return steps.fit(study.x, study.reading)


@pytest.mark.parametrize("plugs", SETS)
@pytest.mark.parametrize("name", candidates())
def test_chances_equal_those_of_scikit_learn(plugs: str, name: str) -> None:
    """For every estimator, two and more readings, tempered or not, gaps in the data: equal to 1e-12."""
    study = studied(SETS[plugs])
    model = fit(study.x, study.reading, study.group, name=name, seed=1)
    reference = scikit(name, study)
    assert list(reference.classes_) == list(model.readings)
    assert np.isnan(study.x).any()
    np.testing.assert_allclose(all_chances(model, study.x), reference.predict_proba(study.x), rtol=0, atol=1e-12)


def test_many_photos_are_tempered_and_few_are_not() -> None:
    """A temperature is fitted only where there are enough photos for it."""
    few, many = three(), studied(MANY)
    name = next(iter(candidates()))
    assert fit(few.x, few.reading, few.group, name=name, seed=1).card["temperature"] == 1.0
    assert fit(many.x, many.reading, many.group, name=name, seed=1).card["temperature"] != 1.0


@pytest.fixture(scope="module")
def model() -> Model:
    study = three()
    return fit(study.x, study.reading, study.group, name="logistic regression, C = 0.1, measured features x 1", seed=1)


def test_splits_keep_groups_whole() -> None:
    """No group is on both sides of a split, every photo is checked once."""
    study = three()
    folds = splits(study.reading, study.group, 5, 1)
    assert all(not set(study.group[a]) & set(study.group[b]) for a, b in folds)
    assert sorted(np.concatenate([check for _, check in folds]).tolist()) == list(range(len(study.x)))


def test_a_feature_never_measured_in_training_says_nothing(model: Model) -> None:
    """What training never measured changes no chance, whatever it is now."""
    study = three()
    x = study.x.copy()
    x[:, NAMES.index("gap_mm")] = np.nan
    taught = fit(x, study.reading, study.group, name="logistic regression, C = 0.1, measured features x 1", seed=1)
    wild = x[0].copy()
    wild[NAMES.index("gap_mm")] = 1e6
    assert predict(taught, wild).chance == pytest.approx(predict(taught, x[0]).chance, abs=0)


@settings(max_examples=60, deadline=None)
@given(
    gaps=st.sets(st.integers(0, len(NAMES) - 1)),
    scale=st.floats(0, 1e6),
    seed=st.integers(0, 10_000),
)
def test_chances_are_chances(gaps: set[int], scale: float, seed: int) -> None:
    """Any vector, with any gaps and any size, gives chances that sum to one, a distance and a set that holds the likeliest."""
    study = three()
    taught = fit(study.x, study.reading, study.group, name="logistic regression, C = 1.0, measured features x 1", seed=1)
    vector = scale * np.random.default_rng(seed).normal(size=len(NAMES))
    vector[list(gaps)] = np.nan
    seen = predict(taught, vector)
    assert np.all(seen.chance >= 0) and seen.chance.sum() == pytest.approx(1)
    assert np.isfinite(seen.distance)
    assert taught.readings[int(seen.chance.argmax())] in seen.answers


def test_distance_is_that_of_mahalanobis(model: Model) -> None:
    """The distance to the nearest centre equals scipy's own."""
    from scipy.spatial.distance import mahalanobis

    from plugread.reading.model import nearest, scaled_vector

    scaled = scaled_vector(model, three().x[0])
    reference = min(mahalanobis(scaled, centre, model.precision) for centre in model.centres)
    assert nearest(scaled, model.centres, model.precision) == pytest.approx(reference, rel=1e-12)


def test_far_from_all_it_has_seen_is_not_known(model: Model) -> None:
    """A vector ten spreads off in every direction is far, however sure the chances are; one of the training set is near."""
    from plugread.reading.training.check import hold_out, trust

    study = three()
    limited = replace(model, farthest=trust(study, hold_out(study, 1)).farthest)
    off = np.nan_to_num(study.x[0], nan=0.0) + 10 * model.scale
    assert predict(limited, study.x[1]).known
    assert not predict(limited, off).known
    assert predict(limited, off).chance.max() > 0.9


@pytest.mark.parametrize(
    ("doubt", "expected"),
    [(0.0, ("b",)), (0.39, ("b",)), (0.41, ("b",)), (0.71, ("a", "b")), (0.91, ("a", "b", "c")), (1.0, ("a", "b", "c"))],
)
def test_sets_hold_what_cannot_be_ruled_out(model: Model, doubt: float, expected: tuple[str, ...]) -> None:
    """A reading stays while 1 - chance is at or below the limit; chances 0.3, 0.6, 0.1; the likeliest always stays."""
    small = replace(model, readings=("a", "b", "c"), doubt=doubt)
    assert answers(small, np.array([0.3, 0.6, 0.1])) == expected


def test_what_the_surface_net_takes_for_no_firing_end_is_not_known(model: Model) -> None:
    """The likeliest answer is none of the looks: said so, however near it lies; where nobody looked, nobody said so."""
    vector = three().x[1].copy()
    assert not predict(model, vector).nothing
    vector[NAMES.index(f"surface_{NOTHING}")] = 9.0
    seen = predict(replace(model, farthest=1e9), vector)
    assert seen.nothing and not seen.known
    vector[[name.startswith("surface_") for name in NAMES]] = np.nan
    assert not predict(model, vector).nothing
