"""Engines and evidence for statements about the rule base; the reasoning itself is tested elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache

from plugread.diagnose.network import Network
from plugread.diagnose.posterior import Posterior
from plugread.engine import Engine
from plugread.records import EngineSpec, Evidence
from plugread.rules.load import load_rules
from plugread.rules.tables import Rules

Seen = Mapping[int, Iterable[str]]

ENGINES: Mapping[str, EngineSpec] = {
    "modern_four": EngineSpec("inline", 4, (1, 3, 4, 2), "port_injection", "coil_on_plug", True),
    "coil_pair_four": EngineSpec("inline", 4, (1, 3, 4, 2), "port_injection", "wasted_spark", True),
    "distributor_four": EngineSpec("inline", 4, (1, 3, 4, 2), "port_injection", "distributor", True),
    "old_four": EngineSpec("inline", 4, (1, 3, 4, 2), "carburettor", "contact_breaker", False),
    "twin_carburettor_four": EngineSpec(
        "inline", 4, (1, 3, 4, 2), "carburettor", "contact_breaker", False, feeds=((1, 2), (3, 4))
    ),
    "modern_v6": EngineSpec("vee", 6, (1, 2, 3, 4, 5, 6), "port_injection", "coil_on_plug", True),
    "flat_aero_six": EngineSpec("flat", 6, (1, 4, 5, 2, 3, 6), "carburettor", "magneto", False),
}


@cache
def rules() -> Rules:
    return load_rules()


@cache
def network(engine: str) -> Network:
    return Network(rules(), Engine(ENGINES[engine]))


def every(engine: str, *seen: str) -> dict[int, tuple[str, ...]]:
    """The same findings on every cylinder."""
    return dict.fromkeys(network(engine).engine.cylinders, seen)


def solved(
    engine: str,
    plugs: Seen | None = None,
    *,
    seen: Iterable[str] = (),
    not_seen: Iterable[str] = (),
    outcomes: Mapping[tuple[str, int | None], str] | None = None,
) -> Posterior:
    """Return what follows; plugs that are not named were looked at and are normal."""
    findings: dict[tuple[str, int | None], bool] = {}
    for cylinder in network(engine).engine.cylinders:
        named = tuple((plugs or {}).get(cylinder, ("normal",)))
        if named == ("normal",):
            findings |= {(name, cylinder): False for name in firing_end()}
        else:
            findings |= {(other, cylinder): False for name in named for other in rules().findings[name].excludes}
            findings |= {(name, cylinder): True for name in named}
    findings |= {(sign, None): True for sign in seen} | {(sign, None): False for sign in not_seen}
    return network(engine).solve(Evidence(findings=findings, outcomes=outcomes or {}))


@cache
def firing_end() -> tuple[str, ...]:
    return tuple(f.id for f in rules().findings.values() if f.kind == "firing_end" and f.id != "normal")


def first(posterior: Posterior, count: int = 1) -> list[tuple[str, tuple[int, ...]]]:
    """The likeliest causes with their places."""
    return [(instance.cause, instance.cylinders) for instance, _ in posterior.ranked[:count]]


def anywhere(posterior: Posterior, cause: str) -> float:
    """Sum of the chances of a cause over its places."""
    return sum(chance for instance, chance in posterior.ranked if instance.cause == cause)
