"""The next check for the least time: which one saves most, and what its outcomes would say."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import zip_longest

import numpy as np
from numpy.typing import NDArray

from plugread.diagnose.danger import dangers
from plugread.diagnose.lookahead import Lookahead, Outlook
from plugread.diagnose.losses import loss_table
from plugread.diagnose.network import Network
from plugread.diagnose.numbers import Array
from plugread.diagnose.options import answers, options_for
from plugread.diagnose.posterior import Posterior
from plugread.diagnose.words import listed, named, small
from plugread.records import CheckAdvice, Evidence
from plugread.rules.tables import Losses

OFF = "off"
"""What the engine does for a check that neither cranks nor runs it."""
CAUSES_TOLD = 2
"""So many causes are named for each outcome."""
LEAST_SAVING = 0.05
"""A check is named for what it saves if that is at least this share of the loss of stopping now. Others are named for what they
may show: two signs are wanted before money is spent, a reading and a test (trade texts)."""
FETCHING_MINUTES = 10.0
"""Minutes that any check takes before it starts, where checks are ranked by what they show for the minute (our estimate)."""
RAISED = 2.0
"""A cause counts from so many times its prior chance (our estimate; the prior words stand a factor of three apart)."""
LEAST_RISE = 0.02
"""A cause is named for an outcome if its chance rises by at least this much."""


def next_checks(network: Network, evidence: Evidence, n: int = 5, losses: Losses | None = None) -> tuple[CheckAdvice, ...]:
    """Return up to `n` checks worth doing next, best first.

    Checks already done, checks the engine cannot have, and with a sign of danger those that turn the engine, are not among them.
    """
    return advise(look_ahead(network.solve(evidence), losses), n)


def look_ahead(posterior: Posterior, losses: Losses | None = None, between: Callable[[], None] | None = None) -> Lookahead:
    """Return the values of everything that could be done next; `between` as for `Lookahead`."""
    raised = raised_causes(posterior)
    table = loss_table(posterior.network, losses).only(raised)
    worry = np.where(raised, posterior.chances, 0.0)
    options = options_for(posterior.network, posterior.evidence, worry)
    if dangers(posterior):
        options = tuple(option for option in options if option.check.engine == OFF)
    return Lookahead(posterior, table, options, raised, between)


def raised_causes(posterior: Posterior) -> NDArray[np.bool_]:
    """Tell which causes the evidence has made likelier than on any engine of the kind; shape (instances,).

    Losses and knowledge count for these alone: what is as rare as ever is no reason to open this engine.
    """
    network = posterior.network
    prior = network.numbers.prior[0, network.cause_of]
    return np.asarray(posterior.chances >= RAISED * prior)


def advise(ahead: Lookahead, n: int, *, still: bool = False) -> tuple[CheckAdvice, ...]:
    """Return the best `n` checks of a look ahead, each once, at its best place; with `still` none that turns the engine.

    First the one that saves most, then in turn what shows the likeliest cause soonest and what saves next.
    """
    values, telling = ahead.own_values, confirming(ahead) / (ahead.minutes + FETCHING_MINUTES)
    worth = [] if ahead.best is None or ahead.two_steps[ahead.best] < LEAST_SAVING * ahead.now else [ahead.best]
    saving = [int(number) for number in np.argsort(-values, kind="stable") if values[number] > LEAST_SAVING * ahead.now]
    others = [int(number) for number in np.argsort(-telling, kind="stable") if telling[number] > 0.0]
    best: dict[str, int] = {}
    for number in (*worth, *_in_turn(others, saving)):
        check = ahead.options[number].check
        if not still or check.engine == OFF:
            best.setdefault(check.id, number)
    return tuple(_advice(ahead, number) for number in list(best.values())[:n])


def _in_turn(one: Sequence[int], other: Sequence[int]) -> list[int]:
    return [number for pair in zip_longest(one, other) for number in pair if number is not None]


def confirming(ahead: Lookahead) -> Array:
    """Return how surely each option shows the likeliest of the raised causes and none of the others; shape (options,).

    In the order of the chance of finding the fault for the minute it is found soonest on average (Kadane and Simon 1975). A
    check that all suspects fail alike finds nothing.
    """
    found = []
    for option in ahead.options:
        shows = answers(ahead.network, option.check)
        found.append(max(_told_apart(ahead, shows, question.cylinder) for question in option.questions))
    return np.array(found)


def _told_apart(ahead: Lookahead, shows: Array, cylinder: int | None) -> float:
    """Chance of the raised causes that the check shows, less what it shows of everything else that could be here.

    Everything else counts by its chance and by its prior: a check that any fault fails confirms none, however sure the first is.
    """
    network = ahead.network
    here = np.ones(len(shows), dtype=bool) if cylinder is None else network.reaching(cylinder)
    weight = (ahead.chances + network.numbers.prior[0, network.cause_of]) * here
    shown = weight * shows
    others = (shown.sum() - shown) / np.maximum(weight.sum() - weight, np.finfo(float).tiny)
    apart = np.maximum(shows - others, 0.0)
    specific = apart / np.maximum(shows, np.finfo(float).tiny)
    return float((ahead.chances * apart * specific)[here & ahead.counting].sum())


def _advice(ahead: Lookahead, number: int) -> CheckAdvice:
    option, rules = ahead.options[number], ahead.network.rules
    return CheckAdvice(
        id=option.check.id,
        cylinders=option.cylinders,
        minutes=option.minutes,
        value=float(ahead.two_steps[number] if number == ahead.best else ahead.own_values[number]),
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
