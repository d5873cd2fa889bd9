"""Small rule bases for the tests, by hand or at random, and the plain sum over everything they are compared with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product

import numpy as np

from plugread.diagnose.network import Network
from plugread.diagnose.numbers import outcome_signal
from plugread.engine import Engine
from plugread.records import EngineSpec, Evidence
from plugread.rules.tables import (
    Backing,
    Cause,
    Check,
    Context,
    Finding,
    Link,
    Losses,
    Outcome,
    Rules,
    Scales,
)

BACKING = Backing("our_estimate")
LOOK_WORDS = {"fully": 1.0, "partly": 0.6, "hardly": 0.2}
LOSS_WORDS = {str(value): float(value) for value in (0, 5, 15, 20, 45, 60, 80, 250, 700, 2000, 3000)}


def engine_of(cylinders: int = 4, **overrides: object) -> Engine:
    """An engine that needs nothing told: inline, coil on plug."""
    fields = {
        "layout": "inline",
        "cylinders": cylinders,
        "firing_order": tuple(range(1, cylinders + 1)),
        "induction": "port_injection",
        "ignition": "coil_on_plug",
        "closed_loop": True,
    }
    return Engine(EngineSpec(**{**fields, **overrides}))  # type: ignore[arg-type]


def word(chance: float) -> str:
    """The word under which a chance stands in the scales of these tests."""
    return repr(float(chance))


def cause(name: str, prior: float, scope: str = "engine", severity: str = "60", put_right: str = "45", **fields: object) -> Cause:
    """One cause with its prior as a number."""
    return Cause(name, name.capitalize(), scope, word(prior), severity, put_right, "", "", BACKING, **fields)  # type: ignore[arg-type]


def finding(name: str, leak: float, level: str = "cylinder", **fields: object) -> Finding:
    """One finding with its leak as a number."""
    known = {"kind": "firing_end" if level == "cylinder" else "sign", "severity": 2, "danger": False, "photo": False}
    return Finding(
        id=name,
        name=name.capitalize(),
        level=level,
        seen="",
        confused_with="",
        leak=word(leak),
        backing=BACKING,
        **{**known, **fields},
    )  # type: ignore[arg-type]


def link(cause_id: str, finding_id: str, strength: float) -> Link:
    """One link with its strength as a number."""
    return Link(cause_id, finding_id, word(strength), BACKING)


def check(
    name: str,
    outcomes: Sequence[tuple[str, float, Mapping[str, float]]],
    last: str = "right",
    per: str = "engine",
    **fields: object,
) -> Check:
    """One check: firing outcomes as (id, false alarm, cause -> strength), then the fallthrough."""
    firing = [
        Outcome(one, one, False, word(alarm), tuple(link(key, one, strength) for key, strength in answers.items()))
        for one, alarm, answers in outcomes
    ]
    every = (*firing, Outcome(last, last, True, word(0.01)))
    known = {"minutes": 10.0, "setup_minutes": 0.0}
    return Check(
        id=name,
        name=name.capitalize(),
        per=per,
        tools="",
        how="",
        separates="",
        cautions=(),
        outcomes=every,
        backing=BACKING,
        **{**known, **fields},
    )  # type: ignore[arg-type]


def rules_of(
    causes: Sequence[Cause],
    findings: Sequence[Finding] = (),
    links: Sequence[Link] = (),
    checks: Sequence[Check] = (),
    contexts: Sequence[Context] = (),
    looks: Mapping[str, Mapping[str, float]] | None = None,
    dominance: Sequence[str] = (),
    losses: Losses | None = None,
) -> Rules:
    """A rule base whose words are its numbers."""
    answers = [answer for one in checks for outcome in one.outcomes for answer in outcome.answers]
    alarms = [outcome.false_alarm for one in checks for outcome in one.outcomes]
    return Rules(
        sources={},
        scales=Scales(
            prior={one.prior: float(one.prior) for one in causes},
            link={one.strength: float(one.strength) for one in (*links, *answers)},
            leak={text: float(text) for text in (*(f.leak for f in findings), *alarms, *(c.leak for c in contexts)) if text},
            look=LOOK_WORDS,
            severity=LOSS_WORDS,
            put_right=LOSS_WORDS,
        ),
        losses=losses or Losses(25.0, 600.0, 0.1),
        findings={one.id: one for one in findings},
        causes={one.id: one for one in causes},
        links=tuple(links),
        contexts=tuple(contexts),
        checks={one.id: one for one in checks},
        patterns={},
        bands={},
        cautions={},
        looks=looks or {},
        dominance=tuple(dominance),
    )


# ---- the plain sum ---------------------------------------------------------------------------------------


def states(network: Network) -> np.ndarray:
    """Every state of every cause that the model allows, as rows of present or not."""
    on = np.array(list(product((False, True), repeat=len(network.instances))), dtype=bool)
    return on[on[:, : len(network.shared)].sum(axis=1) <= network.at_most]


def enumerate_posterior(network: Network, evidence: Evidence) -> tuple[float, np.ndarray, float]:
    """Chance of the evidence, of each cause given it, and of none, by the sum over every state of every cause.

    Written from the definition of a leaky noisy-OR, without a line of the code under test: the words are read afresh.
    """
    rules, on = network.rules, states(network)
    priors = np.array([rules.scales.prior[rules.causes[one.cause].prior] for one in network.instances])
    before = np.prod(np.where(on, priors, 1.0 - priors), axis=1)
    weight = before * chance_of_evidence(network, evidence, on)
    total = weight.sum()
    return total / before.sum(), weight @ on / total, weight[~on.any(axis=1)].sum() / total


def chance_of_evidence(network: Network, evidence: Evidence, on: np.ndarray) -> np.ndarray:
    """Chance of all that was seen, for each row of present causes."""
    chance = np.ones(len(on))
    for (name, cylinder), seen in evidence.findings.items():
        present = chance_present(network, evidence, on, name, cylinder)
        chance = chance * (present if seen else 1.0 - present)
    for (one, cylinder), outcome in evidence.outcomes.items():
        chance = chance * outcome_chances(network, evidence, on, one, cylinder)[outcome]
    for cylinder in evidence.looks:
        chance = chance * _chance_of_look(network, evidence, on, cylinder)
    return chance


def outcome_chances(
    network: Network, evidence: Evidence, on: np.ndarray, one: str, cylinder: int | None
) -> dict[str, np.ndarray]:
    """Chance of each outcome of a check: the first that fires."""
    chances, before = {}, np.ones(len(on))
    for outcome in network.rules.checks[one].outcomes:
        name = outcome_signal(one, outcome.id)
        fires = np.ones(len(on)) if outcome.fallthrough else chance_present(network, evidence, on, name, cylinder)
        chances[outcome.id] = before * fires
        before = before * (1.0 - fires)
    return chances


def chance_present(network: Network, evidence: Evidence, on: np.ndarray, name: str, cylinder: int | None) -> np.ndarray:
    """Leaky noisy-OR of one finding or outcome at one place."""
    rules = network.rules
    leak, links = _row(network, name)
    shown = evidence.look_noise.get((name, cylinder), 1.0)
    active = [one for one in rules.contexts if one.finding == name and evidence.findings.get((one.sign, None))]
    for one in active:
        shown *= rules.scales.look[one.shows] if one.shows else 1.0
    leaks = [rules.scales.leak[one.leak] for one in active if one.leak]
    miss = np.full(len(on), 1.0 - (max(leaks) if leaks else leak))
    for present, instance in zip(on.T, network.instances, strict=True):
        if cylinder is None or not instance.cylinders or cylinder in instance.cylinders:
            miss = miss * np.where(present, 1.0 - shown * links.get(instance.cause, 0.0), 1.0)
    return 1.0 - miss


def _row(network: Network, name: str) -> tuple[float, dict[str, float]]:
    rules = network.rules
    if "/" not in name:
        links = {one.cause: rules.scales.link[one.strength] for one in rules.links if one.finding == name}
        return rules.scales.leak[rules.findings[name].leak], links
    check_id, outcome_id = name.split("/")
    outcome = next(one for one in rules.checks[check_id].outcomes if one.id == outcome_id)
    return rules.scales.leak[outcome.false_alarm], {one.cause: rules.scales.link[one.strength] for one in outcome.answers}


def _chance_of_look(network: Network, evidence: Evidence, on: np.ndarray, cylinder: int) -> np.ndarray:
    """Sum over every set of findings that the photo can show: its chance times how likely such a plug looks so."""
    rules, looks = network.rules, evidence.looks[cylinder]
    known = [evidence.findings.get((name, cylinder)) for name in rules.dominance]
    chances = [chance_present(network, evidence, on, name, cylinder) for name in rules.dominance]
    total = np.zeros(len(on))
    for state in product((False, True), repeat=len(rules.dominance)):
        if any(told is not None and told != here for told, here in zip(known, state, strict=True)):
            continue
        weight = np.ones(len(on))
        for told, here, chance in zip(known, state, chances, strict=True):
            if told is None:
                weight = weight * (chance if here else 1.0 - chance)
        hiding = next((name for name, here in zip(rules.dominance, state, strict=True) if here), "normal")
        total += weight * sum(share * looks.get(look, 0.0) for look, share in rules.looks[hiding].items())
    return total / max(looks.values())


# ---- random rule bases -----------------------------------------------------------------------------------


def random_case(rng: np.random.Generator, cylinders: int = 2) -> tuple[Rules, Engine, Evidence]:
    """A small rule base with everything in it, and evidence of every kind; at most 2^12 states of its causes."""
    engine = engine_of(cylinders, neighbours=tuple((c, c + 1) for c in range(1, cylinders)))
    scopes = (
        ["engine"] * int(rng.integers(1, 4)) + ["neighbours"] * int(rng.integers(0, 2)) + ["cylinder"] * int(rng.integers(1, 4))
    )
    causes = [cause(f"cause_{n}", rng.uniform(0.005, 0.3), scope) for n, scope in enumerate(scopes)]
    seen = [f"plug_{n}" for n in range(int(rng.integers(2, 6)))]
    signs = [f"sign_{n}" for n in range(int(rng.integers(1, 4)))]
    findings = [finding(name, rng.uniform(0.003, 0.2)) for name in seen]
    findings += [finding(name, rng.uniform(0.003, 0.2), "engine") for name in signs]
    links = [link(c.id, f, rng.uniform(0.05, 0.98)) for c in causes for f in (*seen, *signs) if rng.random() < 0.6]
    checks = [_random_check(rng, f"check_{n}", causes, per) for n, per in enumerate(("engine", "cylinder"))]
    contexts = [Context(signs[0], seen[0], word(0.4), "hardly", BACKING), Context(signs[-1], seen[-1], "", "partly", BACKING)]
    dominance = [str(name) for name in rng.permutation(seen)]
    looks = _random_looks(rng, dominance)
    rules = rules_of(causes, findings, links, checks, contexts, looks, dominance)
    return rules, engine, _random_evidence(rng, rules, engine)


def _random_check(rng: np.random.Generator, name: str, causes: Sequence[Cause], per: str) -> Check:
    outcomes = []
    for number in range(int(rng.integers(1, 4))):
        answers = {one.id: rng.uniform(0.05, 0.98) for one in causes if rng.random() < 0.6}
        outcomes.append((f"out_{number}", rng.uniform(0.005, 0.1), answers))
    return check(name, outcomes, per=per)


def _random_looks(rng: np.random.Generator, dominance: Sequence[str]) -> dict[str, dict[str, float]]:
    states = [*dominance, "normal"]
    shares = rng.dirichlet(np.full(len(states), 0.5), len(states)) * 0.6 + 0.4 * np.eye(len(states))
    return {state: dict(zip(states, map(float, row), strict=True)) for state, row in zip(states, shares, strict=True)}


def _random_evidence(rng: np.random.Generator, rules: Rules, engine: Engine) -> Evidence:
    findings, outcomes, looks, noise = {}, {}, {}, {}
    for one in rules.findings.values():
        for place in engine.cylinders if one.level == "cylinder" else (None,):
            if rng.random() < 0.5:
                findings[one.id, place] = bool(rng.random() < 0.5)
                if rng.random() < 0.2:
                    noise[one.id, place] = float(rng.uniform(0.3, 1.0))
    for one in rules.checks.values():
        for place in engine.cylinders if one.per == "cylinder" else (None,):
            if rng.random() < 0.5:
                outcomes[one.id, place] = str(rng.choice([outcome.id for outcome in one.outcomes]))
    for cylinder in engine.cylinders:
        if rng.random() < 0.7:
            looks[cylinder] = {state: float(rng.uniform(0.02, 1.0)) for state in rules.looks}
    return Evidence(findings, looks, noise, outcomes)
