"""What must hold for any rule base: order, symmetry, silence, and that knowing more never costs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plugread.diagnose.lookahead import Lookahead
from plugread.diagnose.losses import loss_table
from plugread.diagnose.network import Network
from plugread.diagnose.options import options_for
from plugread.records import Evidence
from tests.diagnose.builders import cause, engine_of, finding, link, random_case, rules_of

seeds = st.integers(0, 2**32 - 1)
few = settings(max_examples=25, deadline=None)


def solved(seed: int, cylinders: int = 2) -> tuple[Network, Evidence, np.ndarray]:
    rules, engine, evidence = random_case(np.random.default_rng(seed), cylinders)
    network = Network(rules, engine)
    return network, evidence, network.solve(evidence).chances


@few
@given(seeds)
def test_a_finding_nobody_looked_at_changes_nothing(seed: int) -> None:
    """A rule base with one more finding, not looked at, gives the same chances."""
    network, evidence, chances = solved(seed)
    rules = network.rules
    more = finding("unlooked", 0.05)
    links = (*rules.links, *(link(one, "unlooked", 0.8) for one in rules.causes))
    scales = replace(rules.scales, link={**rules.scales.link, "0.8": 0.8}, leak={**rules.scales.leak, "0.05": 0.05})
    wider = replace(rules, findings={**rules.findings, "unlooked": more}, links=links, scales=scales)
    assert np.allclose(Network(wider, network.engine).solve(evidence).chances, chances, atol=1e-13)


@few
@given(seeds)
def test_renumbering_the_cylinders_renumbers_the_answer(seed: int) -> None:
    """Turning the engine round (1-2-3 to 3-2-1) turns the chances round and changes nothing else."""
    network, evidence, chances = solved(seed, 3)

    def turn(number: int | None) -> int | None:
        return None if number is None else 4 - number

    turned = Evidence(
        {(name, turn(c)): seen for (name, c), seen in evidence.findings.items()},
        {4 - c: look for c, look in evidence.looks.items()},
        {(name, turn(c)): shown for (name, c), shown in evidence.look_noise.items()},
        {(name, turn(c)): outcome for (name, c), outcome in evidence.outcomes.items()},
    )
    other = network.solve(turned)
    for instance, chance in zip(network.instances, chances, strict=True):
        there = tuple(sorted(4 - c for c in instance.cylinders))
        assert other.chance(instance.cause, *there) == pytest.approx(chance, abs=1e-12)


@few
@given(seeds, st.floats(1e-3, 1e3))
def test_the_scale_of_a_photo_is_nothing(seed: int, factor: float) -> None:
    """A photo's likelihoods times any constant give the same chances."""
    network, evidence, chances = solved(seed)
    looks = {c: {look: factor * value for look, value in row.items()} for c, row in evidence.looks.items()}
    assert np.allclose(network.solve(replace(evidence, looks=looks)).chances, chances, atol=1e-12)


@few
@given(seeds, st.randoms(use_true_random=False))
def test_the_order_of_entering_is_nothing(seed: int, random: object) -> None:
    """Findings and outcomes entered in any order give the same chances."""
    network, evidence, chances = solved(seed)

    def mixed(entries: dict) -> dict:
        pairs = list(entries.items())
        random.shuffle(pairs)  # type: ignore[attr-defined]
        return dict(pairs)

    shuffled = Evidence(mixed(evidence.findings), mixed(evidence.looks), evidence.look_noise, mixed(evidence.outcomes))
    assert np.allclose(network.solve(shuffled).chances, chances, atol=1e-13)


@few
@given(seeds)
def test_a_finding_of_one_cause_alone_never_lowers_it(seed: int) -> None:
    """One more present finding that only one cause can bring about does not lower that cause."""
    network, evidence, chances = solved(seed)
    rules, only = network.rules, network.instances[0].cause
    scales = replace(rules.scales, link={**rules.scales.link, "0.8": 0.8}, leak={**rules.scales.leak, "0.05": 0.05})
    own = replace(
        rules,
        findings={**rules.findings, "own": finding("own", 0.05, "engine")},
        links=(*rules.links, link(only, "own", 0.8)),
        scales=scales,
    )
    seen = replace(evidence, findings={**evidence.findings, ("own", None): True})
    assert Network(own, network.engine).solve(seen).chances[0] >= chances[0] - 1e-12


@few
@given(seeds)
def test_no_check_is_worth_less_than_nothing(seed: int) -> None:
    """Before its own cost, no check has a negative value: knowing more never makes the best answer worse."""
    network, evidence, _ = solved(seed)
    posterior = network.solve(replace(evidence, outcomes={}))
    options = options_for(network, posterior.evidence, posterior.chances)
    ahead = Lookahead(posterior, loss_table(network), options)
    free = ahead.one_step + ahead.losses.minute * np.array([option.minutes for option in options])
    assert free.min() >= -1e-9 * ahead.now


@few
@given(seeds)
def test_outcomes_of_a_check_share_out_what_is_known(seed: int) -> None:
    """Chances of the outcomes sum to one, and causes weighed by outcome add up to what they were; so do real results."""
    network, evidence, _ = solved(seed)
    posterior = network.solve(replace(evidence, outcomes={}))
    ahead = Lookahead(posterior, loss_table(network), options_for(network, posterior.evidence, posterior.chances))
    for outlook in ahead.outlooks:
        assert outlook.total.sum() == pytest.approx(1.0, abs=1e-9)
        assert np.allclose(outlook.joint.sum(axis=0), ahead.chances, atol=1e-9)
        question = outlook.option.questions[0]
        for outcome, total, joint in zip(question.check.outcomes, outlook.total, outlook.joint, strict=True):
            done = replace(posterior.evidence, outcomes={(question.check.id, question.cylinder): outcome.id})
            assert np.allclose(joint / total, network.solve(done).chances, atol=1e-6)


def test_silence_of_the_whole_engine_gives_the_priors() -> None:
    """With nothing known, every chance is the prior (no limit on shared causes), and the chance of the evidence is one."""
    network = Network(rules_of([cause("a", 0.1), cause("b", 0.02, "cylinder")], [finding("f", 0.05)]), engine_of(2), None)
    posterior = network.solve(Evidence({}))
    assert posterior.chances == pytest.approx([0.1, 0.02, 0.02], abs=1e-15)
    assert posterior.log_evidence == pytest.approx(0.0, abs=1e-12)
