"""The sweep against the plain sum over every state, and against another library's exact inference."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plugread.diagnose.cover import cover, join, uncover, unjoin
from plugread.diagnose.network import Network
from plugread.diagnose.observed import observe
from plugread.diagnose.posterior import likely_sets, solve
from plugread.diagnose.sweep import sweep
from plugread.records import Evidence
from tests.diagnose.builders import (
    cause,
    chance_present,
    engine_of,
    enumerate_posterior,
    finding,
    link,
    random_case,
    rules_of,
    states,
)


@pytest.mark.parametrize("start", range(0, 200, 20))
def test_equals_the_plain_sum(start: int) -> None:
    """On 200 random rule bases with photos, signs, checks of several outcomes and contexts, every chance agrees to 1e-12."""
    for seed in range(start, start + 20):
        rules, engine, evidence = random_case(np.random.default_rng(seed), cylinders=1 + seed % 3)
        network = Network(rules, engine, at_most=None if seed % 2 else 2)
        posterior = network.solve(evidence)
        total, chances, none = enumerate_posterior(network, evidence)
        assert np.abs(posterior.chances - chances).max() <= 1e-12
        assert abs(posterior.none_listed - none) <= 1e-12
        assert np.exp(posterior.log_evidence) == pytest.approx(total, rel=1e-12, abs=0.0)


@pytest.mark.parametrize("seed", range(20))
def test_readings_equal_the_plain_sum(seed: int) -> None:
    """What each photographed plug shows, given everything, agrees with the sum over every state to 1e-7 (pruning bound 1e-8)."""
    rules, engine, evidence = random_case(np.random.default_rng(1000 + seed), cylinders=2)
    network = Network(rules, engine)
    for cylinder, reading in network.solve(evidence).readings.items():
        for name, chance in reading.items():
            if name != "normal" and (name, cylinder) not in evidence.findings:
                both = replace(evidence, findings={**evidence.findings, (name, cylinder): True})
                share = enumerate_posterior(network, both)[0] / enumerate_posterior(network, evidence)[0]
                assert chance == pytest.approx(share, abs=1e-7)


def test_ten_rare_findings_keep_their_digits() -> None:
    """Ten present findings with leaks of 0.003 keep the chance of the evidence to 1e-12; the signed textbook sum does not."""
    causes = [cause(f"c{n}", 0.01, "cylinder") for n in range(3)]
    findings = [finding(f"f{n}", 0.003) for n in range(10)]
    links = [link(c.id, f.id, 0.05 * (1 + (3 * a + b) % 4)) for a, c in enumerate(causes) for b, f in enumerate(findings)]
    network = Network(rules_of(causes, findings, links), engine_of(1))
    evidence = Evidence({(one.id, 1): True for one in findings})
    exact = enumerate_posterior(network, evidence)[0]
    assert np.exp(network.solve(evidence).log_evidence) == pytest.approx(exact, rel=1e-12, abs=0.0)
    assert _signed_sum(network, evidence) != pytest.approx(exact, rel=1e-7, abs=0.0)


def _signed_sum(network: Network, evidence: Evidence) -> float:
    """The textbook sum over subsets of the present findings (Heckerman 1989), for the comparison above."""
    on = states(network)
    priors = network.numbers.prior[0, network.cause_of]
    before = np.prod(np.where(on, priors, 1.0 - priors), axis=1)
    miss = np.array([1.0 - chance_present(network, evidence, on, name, 1) for name, _ in evidence.findings])
    total = 0.0
    for subset in range(2 ** len(miss)):
        chosen = [bool(subset >> bit & 1) for bit in range(len(miss))]
        total += (-1.0) ** sum(chosen) * float((before * np.prod(miss[chosen], axis=0)).sum())
    return total


def test_pruning_moves_no_chance_beyond_its_bound() -> None:
    """Leaving out a share of the configurations moves no chance by more than that share."""
    for seed in range(20):
        rules, engine, evidence = random_case(np.random.default_rng(seed), cylinders=2)
        network = Network(rules, engine)
        full = network.solve(evidence)
        for left_out in (1e-2, 1e-4):
            sets = likely_sets(network, full.swept.mass[0], left_out)
            pruned = sweep(network, observe(network, evidence), sets=sets).chances[0]
            assert np.abs(pruned - full.chances).max() <= left_out


@pytest.mark.parametrize(("forth", "back", "sets"), [(cover, uncover, "findings"), (join, unjoin, "union")])
def test_adjoint(forth: object, back: object, sets: str) -> None:
    """The way back is the transpose of the way forth: <A x, y> = <x, A' y>."""
    rng = np.random.default_rng(3)
    if sets == "findings":
        x, y, by = rng.random((1, 2, 8)), rng.random((1, 2, 8)), rng.random((1, 3))
    else:
        x, y, by = rng.random((1, 8, 5)), rng.random((1, 8, 5)), rng.random((1, 8, 5))
    assert float((forth(x, by) * y).sum()) == pytest.approx(float((x * back(y, by)).sum()), rel=1e-14)  # type: ignore[operator]


def test_one_call_is_the_same_as_a_kept_network() -> None:
    """`solve` and a kept network give the same bytes."""
    rules, engine, evidence = random_case(np.random.default_rng(5))
    assert solve(rules, engine, evidence).chances.tobytes() == Network(rules, engine).solve(evidence).chances.tobytes()


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.filterwarnings("ignore")
def test_equals_pgmpy(seed: int) -> None:
    """On 20 random networks the chances agree with pgmpy's variable elimination to 1e-12."""
    pytest.importorskip("pgmpy")
    from tests.diagnose.with_pgmpy import eliminate

    rng = np.random.default_rng(seed)
    rules, engine, evidence = random_case(rng, cylinders=2)
    hard = Evidence(dict(list(evidence.findings.items())[:5]))
    network = Network(rules, engine, at_most=None)
    assert np.abs(network.solve(hard).chances - eliminate(network, hard)).max() <= 1e-12


@pytest.mark.parametrize("seed", range(10))
def test_many_coupled_signs_keep_seven_digits(seed: int) -> None:
    """Six present signs that single cylinders can cause, summed over subsets, agree with the plain sum to 1e-7."""
    rng = np.random.default_rng(seed)
    causes = [cause("a", 0.05), cause("b", 0.02, "cylinder"), cause("c", 0.01, "cylinder")]
    signs = [finding(f"s{n}", rng.uniform(0.005, 0.05), "engine") for n in range(6)]
    plugs = [finding("p", 0.02), finding("q", 0.01)]
    links = [link(c.id, f.id, rng.uniform(0.05, 0.98)) for c in causes for f in (*signs, *plugs)]
    network = Network(rules_of(causes, [*signs, *plugs], links), engine_of(4))
    evidence = Evidence({(one.id, None): True for one in signs} | {("p", 2): True, ("q", 2): False, ("p", 3): False})
    posterior = network.solve(evidence)
    total, chances, none = enumerate_posterior(network, evidence)
    assert np.abs(posterior.chances - chances).max() <= 1e-7
    assert posterior.none_listed == pytest.approx(none, abs=1e-7)
    assert np.exp(posterior.log_evidence) == pytest.approx(total, rel=1e-6, abs=0.0)
