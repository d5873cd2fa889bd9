"""Cases drawn from a rule base: causes by their priors, findings, photos and checks as the causes bring them about."""

from __future__ import annotations

import sys

import numpy as np

from plugread.diagnose.network import Network
from plugread.diagnose.numbers import Numbers, outcome_signal
from plugread.engine import Engine
from plugread.records import EngineSpec, Evidence

LOOKED_AT = 0.6
"""Share of the findings that somebody looked at."""


def say(line: str) -> None:
    """One line of a table, at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def inline_four() -> Engine:
    return Engine(EngineSpec("inline", 4, (1, 3, 4, 2), "port_injection", "wasted_spark", True))


def vee_eight() -> Engine:
    return Engine(EngineSpec("vee", 8, (1, 8, 4, 3, 6, 5, 7, 2), "port_injection", "wasted_spark", True))


def draw(
    network: Network,
    rng: np.random.Generator,
    *,
    numbers: Numbers | None = None,
    least: int = 1,
    limit: int | None = 3,
    photos: bool = True,
    checks: int = 2,
) -> tuple[np.ndarray, Evidence]:
    """A case with at least `least` causes: which are present (instances,), and what is known of it.

    `numbers` is the world the case comes from (one rule base); `limit` the most shared causes present together.
    """
    world = numbers or network.numbers
    on = _causes(network, world, rng, least, limit)
    signs = {
        name: _fires(network, world, on, name, None, rng) for name, f in network.rules.findings.items() if f.level == "engine"
    }
    known = {(name, None): seen for name, seen in signs.items() if rng.random() < LOOKED_AT}
    findings = dict(known)
    looks = {}
    for cylinder in network.engine.cylinders:
        state = {
            name: _fires(network, world, on, name, cylinder, rng, known)
            for name, one in network.rules.findings.items()
            if one.level == "cylinder" and name != "normal"
        }
        if photos and rng.random() < 0.5:
            looks[cylinder] = _look(network, state, rng)
        else:
            findings |= {(name, cylinder): seen for name, seen in state.items() if rng.random() < LOOKED_AT}
    return on, Evidence(findings, looks, {}, _outcomes(network, world, on, rng, checks))


def _causes(network: Network, world: Numbers, rng: np.random.Generator, least: int, limit: int | None) -> np.ndarray:
    prior = world.prior[0, network.cause_of]
    while True:
        on = rng.random(len(prior)) < prior
        if on.sum() >= least and (limit is None or on[: len(network.shared)].sum() <= limit):
            return on


def _fires(
    network: Network,
    world: Numbers,
    on: np.ndarray,
    name: str,
    cylinder: int | None,
    rng: np.random.Generator,
    known: dict | None = None,
) -> bool:
    row, shown, leaks = network.signals[name], 1.0, []
    for number, context in enumerate(network.rules.contexts):
        if known and context.finding == name and known.get((context.sign, None)):
            shown *= network.rules.scales.look[context.shows] if context.shows else 1.0
            leaks.append(world.context_leak[0, number])
    leak = np.nanmax(leaks) if leaks and not np.all(np.isnan(leaks)) else world.leak[0, row]
    here = on if cylinder is None else on & network.reaching(cylinder)
    miss = (1.0 - leak) * np.prod(1.0 - shown * world.link[0, row, network.cause_of[here]])
    return bool(rng.random() >= miss)


def _look(network: Network, state: dict[str, bool], rng: np.random.Generator) -> dict[str, float]:
    hiding = next((name for name in network.rules.dominance if state[name]), "normal")
    row = network.rules.looks[hiding]
    seen = rng.choice(list(row), p=np.array(list(row.values())) / sum(row.values()))
    return {look: float(look == seen) for look in row}


def _outcomes(network: Network, world: Numbers, on: np.ndarray, rng: np.random.Generator, count: int) -> dict:
    possible = [one for one in network.rules.checks.values() if network.engine.has(one.needs)]
    outcomes = {}
    for number in rng.choice(len(possible), size=min(count, len(possible)), replace=False):
        one = possible[number]
        for place in (None,) if one.per == "engine" else network.engine.cylinders:
            fired = (o.id for o in one.outcomes[:-1] if _fires(network, world, on, outcome_signal(one.id, o.id), place, rng))
            outcomes[one.id, place] = next(fired, one.outcomes[-1].id)
    return outcomes
