"""Signs of danger: what forbids running the engine, whatever the chances of the causes say."""

from __future__ import annotations

from collections.abc import Mapping

from plugread.diagnose.posterior import Posterior
from plugread.rules.tables import Rules

SURE_BY_PHOTO = 0.8
"""Chance from which a danger seen by photo alone stops the engine (our estimate)..."""
DOUBT_BY_PHOTO = 0.3
"""...and from which it must be looked at by eye before anything else."""

Place = tuple[str, int | None]
Readings = Mapping[int, Mapping[str, float]]


def dangers(posterior: Posterior) -> tuple[Place, ...]:
    """Return the signs of danger by id and cylinder: ticked, shown by a check, or shown by a photo beyond reasonable doubt."""
    rules, evidence = posterior.network.rules, posterior.evidence
    ticked = [where for where, seen in evidence.findings.items() if seen and rules.findings[where[0]].danger]
    shown = [
        (check, cylinder)
        for (check, cylinder), outcome in evidence.outcomes.items()
        if any(one.danger and one.id == outcome for one in rules.checks[check].outcomes)
    ]
    return tuple(dict.fromkeys([*ticked, *shown, *_by_photo(rules, posterior.readings, SURE_BY_PHOTO)]))


def doubtful_dangers(posterior: Posterior) -> tuple[Place, ...]:
    """Return the dangers that a photo makes possible and nobody has looked at by eye."""
    found = _by_photo(posterior.network.rules, posterior.readings, DOUBT_BY_PHOTO)
    return tuple(where for where in found if where not in posterior.evidence.findings)


def _by_photo(rules: Rules, readings: Readings, limit: float) -> list[Place]:
    return [
        (name, cylinder)
        for cylinder, reading in readings.items()
        for name, chance in reading.items()
        if chance >= limit and rules.findings[name].danger
    ]
