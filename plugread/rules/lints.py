"""Remarks on a sound rule base: thin rows, twins nothing can tell apart, causes in sum too common or too rare, idle sources."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from plugread.rules.listing import backings
from plugread.rules.tables import Cause, Rules

TYPICAL_ENGINE: Mapping[str, tuple[str, ...]] = {
    "layout": ("inline",),
    "induction": ("port_injection",),
    "ignition": ("wasted_spark",),
    "closed_loop": ("true",),
    "cylinders": ("2+", "3+", "4+"),
}
"""An inline four of the common kind; its shared causes are counted with the places they can be at."""

PLACES: Mapping[str, int] = {"engine": 1, "bank": 0, "feed": 1, "coil": 2, "neighbours": 3}
PRIOR_MASS = (0.5, 1.5)
"""Expected number of shared causes in an engine whose plugs are pulled (our estimate)."""
ENOUGH = 2


def lints(rules: Rules) -> list[str]:
    """Return remarks on the rule base, one sentence each; none is a fault."""
    checks = (_thin_findings, _thin_causes, _twins, _prior_mass, _idle_checks, _idle_sources, _untested_causes)
    return [remark for check in checks for remark in check(rules)]


def prior_mass(rules: Rules) -> float:
    """Return the expected number of shared causes in the typical engine."""
    return sum(
        rules.scales.prior[cause.prior] * PLACES[cause.scope]
        for cause in rules.causes.values()
        if cause.scope != "cylinder" and _can_have(cause)
    )


def twins(rules: Rules) -> list[tuple[str, ...]]:
    """Return groups of causes that show the same findings as often, answer the same checks and exist at the same places."""
    columns: dict[tuple[object, ...], list[str]] = defaultdict(list)
    for cause in rules.causes.values():
        shown = frozenset((link.finding, link.strength) for link in rules.links if link.cause == cause.id)
        columns[(cause.scope, shown, _answers(rules, cause.id))].append(cause.id)
    return [tuple(group) for group in columns.values() if len(group) > 1]


def _thin_findings(rules: Rules) -> Iterator[str]:
    for finding in rules.findings.values():
        count = sum(link.finding == finding.id for link in rules.links)
        if count < ENOUGH and not finding.note:
            yield f"finding {finding.id}: {count} causes and no note that says why"


def _thin_causes(rules: Rules) -> Iterator[str]:
    for cause in rules.causes.values():
        count = sum(link.cause == cause.id for link in rules.links)
        if count < ENOUGH:
            yield f"cause {cause.id}: shows as {count} finding only"


def _twins(rules: Rules) -> Iterator[str]:
    for group in twins(rules):
        yield f"causes {', '.join(group)}: nothing in the rule base can tell them apart"


def _prior_mass(rules: Rules) -> Iterator[str]:
    mass, (least, most) = prior_mass(rules), PRIOR_MASS
    if not least <= mass <= most:
        yield f"priors: {mass:.2f} shared causes expected in a typical engine, not between {least} and {most}"


def _idle_checks(rules: Rules) -> Iterator[str]:
    for check in rules.checks.values():
        if not any(outcome.answers for outcome in check.outcomes):
            yield f"check {check.id}: answers nothing"


def _idle_sources(rules: Rules) -> Iterator[str]:
    used = {place.partition(":")[0] for backing in backings(rules) for place in backing.sources}
    for key in rules.sources:
        if key not in used:
            yield f"source {key}: no row rests on it"


def _untested_causes(rules: Rules) -> Iterator[str]:
    answered = {answer.cause for check in rules.checks.values() for outcome in check.outcomes for answer in outcome.answers}
    for cause in rules.causes.values():
        if cause.id not in answered and rules.scales.severity[cause.severity]:
            yield f"cause {cause.id}: no check answers it"


def _answers(rules: Rules, cause: str) -> frozenset[tuple[str, str, str]]:
    return frozenset(
        (check.id, outcome.id, answer.strength)
        for check in rules.checks.values()
        for outcome in check.outcomes
        for answer in outcome.answers
        if answer.cause == cause
    )


def _can_have(cause: Cause) -> bool:
    return all(set(allowed) & set(TYPICAL_ENGINE.get(field, ())) for field, allowed in cause.needs.items())
