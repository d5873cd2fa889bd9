"""Scores of held-out judgements, against published numbers, references and numbers worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plugread.reading.training.check import conformal_limit, hold_out, learning_curve, trust, worst_shots
from plugread.reading.training.scores import calibration_error, mixed_up, rules_chance, score, wilson
from tests.reading.taught import studied, three


def test_wilson_interval_equals_that_of_scipy() -> None:
    """The score interval is the one scipy gives for the same counts (scipy.stats.binomtest, method "wilson")."""
    from scipy.stats import binomtest

    for right, n in ((0, 5), (1, 3), (8, 10), (29, 29), (250, 300)):
        interval = binomtest(right, n).proportion_ci(0.95, "wilson")
        assert wilson(right / n, n)[1:] == pytest.approx((interval.low, interval.high), abs=1e-12)


def test_calibration_error_worked_by_hand() -> None:
    """Twenty answers, ten bins of two: stated 0.9 throughout, 15 right in such an order that 5 bins have one wrong.

    A bin with both right is off by 0.1, one with one right by 0.4: 0.5 * 0.1 + 0.5 * 0.4 = 0.25.
    """
    right = np.array([True, True] * 5 + [True, False] * 5)
    assert calibration_error(np.full(20, 0.9), right) == pytest.approx(0.25)


def test_chances_that_come_true_stay_under_the_noise() -> None:
    """Answers drawn by their own chances are called calibrated, answers that claim too much are not."""
    rng = np.random.default_rng(3)
    true = rng.uniform(0.5, 1.0, 600)
    truth = (rng.random(600) > true).astype(np.intp)
    plug = np.arange(600).astype(str)
    honest = score(np.stack([true, 1 - true], 1), truth, plug, 1)
    boastful = score(np.stack([np.full(600, 0.99), np.full(600, 0.01)], 1), truth, plug, 1)
    assert honest.ece <= honest.ece_noise
    assert boastful.ece > 3 * boastful.ece_noise


def test_scores_equal_those_of_scikit_learn() -> None:
    """Balanced accuracy and log-loss are scikit-learn's."""
    from sklearn.metrics import balanced_accuracy_score, log_loss

    rng = np.random.default_rng(5)
    chance = rng.dirichlet(np.ones(4), 200)
    truth = rng.integers(0, 4, 200)
    scores = score(chance, truth, np.arange(200).astype(str), 1)
    assert scores.balanced_accuracy == pytest.approx(balanced_accuracy_score(truth, chance.argmax(1)))
    assert scores.log_loss == pytest.approx(log_loss(truth, chance))


def test_intervals_count_plugs_and_not_photos() -> None:
    """Ten photos of one plug are one piece of evidence: the interval is as wide as for one."""
    chance = np.tile([0.9, 0.1], (11, 1))
    scores = score(chance, np.array([0] * 10 + [1]), np.array(["a"] * 10 + ["b"]), 1)
    assert scores.recall[0] == wilson(1.0, 1)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=60))
def test_conformal_limit_is_a_rank(scores: list[float]) -> None:
    """At least (1 - alpha)(n + 1) scores lie at or below the limit; it is 1 where n is under nine."""
    limit = conformal_limit(np.array(scores))
    assert sum(one <= limit for one in scores) >= min(0.9 * (len(scores) + 1), len(scores))
    assert limit == 1.0 or len(scores) >= 9


def test_a_plug_scores_as_its_worst_shot() -> None:
    """Of several shots the highest score stands for the plug."""
    plug = np.array(["b", "a", "b", "a"])
    assert worst_shots(np.array([0.2, 0.5, 0.9, 0.1]), plug).tolist() == [0.5, 0.9]


def test_sets_cover_what_they_promise() -> None:
    """Over 150 plugs held out, sets at alpha 0.1 hold the truth for 0.87 to 0.97 of plugs, and good plugs are seldom refused.

    The bounds are three standard deviations of 150 draws at 0.9, rounded up, and the half that cross-fitting may add.
    """
    study = studied(dict.fromkeys(("normal", "carbon_fouled", "oil_fouled", "glazed", "worn"), 30), apart=0.2)
    limits = trust(study, hold_out(study, 1))
    assert 0.87 <= limits.coverage <= 0.97
    assert limits.photo_coverage >= limits.coverage
    assert limits.refused <= 0.06
    assert 1 <= limits.set_size <= 5


def test_no_photo_is_judged_by_a_model_that_saw_its_group() -> None:
    """Readings shuffled over the plugs cannot be learned: held out, they come out at chance although a fit would know them."""
    from dataclasses import replace

    study = studied({"normal": 20, "carbon_fouled": 20}, shots=3)
    plugs = np.unique(study.plug)
    order = dict(zip(plugs, np.random.default_rng(7).permutation(["normal", "carbon_fouled"] * 20), strict=True))
    shuffled = replace(
        study,
        reading=np.array([order[plug] for plug in study.plug]),
        group=np.unique(study.plug, return_inverse=True)[1],
    )
    held = hold_out(shuffled, 1)
    right = np.array(held.readings)[held.chance.argmax(1)] == shuffled.reading
    assert right.mean() < 0.7


def test_learning_curve_ends_with_all_plugs() -> None:
    """The curve rises from few plugs to all there are in a split, each a share."""
    curve = learning_curve(
        studied({"normal": 20, "carbon_fouled": 20, "oil_fouled": 20}), "logistic regression, C = 0.1, measured features x 1", 1
    )
    assert [size for size, _ in curve][:2] == [10, 30] and len(curve) == 3
    assert all(0 <= share <= 1 for _, share in curve)
    assert curve[-1][1] >= curve[0][1]


def test_rules_are_asked_the_same_question() -> None:
    """The rules' likelihoods, weighed by the shares of training and over the model's readings alone, sum to one.

    By hand: likelihoods 0.2 and 0.4, shares 0.75 and 0.25: 0.15 to 0.1.
    """
    chance = rules_chance([{"a": 0.2, "b": 0.4, "c": 1.0}], ("a", "b"), np.array([0.75, 0.25]))
    assert chance == pytest.approx(np.array([[0.6, 0.4]]))


def test_commonest_mistakes_come_first() -> None:
    """Mistakes are listed by how often they happen; what never happens is not."""
    counts = np.array([[5, 1, 0], [0, 9, 3], [0, 0, 4]])
    assert mixed_up(counts, ("a", "b", "c")) == [("b", "c", 3), ("a", "b", 1)]


def test_one_seed_one_result() -> None:
    """The same photos and seed give the same judgements."""
    assert np.array_equal(hold_out(three(), 1).chance, hold_out(three(), 1).chance)
