"""The rule base as numbers: priors, links and leaks as arrays, plain or shaken.

Every array starts with an axis of rule bases: length 1 for the rule base itself, n for n shaken copies of it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plugread.rules.tables import Link, Rules

Array = NDArray[np.float64]
Index = NDArray[np.intp]

WORD_SHIFT_SD = 0.35
"""Log-odds by which all uses of one word move together (our estimate: with the next one half a word in all)."""
OWN_SHIFT_SD = 0.35
"""Log-odds by which each number moves by itself (noise of this kind: Henrion, Pradhan et al. 1996)."""


@dataclass(frozen=True, eq=False)
class Numbers:
    """Numbers of B rule bases.

    `prior` has shape (B, causes), `link` (B, signals, causes), `leak` (B, signals), `context_leak` (B, contexts); NaN in
    `context_leak` keeps the finding's own leak.
    """

    prior: Array
    link: Array
    leak: Array
    context_leak: Array

    @property
    def count(self) -> int:
        """How many rule bases stand side by side."""
        return len(self.prior)


@dataclass(frozen=True, eq=False)
class Words:
    """Which word stands where: positions in `scale`, whose entry 0 is "no word" (chance 0)."""

    prior: Index
    link: Index
    leak: Index
    context_leak: Index
    scale: Array

    def numbers(self) -> Numbers:
        """Return the rule base as it stands (B = 1)."""
        return self._read(self.scale[None, :], lambda chances: chances)

    def shaken(self, count: int, rng: np.random.Generator) -> Numbers:
        """Return `count` rule bases whose words, and each number by itself, are off by normal noise in log-odds."""
        with np.errstate(divide="ignore"):
            log_odds = np.log(self.scale) - np.log1p(-self.scale)
        moved = log_odds + rng.normal(0.0, WORD_SHIFT_SD, (count, len(log_odds)))
        return self._read(moved, lambda odds: _chance(odds + rng.normal(0.0, OWN_SHIFT_SD, odds.shape)))

    def _read(self, scale: Array, finish: Callable[[Array], Array]) -> Numbers:
        context_leak = finish(scale[:, self.context_leak])
        return Numbers(
            prior=finish(scale[:, self.prior]),
            link=finish(scale[:, self.link]),
            leak=finish(scale[:, self.leak]),
            context_leak=np.where(self.context_leak == 0, np.nan, context_leak),
        )


def signals_of(rules: Rules) -> tuple[str, ...]:
    """Name everything a cause can show as: findings by id, then the outcomes of checks as "check/outcome".

    The fallthrough outcome of a check is not among them: it is what is seen when no other outcome fires.
    """
    firing = (outcome_signal(check.id, outcome.id) for check in rules.checks.values() for outcome in check.outcomes[:-1])
    return (*rules.findings, *firing)


def outcome_signal(check: str, outcome: str) -> str:
    """Return the name of an outcome among the signals."""
    return f"{check}/{outcome}"


def words_of(rules: Rules, causes: Sequence[str], signals: Sequence[str]) -> Words:
    """Look up the words of all priors, links and leaks of `causes` and `signals`."""
    lexicon = _Lexicon(rules)
    column = {cause: number for number, cause in enumerate(causes)}
    leaks, links = _leak_words(rules), _links_by_signal(rules)
    link = np.zeros((len(signals), len(causes)), dtype=np.intp)
    for row, signal in enumerate(signals):
        for entry in links[signal]:
            if entry.cause in column:
                link[row, column[entry.cause]] = lexicon.place("link", entry.strength)
    return Words(
        prior=lexicon.places("prior", (rules.causes[cause].prior for cause in causes)),
        link=link,
        leak=lexicon.places("leak", (leaks[signal] for signal in signals)),
        context_leak=lexicon.places("leak", (context.leak for context in rules.contexts)),
        scale=lexicon.scale,
    )


class _Lexicon:
    """Places of the words of all scales in one array of chances."""

    def __init__(self, rules: Rules) -> None:
        scales: Mapping[str, Mapping[str, float]] = {
            "prior": rules.scales.prior,
            "link": rules.scales.link,
            "leak": rules.scales.leak,
        }
        words = [(scale, word, chance) for scale, table in scales.items() for word, chance in table.items()]
        self.scale = np.array([0.0, *(chance for _, _, chance in words)])
        self._place = {(scale, word): number for number, (scale, word, _) in enumerate(words, start=1)}

    def place(self, scale: str, word: str) -> int:
        return self._place[scale, word] if word else 0

    def places(self, scale: str, words: Iterable[str]) -> Index:
        return np.array([self.place(scale, word) for word in words], dtype=np.intp)


def _leak_words(rules: Rules) -> dict[str, str]:
    own = {finding.id: finding.leak for finding in rules.findings.values()}
    alarms = {
        outcome_signal(check.id, outcome.id): outcome.false_alarm for check in rules.checks.values() for outcome in check.outcomes
    }
    return own | alarms


def _links_by_signal(rules: Rules) -> dict[str, list[Link]]:
    links: dict[str, list[Link]] = defaultdict(list)
    for link in rules.links:
        links[link.finding].append(link)
    for check in rules.checks.values():
        for outcome in check.outcomes:
            links[outcome_signal(check.id, outcome.id)].extend(outcome.answers)
    return links


def _chance(log_odds: Array) -> Array:
    return np.asarray(1.0 / (1.0 + np.exp(-log_odds)))
