"""How far the answer hangs on the numbers behind the words: the same case under many shaken rule bases.

Every word, and every number by itself, is moved in log-odds (noise of this kind: Henrion, Pradhan et al. 1996); what counts is
how often the first cause stays first (Kipersztok and Wang 2001). Losses are shaken for the verdict.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

import numpy as np

from plugread.diagnose.losses import LossTable
from plugread.diagnose.network import Network
from plugread.diagnose.numbers import Array, Numbers, Words
from plugread.diagnose.posterior import Posterior, likely_sets
from plugread.diagnose.sweep import rows_at_once, sweep
from plugread.records import Evidence

SETS = 200
"""Configurations of shared causes that the shaken rule bases sum over at most."""
ROWS_AT_ONCE = 50
SHAKEN_KEPT = 2
"""Networks whose shaken rule bases stay in memory (about 15 MB each)."""
LOSS_SPREAD = 0.5
"""Standard deviation of the noise on each loss, natural log (our estimate: a factor of 1.6 either way)."""
DOUBTFUL = 0.60
"""Below this share the order of the causes must not be relied on (our estimate)."""
TIE = 1e-6
"""Causes this close share the first place (the same cause at places that nothing tells apart)."""
Z_95 = 1.959963984540054
"""Two-sided 95 % point of the normal distribution."""


@dataclass(frozen=True, eq=False)
class Shaken:
    """The same case under n shaken rule bases.

    `first` is the position of the first cause as it stands, `stays_first` the share in which it stays first, with the Wilson
    `interval`; `chances` (n, instances).
    """

    first: int
    stays_first: float
    interval: tuple[float, float]
    chances: Array

    def band(self, place: int) -> tuple[float, float]:
        """The 10-90 % range of the chance of one instance."""
        low, high = np.quantile(self.chances[:, place], [0.1, 0.9])
        return float(low), float(high)


def shake(network: Network, evidence: Evidence, n: int = 200, seed: int = 0) -> Shaken:
    """Return what becomes of the answer under `n` shaken rule bases; the same seed gives the same answer."""
    return shake_posterior(network.solve(evidence), n, seed)


def shake_posterior(posterior: Posterior, n: int = 200, seed: int = 0, between: Callable[[], None] | None = None) -> Shaken:
    """The same for a case already solved.

    Parameters
    ----------
    between : called between pieces of work of a few hundredths of a second; what it raises ends the work.
    """
    network = posterior.network
    numbers = _shaken(network.words, n, seed)
    sets = likely_sets(network, posterior.swept.mass[0], most=SETS)
    parts = []
    for part in _parts(numbers, rows_at_once(posterior.observed, ROWS_AT_ONCE)):
        if between is not None:
            between()
        parts.append(sweep(network, posterior.observed, numbers=part, sets=sets).chances)
    chances = np.concatenate(parts)
    first = posterior.order[0]
    level = posterior.chances >= posterior.chances[first] * (1.0 - TIE)
    stays = int(level[np.argmax(chances, axis=1)].sum())
    return Shaken(first, stays / n, wilson(stays, n), chances)


@lru_cache(maxsize=SHAKEN_KEPT)
def _shaken(words: Words, n: int, seed: int) -> Numbers:
    """Return the shaken rule bases of one network; they do not depend on the case."""
    return words.shaken(n, np.random.default_rng(seed))


def verdict_stays(shaken: Shaken, losses: LossTable, saving: float, action: str, seed: int = 0) -> float:
    """Return the share of shaken rule bases and loss tables in which the answer of least expected loss is the same.

    Parameters
    ----------
    saving : what the best check saves under the losses as they stand; it is scaled with the shaken loss of mending.
    """
    rng, n = np.random.default_rng(seed), len(shaken.chances)
    shape = (n, len(losses.severity))
    moved = LossTable(
        losses.severity * np.exp(rng.normal(0.0, LOSS_SPREAD, shape)),
        losses.put_right * np.exp(rng.normal(0.0, LOSS_SPREAD, shape)),
        losses.standing_still,
        losses.minute,
    )
    running, mending = moved.running_on(shaken.chances), moved.mending(shaken.chances, np.ones(n))
    usual = losses.mending(shaken.chances.mean(axis=0)[None], np.ones(1))[0]
    checking = mending * (1.0 - min(1.0, max(0.0, saving) / max(usual, 1e-9)))
    standing = losses.standing_still * np.exp(rng.normal(0.0, LOSS_SPREAD, n))
    order = ("carry_on", "investigate", "do_not_run")
    answers = np.argmin(np.stack([running, np.minimum(mending, checking), standing]), axis=0)
    return float(np.mean(answers == order.index(action)))


def wilson(successes: int, n: int) -> tuple[float, float]:
    """Return the 95 % score interval of a share (Wilson 1927)."""
    share, square = successes / n, Z_95**2
    middle = (share + square / (2 * n)) / (1 + square / n)
    half = Z_95 / (1 + square / n) * sqrt(share * (1 - share) / n + square / (4 * n**2))
    return max(0.0, middle - half), min(1.0, middle + half)


def _parts(numbers: Numbers, rows: int) -> list[Numbers]:
    cuts = range(0, numbers.count, rows)
    tables = (numbers.prior, numbers.link, numbers.leak, numbers.context_leak)
    return [Numbers(*(table[cut : cut + rows] for table in tables)) for cut in cuts]
