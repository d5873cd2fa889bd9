"""The next check for the least time: which one saves most, and what its outcomes would say."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plugread.diagnose.lookahead import Lookahead, Outlook
from plugread.diagnose.losses import loss_table
from plugread.diagnose.network import Network
from plugread.diagnose.numbers import Array
from plugread.diagnose.options import options_for
from plugread.diagnose.posterior import Posterior
from plugread.diagnose.words import listed, named, small
from plugread.records import CheckAdvice, Evidence
from plugread.rules.tables import Losses

CAUSES_TOLD = 2
"""So many causes are named for each outcome."""
LEAST_RISE = 0.02
"""A cause is named for an outcome if its chance rises by at least this much."""


def next_checks(network: Network, evidence: Evidence, n: int = 5, losses: Losses | None = None) -> tuple[CheckAdvice, ...]:
    """Return up to `n` checks worth doing next, best first.

    Checks already done, checks the engine cannot have, and checks that cost more than they can save are not among them.
    """
    return advise(look_ahead(network.solve(evidence), losses), n)


def look_ahead(posterior: Posterior, losses: Losses | None = None) -> Lookahead:
    """Return the values of everything that could be done next."""
    table = loss_table(posterior.network, losses)
    worry = np.minimum(table.severity, table.standing_still) * posterior.chances
    return Lookahead(posterior, table, options_for(posterior.network, posterior.evidence, worry))


def advise(ahead: Lookahead, n: int) -> tuple[CheckAdvice, ...]:
    """Return the best `n` checks of a look ahead, each once, at its best place."""
    order = sorted(range(len(ahead.options)), key=lambda number: -ahead.two_steps[number])
    best: dict[str, int] = {}
    for number in order:
        if ahead.two_steps[number] > 0.0:
            best.setdefault(ahead.options[number].check.id, number)
    return tuple(_advice(ahead, number) for number in list(best.values())[:n])


def _advice(ahead: Lookahead, number: int) -> CheckAdvice:
    option, rules = ahead.options[number], ahead.network.rules
    return CheckAdvice(
        id=option.check.id,
        cylinders=option.cylinders,
        minutes=option.minutes,
        value=float(ahead.two_steps[number]),
        why=_why(ahead, ahead.outlooks[number]),
        cautions=tuple(rules.cautions.get(caution, caution) for caution in option.check.cautions),
        outcomes=tuple(outcome.id for outcome in option.check.outcomes),
    )


def _why(ahead: Lookahead, outlook: Outlook) -> str:
    """What each outcome would point to; at the most suspicious place if the check is done on several."""
    question = outlook.option.questions[0]
    total, joint = _at_first_place(outlook)
    said = []
    for outcome, chance, together in zip(question.check.outcomes, total, joint, strict=True):
        causes = _raised(ahead, together / chance) if chance > 0.0 else []
        if causes:
            said.append(f"{small(outcome.name)} points to {listed(causes, 'or')}")
    return "; ".join(said)[:1].upper() + "; ".join(said)[1:] + "." if said else question.check.separates


def _at_first_place(outlook: Outlook) -> tuple[Array, Array]:
    shape = outlook.option.shape
    total = outlook.total.reshape(shape[0], -1).sum(axis=1)
    return total, outlook.joint.reshape(shape[0], -1, outlook.joint.shape[1]).sum(axis=1)


def _raised(ahead: Lookahead, chances: Array) -> list[str]:
    rise = chances - ahead.chances
    places: Sequence[int] = [int(place) for place in np.argsort(-rise, kind="stable")[:CAUSES_TOLD] if rise[place] >= LEAST_RISE]
    return [named(ahead.network.rules, ahead.network.instances[place]) for place in places]
