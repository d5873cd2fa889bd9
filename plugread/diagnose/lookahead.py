"""What a check is worth: expected loss saved by doing it, and by doing it and the best one after it.

One step alone misses checks that pay only together (Heckerman, Horvitz, Middleton 1991); two steps come within a fraction of a
per cent of the best plan on cases small enough to try every plan. A result is taken once; repeating is no fresh evidence.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from plugread.diagnose.losses import LossTable
from plugread.diagnose.numbers import Array
from plugread.diagnose.options import Option, outcomes_from, suppose
from plugread.diagnose.posterior import Posterior, likely_sets
from plugread.diagnose.sweep import WhatIf, rows_at_once, sweep

MOST_SETS = 120
"""Configurations of shared causes that a look ahead sums over at most; the sums are scaled to what is kept."""
FIRST_CHECKS = 8
"""Checks that are looked at as the first of two; 3 would cost half as much again in loss, more gain next to nothing."""
SECOND_CHECKS = 16
"""Checks that are looked at as the second of two."""
ROWS_AT_ONCE = 128
"""Suppositions swept together at most; more no longer fit in the processor's cache."""

Key = tuple[tuple[int, int], ...]


@dataclass(frozen=True, eq=False)
class Outlook:
    """One option with the chance of each outcome (outcomes,) and of each cause together with it (outcomes, instances)."""

    option: Option
    total: Array
    joint: Array


