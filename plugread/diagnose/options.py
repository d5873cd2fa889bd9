"""What could be done next: every check the engine can have and that is not done yet, where, and what it costs.

A check is made of questions, one a place; a question has outcomes in order of dominance. "None of the first k outcomes fired" is
a set of absences, so the chance of every outcome follows from a few what-ifs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plugread.diagnose.network import Network
from plugread.diagnose.numbers import Array, Numbers, outcome_signal
from plugread.diagnose.sweep import WhatIf
from plugread.records import Evidence
from plugread.rules.tables import Check

MOST_PLACES = 2
"""A check done cylinder by cylinder is considered on so many of the most suspicious ones; one done on all of them at once is
valued by what these tell, a lower bound."""


@dataclass(frozen=True)
class Question:
    """One check at one place (None = engine)."""

    check: Check
    cylinder: int | None


@dataclass(frozen=True)
class Option:
    """Something to do next; `minutes` in all, `cylinders` it is done on."""

    check: Check
    cylinders: tuple[int, ...]
    minutes: float
    questions: tuple[Question, ...]

    @property
    def shape(self) -> tuple[int, ...]:
        """Number of outcomes of each question."""
        return tuple(len(question.check.outcomes) for question in self.questions)


def options_for(network: Network, evidence: Evidence, suspicion: Array) -> tuple[Option, ...]:
    """List what could be done next.

    Parameters
    ----------
    suspicion : shape (instances,), how much each cause at each place matters; picks the cylinders worth a check.
    """
    options: list[Option] = []
    for check in network.rules.checks.values():
        if network.engine.has(check.needs) and _ripe(check, evidence):
            options += _options_of(network, evidence, check, suspicion)
    return tuple(options)


def _ripe(check: Check, evidence: Evidence) -> bool:
    return not check.after or any(done == check.after for done, _ in evidence.outcomes)


def _options_of(network: Network, evidence: Evidence, check: Check, suspicion: Array) -> list[Option]:
    done = {place for name, place in evidence.outcomes if name == check.id}
    setup = 0.0 if done else check.setup_minutes
    if check.per == "engine":
        return [] if done else [Option(check, (), setup + check.minutes, (Question(check, None),))]
    open_places = [cylinder for cylinder in network.engine.cylinders if cylinder not in done]
    worst = _most_suspicious(network, check, suspicion, open_places)
    if check.per == "cylinder":
        return [Option(check, (cylinder,), setup + check.minutes, (Question(check, cylinder),)) for cylinder in worst]
    if not open_places:
        return []
    questions = tuple(Question(check, cylinder) for cylinder in worst)
    return [Option(check, tuple(open_places), setup + check.minutes * len(open_places), questions)]


def _most_suspicious(network: Network, check: Check, suspicion: Array, places: Sequence[int]) -> list[int]:
    """The cylinders where causes that the check can answer matter most; ties go to the lower number."""
    answered = suspicion * answers(network, check)
    reach = {cylinder: sum(answered[network.standing_at(cylinder)]) for cylinder in places}
    return sorted(places, key=lambda cylinder: (-reach[cylinder], cylinder))[:MOST_PLACES]


def answers(network: Network, check: Check) -> Array:
    """Return how surely the check shows each cause (instances,): the chance that an outcome fires by that cause alone."""
    rows = [network.signals[outcome_signal(check.id, outcome.id)] for outcome in check.outcomes[:-1]]
    return np.asarray(1.0 - np.prod(1.0 - network.numbers.link[0, rows], axis=0))[network.cause_of]


# ---- what-ifs --------------------------------------------------------------------------------------------


def suppose(network: Network, option: Option) -> WhatIf:
    """Return one row for each combination of "the first k outcomes did not fire" over the questions of `option`.

    Rows stand in the order of `np.ndindex(option.shape)`; the first supposes nothing.
    """
    rows = WhatIf.nothing(network)
    for question in option.questions:
        rows = rows.each_with(_ladder(network, question, network.numbers))
    return rows


def _ladder(network: Network, question: Question, numbers: Numbers) -> WhatIf:
    """One row for each k: none of the first k outcomes fired."""
    outcomes = question.check.outcomes[:-1]
    signals = [network.signals[outcome_signal(question.check.id, outcome.id)] for outcome in outcomes]
    kept = np.cumprod([np.ones(len(network.causes)), *(1.0 - numbers.link[0, signal] for signal in signals)], axis=0)
    leak = np.cumprod([1.0, *(1.0 - numbers.leak[0, signal] for signal in signals)])
    touches = [question.cylinder is None or instance.reaches(question.cylinder) for instance in network.shared]
    here = [question.cylinder in (None, cylinder) for cylinder in network.engine.cylinders]
    shared = np.where(touches, kept[:, network.shared_of], 1.0)
    own = np.where(np.array(here)[None, :, None], kept[:, None, network.local_of], 1.0)
    return WhatIf(leak, shared, own)


def outcomes_from(ladder: Array, shape: Sequence[int]) -> Array:
    """Turn chances of "the first k did not fire" (rows, ...) into chances of the outcomes, in the same order of rows."""
    table = ladder.reshape(*shape, *ladder.shape[1:])
    for axis in range(len(shape)):
        last = [(0, 1) if number == axis else (0, 0) for number in range(table.ndim)]
        padded = np.pad(table, last)
        table = -np.diff(padded, axis=axis)
    return np.maximum(table, 0.0).reshape(ladder.shape)
