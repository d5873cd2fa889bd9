"""Why a cause stands where it stands: the weight of each thing seen, how firm its first place is, what it cannot be told from."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plugread.diagnose.network import Network
from plugread.diagnose.numbers import Array
from plugread.diagnose.observed import NORMAL, Observed, observe_again
from plugread.diagnose.options import answers
from plugread.diagnose.posterior import Posterior
from plugread.diagnose.sweep import Known, sweep
from plugread.records import Evidence, Reason

MANY_ABSENT = 6
"""From so many things absent on a firing end, and none present, it is spoken of as normal."""
LEAST_WEIGHT = 0.05
"""Smaller weights (log-odds) are not worth naming."""
MOST_REASONS = 8
_JOINED = 1
"""Weights are told to two digits: from so many coupled signs on the quicker sums will do."""
ALIKE = 0.1
"""Two causes are not told apart by what was seen if it is about equally likely under both (log of the ratio below this)."""


@dataclass(frozen=True)
class Item:
    """One thing that was seen, and the evidence without it."""

    finding: str
    cylinder: int | None
    present: bool
    without: Evidence


def because(posterior: Posterior, places: Sequence[int]) -> tuple[tuple[Reason, ...], ...]:
    """Return, for each instance in `places`, what spoke for and against it, the weightiest first.

    The weight of a thing is the log-odds of the cause with it minus those without it, all else as it is; weights of things that
    say the same do not add up.
    """
    weigh = _log_odds_of(posterior, places)
    here = weigh(posterior.observed)
    reasons: list[list[Reason]] = [[] for _ in places]
    for item in items(posterior):
        for found, weight in zip(reasons, (here - weigh(_without(posterior, item))).tolist(), strict=True):
            if abs(weight) >= LEAST_WEIGHT:
                found.append(Reason(item.finding, item.cylinder, weight, item.present))
    return tuple(tuple(sorted(found, key=lambda reason: -abs(reason.weight))[:MOST_REASONS]) for found in reasons)


def _log_odds_of(posterior: Posterior, places: Sequence[int]) -> Callable[[Observed], Array]:
    """Return what gives the log-odds of the instances in `places` for things seen, few of which differ from call to call."""
    network, chosen = posterior.network, list(places)
    known: Known = {}
    cylinders = frozenset(network.instances[place].cylinders[0] for place in places if place >= len(network.shared))

    def log_odds(observed: Observed) -> Array:
        swept = sweep(network, observed, sets=posterior.likely, known=known, most_joined=_JOINED, own_of=cylinders)
        return _log_odds(swept.chances[0, chosen])

    return log_odds


def _without(posterior: Posterior, item: Item) -> Observed:
    return observe_again(posterior.network, item.without, posterior.observed, item.finding, item.cylinder)


def items(posterior: Posterior) -> Iterator[Item]:
    """Yield each thing that was seen: signs and ticks, a plug found normal, a photo, an outcome of a check."""
    evidence = posterior.evidence
    normal = {cylinder: absent for cylinder in posterior.network.engine.cylinders if (absent := _all_absent(posterior, cylinder))}
    for cylinder, absent in normal.items():
        yield Item(NORMAL, cylinder, True, _less(evidence, findings=absent))
    for where, seen in evidence.findings.items():
        if where[0] != NORMAL and where not in normal.get(where[1] or 0, ()):
            yield Item(*where, seen, _less(evidence, findings=[where]))
    for cylinder, look in evidence.looks.items():
        if look:
            top = evidence.named.get(cylinder) or max(look, key=lambda name: look[name])
            others = {number: seen for number, seen in evidence.looks.items() if number != cylinder}
            yield Item(top, cylinder, True, replace(evidence, looks=others))
    for where, outcome in evidence.outcomes.items():
        rest = {other: result for other, result in evidence.outcomes.items() if other != where}
        yield Item(f"{where[0]}/{outcome}", where[1], True, replace(evidence, outcomes=rest))


def _all_absent(posterior: Posterior, cylinder: int) -> list[tuple[str, int | None]]:
    """The absent findings of a firing end on which many were looked for and none was there."""
    rules, found = posterior.network.rules, posterior.evidence.findings
    here = {
        where: seen for where, seen in found.items() if where[1] == cylinder and rules.findings[where[0]].kind == "firing_end"
    }
    absent = [where for where, seen in here.items() if not seen]
    clean = not any(seen for where, seen in here.items() if where[0] != NORMAL)
    return absent if clean and len(absent) >= MANY_ABSENT else []


def _less(evidence: Evidence, findings: Sequence[tuple[str, int | None]]) -> Evidence:
    return replace(evidence, findings={where: seen for where, seen in evidence.findings.items() if where not in findings})


def _log_odds(chances: Array) -> Array:
    inside = np.clip(chances, 1e-15, 1.0 - 1e-15)
    return np.asarray(np.log(inside) - np.log1p(-inside))


# ---- how firm the first place is -------------------------------------------------------------------------


def break_even_prior(posterior: Posterior, place: int) -> float | None:
    """Return the prior chance of an instance at which another would draw level with it; None without a rival.

    Chances are quotients of two linear functions of any one number (Kjaerulff and van der Gaag 2000), so one more pass, with
    the cause given as present, settles it exactly.
    """
    chances, network = posterior.chances, posterior.network
    both = _given_present(posterior, place) * chances[place]
    alone, rivals = chances[place] - both, np.maximum(chances - both, 0.0)
    rivals[place] = 0.0
    if len(chances) < 2 or not rivals.any():
        return None
    ratio = float(np.max(rivals / np.maximum(alone, np.finfo(float).tiny)))
    prior = float(network.numbers.prior[0, network.cause_of[place]])
    odds = prior / (1.0 - prior) * ratio
    return odds / (1.0 + odds)


def _given_present(posterior: Posterior, place: int) -> Array:
    """Chances of all instances given that one is present as well."""
    network, sets = posterior.network, posterior.likely
    prior = network.numbers.prior[:, network.cause_of].copy()
    if place < len(network.shared):
        sets = network.configurations_of(sets.members[sets.holds[:, place] > 0.0])
    else:
        prior[:, place] = 1.0
    return np.asarray(sweep(network, posterior.observed, sets=sets, prior=prior).chances[0])


# ---- what cannot be told apart ---------------------------------------------------------------------------


def inseparable(posterior: Posterior, place: int) -> tuple[int, ...]:
    """Return the instances at the same place that neither what was seen nor any finding still open tells from this one."""
    network = posterior.network
    prior = network.numbers.prior[0, network.cause_of]
    evidence = np.log(np.maximum(posterior.chances, np.finfo(float).tiny)) - np.log(prior)
    rows = _open_findings(posterior, place)
    links = network.numbers.link[0][rows][:, network.cause_of]
    same = np.all(links == links[:, [place]], axis=0) & (np.abs(evidence - evidence[place]) < ALIKE)
    here = network.instances[place].cylinders
    return tuple(int(other) for other in np.flatnonzero(same) if other != place and network.instances[other].cylinders == here)


def _open_findings(posterior: Posterior, place: int) -> list[int]:
    """Rows of the findings that were not looked at everywhere the instance could show."""
    network, found = posterior.network, posterior.evidence.findings
    instance = network.instances[place]
    plugs = instance.cylinders or network.engine.cylinders
    rows = []
    for finding in network.rules.findings.values():
        where: Sequence[int | None] = (None,) if finding.level == "engine" else plugs
        if any((finding.id, cylinder) not in found for cylinder in where):
            rows.append(network.signals[finding.id])
    return rows


def separating_check(network: Network, one: int, other: int) -> str | None:
    """Return the check that tells two instances apart best for the minute; None if none does."""
    checks = [check for check in network.rules.checks.values() if network.engine.has(check.needs)]
    apart = [
        float(abs(answers(network, c)[one] - answers(network, c)[other])) / (c.minutes + c.setup_minutes + 1.0) for c in checks
    ]
    best = int(np.argmax(apart)) if apart else -1
    return checks[best].id if best >= 0 and apart[best] > 0.0 else None
