"""Decisions in print: what a test is worth, and the order that finds a fault soonest."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from plugread.diagnose.checks import confirming
from plugread.diagnose.lookahead import Lookahead
from plugread.diagnose.losses import LossTable
from plugread.diagnose.network import Network
from plugread.diagnose.options import options_for
from plugread.records import Evidence
from tests.diagnose.builders import cause, check, engine_of, rules_of
from tests.published.reasoning.sums import strength

NO_MENDING = 1e9


def ahead_of(network: Network, severity: list[float], standing_still: float) -> Lookahead:
    posterior = network.solve(Evidence({}))
    losses = LossTable(np.array(severity), np.full(len(severity), NO_MENDING), standing_still, 0.0)
    return Lookahead(posterior, losses, options_for(network, Evidence({}), posterior.chances))


def test_used_car() -> None:
    """Buying without a test 290; pass 0.665, good given pass 0.8421 and fail 0.4179; 389.47 and 92.54; the test is worth nothing.

    Russell and Norvig, Artificial Intelligence, exercise 16.22. Buying a good car gains 500, a bad one costs 700 of it.
    """
    test = check("mechanic", [("fail", 0.2, {"bad": strength(0.2, 0.65)})], last="pass")
    ahead = ahead_of(Network(rules_of([cause("bad", 0.3)], checks=[test]), engine_of(1)), [700.0], 500.0)
    (outlook,) = ahead.outlooks
    fail, passed = outlook.total
    bad_if_fail, bad_if_passed = outlook.joint[:, 0] / outlook.total
    assert 500.0 - ahead.now == pytest.approx(290.0, abs=1e-9)
    assert passed == pytest.approx(0.665, abs=5e-4)
    assert [1 - bad_if_passed, 1 - bad_if_fail] == pytest.approx([0.8421, 0.4179], abs=5e-5)
    assert [500 - 700 * bad_if_passed, 500 - 700 * bad_if_fail] == pytest.approx([389.47, 92.54], abs=5e-3)
    assert ahead.one_step[0] == pytest.approx(0.0, abs=1e-9)
    assert fail + passed == pytest.approx(1.0, abs=1e-12)


def test_oil_drilling() -> None:
    """Drilling without sounding is worth 20, with sounding 32.5 (12.5 for the sounding, 35 for knowing all).

    Raiffa, Decision Analysis, 1968: dry 0.5, wet 0.3, soaking 0.2, pay-offs -70, 50, 200; soundings 0.6/0.3/0.1, 0.3/0.4/0.3,
    0.1/0.4/0.5. The three states exclude each other: at most one cause present. Not drilling loses 120 or 270 of the 90 expected.
    """
    closed = ("closed", 0.1, {"wet": strength(0.1, 0.3), "soaking": strength(0.1, 0.5)})
    opened = ("open", 1 / 3, {"wet": strength(1 / 3, 4 / 7), "soaking": strength(1 / 3, 0.8)})
    rules = rules_of(
        [cause("wet", 0.6 / 1.6), cause("soaking", 0.4 / 1.4)], checks=[check("sounding", [closed, opened], last="none")]
    )
    network = Network(rules, engine_of(1), at_most=1)
    ahead = ahead_of(network, [120.0, 270.0], 70.0)
    assert network.solve(Evidence({})).chances == pytest.approx([0.3, 0.2], abs=1e-12)
    assert 90.0 - ahead.now == pytest.approx(20.0, abs=1e-9)
    assert ahead.one_step[0] == pytest.approx(12.5, abs=1e-9)
    knowing_all = 90.0 - 0.5 * 0.0 - 0.3 * 70.0 - 0.2 * 70.0
    assert knowing_all - 20.0 == pytest.approx(35.0, abs=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_repair_order(seed: int) -> None:
    """With one fault and perfect tests, the advised order has the least expected minutes of all 120 orders.

    Kadane and Simon 1975; Kalagnanam and Henrion for the smallest cost over probability first.
    """
    rng = np.random.default_rng(seed)
    names = [f"c{n}" for n in range(5)]
    causes = [cause(name, rng.uniform(0.05, 0.4)) for name in names]
    checks = [check(f"look_{name}", [("bad", 1e-9, {name: 1.0 - 1e-9})], minutes=float(rng.uniform(2, 40))) for name in names]
    network = Network(rules_of(causes, checks=checks), engine_of(1), at_most=1)
    posterior = network.solve(Evidence({}))
    chances, minutes = posterior.chances, np.array([one.minutes for one in checks])
    options = options_for(network, Evidence({}), chances)
    ahead = Lookahead(posterior, LossTable(np.ones(5), np.ones(5), 1e9, 0.0), options)
    advised = tuple(np.argsort(-confirming(ahead) / minutes))

    def expected_minutes(order: tuple[int, ...]) -> float:
        return float(np.dot(np.cumsum(minutes[list(order)]), chances[list(order)]))

    assert expected_minutes(advised) == pytest.approx(min(map(expected_minutes, permutations(range(5)))), rel=1e-9)
