"""The network of one engine: every cause at every place it can sit, and which shared causes may be present together.

Two layers (Shwe et al. 1991 for the shape): yes/no causes above; below them findings, each a leaky noisy-OR of the causes
that reach it. At most three shared causes (all but those of one cylinder) are present at once; this is part of the model.
Causes of one cylinder may be present in any number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain, combinations
from math import comb
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from plugread.diagnose.numbers import Array, Index, Numbers, signals_of, words_of
from plugread.engine import Engine
from plugread.records import Evidence
from plugread.rules.tables import Rules

if TYPE_CHECKING:
    from plugread.diagnose.posterior import Posterior

MOST_SHARED = 3
"""Shared causes present at once (part of the model: a fourth moves the first place in no case of the test bench)."""


@dataclass(frozen=True)
class Instance:
    """One cause at one place; `cylinders` is empty for the whole engine."""

    cause: str
    scope: str
    cylinders: tuple[int, ...]

    def reaches(self, cylinder: int) -> bool:
        """Whether the cause can show on the plug of `cylinder`."""
        return not self.cylinders or cylinder in self.cylinders


@dataclass(frozen=True, eq=False)
class Local:
    """The configurations as one cylinder sees them.

    `members` of shape (seen, K) are shared instances that reach it, padded with their count; `place` of shape
    (configurations,) says which row each configuration becomes.
    """

    members: Index
    place: Index

    @cached_property
    def _runs(self) -> tuple[Index, Index]:
        order = np.argsort(self.place, kind="stable")
        return order, np.searchsorted(self.place[order], np.arange(len(self.members)))

    def collapse(self, values: Array) -> Array:
        """Add up `values` (..., configurations) over those that look alike; returns (..., seen)."""
        order, starts = self._runs
        return np.asarray(np.add.reduceat(values[..., order], starts, axis=-1))


@dataclass(frozen=True, eq=False)
class Configurations:
    """Sets of shared causes that are present together.

    `members` of shape (configurations, K) are positions of shared instances, padded with `shared_count`; row 0 is the empty set.
    """

    members: Index
    locals: tuple[Local, ...]
    shared_count: int

    @cached_property
    def holds(self) -> Array:
        """1.0 where a configuration holds a shared instance; shape (configurations, shared)."""
        table = np.zeros((len(self.members), self.shared_count + 1))
        np.put_along_axis(table, self.members, 1.0, axis=1)
        return table[:, :-1]


class Network:
    """Causes, places and numbers for one engine under one rule base; reusable for any number of cases.

    Parameters
    ----------
    rules, engine : the rule base and the engine.
    at_most : how many shared causes may be present together; None = any number (small networks only).

    Attributes
    ----------
    shared : instances that reach more than one plug, or the whole engine.
    local_causes : ids of the causes of one cylinder, the same for every cylinder.
    instances : shared ones, then those of each cylinder in turn; the order of every array of chances.
    signals : name of a finding or outcome -> its row in the tables.
    cause_of : position of each instance's cause in the tables.
    """

    def __init__(self, rules: Rules, engine: Engine, at_most: int | None = MOST_SHARED) -> None:
        self.rules, self.engine = rules, engine
        places = {cause.id: engine.instances(cause) for cause in rules.causes.values()}
        self.causes = tuple(cause for cause, where in places.items() if where)
        scope = {cause: rules.causes[cause].scope for cause in self.causes}
        self.local_causes = tuple(cause for cause in self.causes if scope[cause] == "cylinder")
        self.shared = tuple(
            Instance(cause, scope[cause], where) for cause in self.causes if scope[cause] != "cylinder" for where in places[cause]
        )
        own = (Instance(cause, "cylinder", (cylinder,)) for cylinder in engine.cylinders for cause in self.local_causes)
        self.instances = (*self.shared, *own)
        self.signals = {signal: row for row, signal in enumerate(signals_of(rules))}
        column = {cause: number for number, cause in enumerate(self.causes)}
        self.cause_of = np.array([column[instance.cause] for instance in self.instances], dtype=np.intp)
        self.local_of = np.array([column[cause] for cause in self.local_causes], dtype=np.intp)
        self.words = words_of(rules, self.causes, tuple(self.signals))
        self.at_most = len(self.shared) if at_most is None else min(at_most, len(self.shared))

    @cached_property
    def numbers(self) -> Numbers:
        """The rule base as it stands."""
        return self.words.numbers()

    @cached_property
    def configurations(self) -> Configurations:
        """Every set of shared causes the model allows."""
        return self.configurations_of(_subsets(len(self.shared), self.at_most))

    @property
    def shared_of(self) -> Index:
        """Position of each shared instance's cause in the tables."""
        return self.cause_of[: len(self.shared)]

    def configurations_of(self, members: Index) -> Configurations:
        """Arrange some sets of shared causes (rows of `members`) for all cylinders."""
        count = len(self.shared)
        locals_ = tuple(_seen_from(members, self._reaching(cylinder), count) for cylinder in self.engine.cylinders)
        return Configurations(members, locals_, count)

    def local_slice(self, cylinder: int) -> slice:
        """Where the causes of `cylinder` stand among the instances."""
        start = len(self.shared) + self.engine.cylinders.index(cylinder) * len(self.local_causes)
        return slice(start, start + len(self.local_causes))

    def reaching(self, cylinder: int) -> NDArray[np.bool_]:
        """Which instances can show on the plug of `cylinder`."""
        return np.array([instance.reaches(cylinder) for instance in self.instances], dtype=bool)

    def standing_at(self, cylinder: int) -> NDArray[np.bool_]:
        """Which instances are bound to `cylinder`, alone or with others; causes of the whole engine are not."""
        return np.array([cylinder in instance.cylinders for instance in self.instances], dtype=bool)

    def place_of(self, cause: str, cylinders: Sequence[int] = ()) -> int:
        """Position of a cause at a place among the instances."""
        scope = self.rules.causes[cause].scope
        return self.instances.index(Instance(cause, scope, tuple(cylinders)))

    def solve(self, evidence: Evidence) -> Posterior:
        """Return the exact posterior of every cause at every place."""
        from plugread.diagnose.posterior import solve_network

        return solve_network(self, evidence)

    def _reaching(self, cylinder: int) -> Index:
        """Shared instance -> itself if it reaches `cylinder`, else the padding; the padding maps to itself."""
        count = len(self.shared)
        kept = [number if instance.reaches(cylinder) else count for number, instance in enumerate(self.shared)]
        return np.array([*kept, count], dtype=np.intp)


def _subsets(count: int, at_most: int) -> Index:
    """All subsets of up to `at_most` of `count` things, smallest first, each padded with `count`."""
    rows = []
    for size in range(at_most + 1):
        chosen = np.fromiter(chain.from_iterable(combinations(range(count), size)), np.intp).reshape(comb(count, size), size)
        rows.append(np.pad(chosen, ((0, 0), (0, max(at_most, 1) - size)), constant_values=count))
    return np.concatenate(rows)


def _seen_from(members: Index, kept: Index, count: int) -> Local:
    """Collapse configurations that differ only in causes which do not reach the cylinder."""
    seen = np.sort(kept[members], axis=1)
    keys = seen @ (count + 1) ** np.arange(seen.shape[1])
    _, first, place = np.unique(keys, return_index=True, return_inverse=True)
    return Local(seen[first], place.reshape(-1))