class Lookahead:
    """Values of checks from one state of knowledge.

    Parameters
    ----------
    posterior : what is known.
    losses : what being wrong costs.
    options : what could be done.
    counting : causes (instances,) that knowledge is sought of; all by default.
    between : called between pieces of work of a few hundredths of a second; what it raises ends the work.

    Attributes
    ----------
    now : loss of stopping now.
    chances : those of the causes (instances,), over the configurations looked at.
    """

    def __init__(
        self,
        posterior: Posterior,
        losses: LossTable,
        options: Sequence[Option],
        counting: NDArray[np.bool_] | None = None,
        between: Callable[[], None] | None = None,
    ) -> None:
        self.network, self.observed = posterior.network, posterior.observed
        self.losses, self.options = losses, tuple(options)
        self.sets = likely_sets(self.network, posterior.swept.mass[0], most=MOST_SETS)
        start = sweep(self.network, self.observed, sets=self.sets)
        self.chances, self._log_now = start.chances[0], start.log_chance[0]
        self.now = float(losses.stopping(start.chances, np.ones(1))[0])
        self.counting = np.ones(len(self.chances), dtype=bool) if counting is None else counting
        self._ladders = [suppose(self.network, option) for option in self.options]
        self._known: dict[Key, tuple[float, Array]] = {}
        self._between = between

    @cached_property
    def outlooks(self) -> tuple[Outlook, ...]:
        """What each option would tell."""
        tables = self._tables([(number,) for number in range(len(self.options))])
        return tuple(Outlook(option, *table) for option, table in zip(self.options, tables, strict=True))

    @cached_property
    def one_step(self) -> Array:
        """Expected loss saved by each option alone, its own cost taken off; shape (options,)."""
        return np.array([self.now - self._cost(o.option) - self._stopping(o).sum() for o in self.outlooks])

    @cached_property
    def promising(self) -> tuple[int, ...]:
        """Options in the order in which they are worth a closer look: the best by saving and by knowledge a minute, in turn."""
        by_saving = np.argsort(-self.one_step, kind="stable")
        by_knowledge = np.argsort(-self.knowledge / self.minutes, kind="stable")
        in_turn = np.stack([by_saving, by_knowledge], axis=1).reshape(-1)
        return tuple(dict.fromkeys(int(number) for number in in_turn))

    @cached_property
    def knowledge(self) -> Array:
        """Expected fall of the uncertainty (sum of entropies in nats) by each option."""
        before = _uncertainty(self.chances[None, self.counting], np.ones(1))[0]
        return np.array([before - _uncertainty(o.joint[:, self.counting], o.total).sum() for o in self.outlooks])

    @cached_property
    def two_steps(self) -> Array:
        """Expected loss saved by each option and the best one after it; one-step value for those not looked at; (options,)."""
        values = self.one_step.copy()
        stops: dict[int, list[Array]] = {}
        firsts, seconds = self.promising[:FIRST_CHECKS], self.promising[:SECOND_CHECKS]
        pairs = [(first, second) for first in firsts for second in seconds if second != first]
        for pair, table in zip(pairs, self._tables(pairs), strict=True):
            stops.setdefault(pair[0], []).append(self._after(pair, *table))
        for first in firsts:
            best = np.min([self._stopping(self.outlooks[first]), *stops.get(first, [])], axis=0)
            values[first] = self.now - self._cost(self.options[first]) - best.sum()
        return values

    @cached_property
    def own_values(self) -> Array:
        """What each option saves beyond what the best other one would save without it; shape (options,).

        A cheap first step that only delays the good one is worth less than nothing.
        """
        if len(self.options) < 2:
            return self.two_steps
        best, second = np.argsort(-self.one_step, kind="stable")[:2]
        without = np.where(np.arange(len(self.options)) == best, self.one_step[second], self.one_step[best])
        return np.asarray(np.maximum(self.one_step, self.two_steps - np.maximum(without, 0.0)))

    @cached_property
    def best(self) -> int | None:
        """The option to start with; None if none saves anything."""
        first = int(np.argmax(self.two_steps)) if len(self.options) else -1
        return first if first >= 0 and self.two_steps[first] > 0.0 else None

    @property
    def minutes(self) -> Array:
        """Minutes of each option, one at least."""
        return np.array([max(option.minutes, 1.0) for option in self.options])

    def _cost(self, option: Option) -> float:
        return self.losses.minute * option.minutes

    def _stopping(self, outlook: Outlook) -> Array:
        return self.losses.stopping(outlook.joint, outlook.total)

    def _after(self, pair: tuple[int, int], total: Array, joint: Array) -> Array:
        """Loss after each outcome of the first check if the second is done next; shape (outcomes of the first,)."""
        first, second = pair
        stops = self.losses.stopping(joint, total).reshape(len(self.outlooks[first].total), -1)
        return np.asarray(stops.sum(axis=1) + self._cost(self.options[second]) * self.outlooks[first].total)

    def _tables(self, groups: Sequence[tuple[int, ...]]) -> list[tuple[Array, Array]]:
        """Chance of each joint outcome of each group of options, alone and together with each cause."""
        keys = [[_supposed(group, rows) for rows in np.ndindex(*self._row_counts(group))] for group in groups]
        self._sweep_missing(dict.fromkeys(key for group in keys for key in group))
        out = []
        for group, rows in zip(groups, keys, strict=True):
            shape = [size for number in group for size in self.options[number].shape]
            total = np.array([self._known[key][0] for key in rows])
            joint = np.stack([self._known[key][1] for key in rows])
            out.append((outcomes_from(total, shape), outcomes_from(joint, shape)))
        return out

    def _row_counts(self, group: tuple[int, ...]) -> tuple[int, ...]:
        return tuple(len(self._ladders[number].leak) for number in group)

    def _sweep_missing(self, keys: Iterable[Key]) -> None:
        missing = [key for key in keys if key not in self._known]
        rows = rows_at_once(self.observed, ROWS_AT_ONCE)
        for start in range(0, len(missing), rows):
            if self._between is not None:
                self._between()
            part = missing[start : start + rows]
            swept = sweep(self.network, self.observed, sets=self.sets, what_if=self._what_if(part))
            total = np.exp(swept.log_chance - self._log_now)
            self._known.update(zip(part, zip(total, swept.chances * total[:, None], strict=True), strict=True))

    def _what_if(self, keys: Sequence[Key]) -> WhatIf:
        rows = [self._row(key) for key in keys]
        return WhatIf(*(np.concatenate([getattr(row, name) for row in rows]) for name in ("leak", "shared", "own")))

    def _row(self, key: Key) -> WhatIf:
        row = WhatIf.nothing(self.network)
        for number, position in key:
            row = row.each_with(self._ladders[number].row(position))
        return row


def _supposed(group: tuple[int, ...], rows: tuple[int, ...]) -> Key:
    """Name a supposition by option and row; row 0 supposes nothing and is left out."""
    return tuple(sorted((number, row) for number, row in zip(group, rows, strict=True) if row))


def _uncertainty(joint: Array, total: Array) -> Array:
    """Sum over the causes of the entropy of present or not, times the chance of the outcome; shape (outcomes,)."""
    share = np.clip(joint / np.maximum(total, np.finfo(float).tiny)[:, None], 0.0, 1.0)
    return np.asarray(total * (_entropy(share) + _entropy(1.0 - share)).sum(axis=1))


def _entropy(share: Array) -> Array:
    return np.asarray(-share * np.log(np.where(share > 0.0, share, 1.0)))
