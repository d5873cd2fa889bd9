"""One pass over the network and back: the chance of the evidence, and of every cause together with it, exactly.

Forwards: given a configuration of shared causes the cylinders are independent but for the coupled signs of the engine, which
are carried from cylinder to cylinder as the set accounted for so far. Backwards: what every entry of every table is worth, from
which all chances follow at once. Only the terms of a photo are ever subtracted; and with more than a few coupled signs, where the
sums without subtraction grow by three a sign, sums over subsets that grow by two, at the price of some digits.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from plugread.diagnose.cover import at_least, at_most, join, products_left, signed_left, unjoin
from plugread.diagnose.network import Configurations, Local, Network
from plugread.diagnose.numbers import Array, Numbers
from plugread.diagnose.observed import Observed, PlugSights, Sight
from plugread.diagnose.plug_table import Own, PlugTable, absences, miss_of, over_members, plug_table

MOST_WITHOUT_SUBTRACTION = 4
"""Coupled signs up to which nothing is subtracted; with 6 chances keep about 7 digits, with 8 about 6."""

Known = dict[tuple[int, PlugSights, tuple[Sight, ...], bytes], PlugTable]
"""Tables of cylinders by position, by all that was seen there, and by what they take from the engine: its coupled signs and
what each own cause leaves of its absences."""


@dataclass(frozen=True, eq=False)
class WhatIf:
    """Further absences, one row for each of B suppositions.

    `leak` (B,) is the chance of them with no cause; `shared` (B, shared) and `own` (B, cylinders, own causes) what each
    present cause leaves of it.
    """

    leak: Array
    shared: Array
    own: Array

    @staticmethod
    def nothing(network: Network) -> WhatIf:
        """Return the one supposition that adds nothing."""
        cylinders, own = len(network.engine.cylinders), len(network.local_causes)
        return WhatIf(np.ones(1), np.ones((1, len(network.shared))), np.ones((1, cylinders, own)))

    def each_with(self, other: WhatIf) -> WhatIf:
        """Return every row of this one together with every row of the other, which then runs faster."""
        rows = len(self.leak) * len(other.leak)
        return WhatIf(
            (self.leak[:, None] * other.leak).reshape(rows),
            (self.shared[:, None] * other.shared).reshape(rows, *other.shared.shape[1:]),
            (self.own[:, None] * other.own).reshape(rows, *other.own.shape[1:]),
        )

    def row(self, number: int) -> WhatIf:
        """Return one row."""
        part = slice(number, number + 1)
        return WhatIf(self.leak[part], self.shared[part], self.own[part])

    def of(self, cylinder: int) -> Array:
        """What the own causes of the cylinder at this position leave; one row where no supposition touches it."""
        own = self.own[:, cylinder]
        return own if (own != 1.0).any() else own[:1]


@dataclass(frozen=True, eq=False)
class Swept:
    """What a sweep gives for B rule bases or suppositions.

    `log_chance` (B,) is that of all the evidence; `chances` (B, instances) those of the causes given it, `none` (B,) that all
    are absent; `mass` (B, configurations) the share of each configuration; `worth[c]` (B, D, X) what each entry of the
    likelihood of the cylinder at position c is worth, as a share of the whole.
    """

    log_chance: Array
    chances: Array
    none: Array
    mass: Array
    worth: tuple[Array, ...]


def sweep(  # noqa: PLR0913 - each says another thing to keep fixed
    network: Network,
    observed: Observed,
    *,
    numbers: Numbers | None = None,
    sets: Configurations | None = None,
    what_if: WhatIf | None = None,
    prior: Array | None = None,
    known: Known | None = None,
    most_joined: int = MOST_WITHOUT_SUBTRACTION,
    own_of: Collection[int] | None = None,
) -> Swept:
    """Sweep forwards and back.

    Parameters
    ----------
    network, observed : the network, and what is known.
    numbers : rule bases to use side by side; the network's own by default.
    sets : configurations to sum over; all that the model allows by default.
    what_if : further absences, one row a supposition.
    prior : chances of the instances before any evidence, shape (B, instances); those of `numbers` by default.
    known : tables of cylinders to use again, and to add to; only for sweeps that differ in what was seen and in nothing else.
    most_joined : from more coupled signs on, sums over subsets are used: quicker, and right to fewer digits.
    own_of : cylinders whose own causes are wanted, those of the others get NaN for their chances; all by default.
    """
    numbers, sets = numbers or network.numbers, sets or network.configurations
    supposed = what_if or WhatIf.nothing(network)
    before = numbers.prior[:, network.cause_of] if prior is None else prior
    tables = _tables(network, observed, numbers, sets=sets, supposed=supposed, prior=before, known={} if known is None else known)
    sizes = [table.likelihood.max(axis=(1, 2)) for table in tables]
    start = _start(network, observed, numbers, sets=sets, supposed=supposed, prior=before)
    miss = miss_of(network, numbers, observed.coupled, sets.members)
    by_subsets = len(observed.coupled) > most_joined
    rest = np.swapaxes(signed_left(miss) if by_subsets else products_left(miss), 1, 2)
    reached, spread = _forwards(start, tables, sizes, sets.locals, by_subsets=by_subsets)
    by_set = (reached[-1] * rest).sum(axis=1)
    total = by_set.sum(axis=1)
    worth = _backwards(reached, spread, rest, sets.locals, by_subsets=by_subsets)
    shares = tuple(w / (total * size)[:, None, None] for w, size in zip(worth, sizes, strict=True))
    none = start[:, 0] * np.prod(1.0 - miss[:, 0], axis=1) / total
    for table, size in zip(tables, sizes, strict=True):
        none = none * table.none / size
    mass = by_set / total[:, None]
    log_chance = np.log(total) + sum(np.log(size) for size in sizes) - np.log(_allowed(network, before))
    wanted = [own_of is None or cylinder in own_of for cylinder in network.engine.cylinders]
    chances = _chances(mass, sets, tables, shares, wanted)
    return Swept(log_chance, np.clip(chances, 0.0, 1.0), none, mass, shares)


def rows_at_once(observed: Observed, most: int) -> int:
    """Return how many rows to sweep together, `most` at most: each coupled sign beyond two doubles the work of a row."""
    return max(8, most >> max(0, len(observed.coupled) - 2))


def _tables(
    network: Network, observed: Observed, numbers: Numbers, *, sets: Configurations, supposed: WhatIf, prior: Array, known: Known
) -> list[PlugTable]:
    of_engine = absences(numbers, observed.absent).kept[:, 0, network.local_of]
    tables, of_absences = [], of_engine.tobytes()
    for position, cylinder in enumerate(network.engine.cylinders):
        plug = observed.plugs[position]
        key = (position, plug, observed.coupled, of_absences)
        if key not in known:
            own = Own(prior[:, network.local_slice(cylinder)], of_engine * supposed.of(position))
            known[key] = plug_table(network, numbers, plug, coupled=observed.coupled, own=own, seen=sets.locals[position])
        tables.append(known[key])
    return tables


def _start(
    network: Network, observed: Observed, numbers: Numbers, *, sets: Configurations, supposed: WhatIf, prior: Array
) -> Array:
    """Weight of each configuration before the plugs: prior odds, signs that only shared causes can bring about; shape (B, C)."""
    absent = absences(numbers, observed.absent)
    shared = prior[:, : len(network.shared)]
    factor = shared / (1.0 - shared) * absent.kept[:, 0, network.shared_of] * supposed.shared
    start = absent.leak * supposed.leak[:, None] * over_members(factor[:, :, None], sets.members)[:, :, 0]
    return np.asarray(start * np.prod(1.0 - miss_of(network, numbers, observed.present, sets.members), axis=2))


def _forwards(
    start: Array, tables: Sequence[PlugTable], sizes: Sequence[Array], seen: Sequence[Local], *, by_subsets: bool
) -> tuple[list[Array], list[Array]]:
    """Carry the weight of each configuration and set of coupled signs (B, D, C) from cylinder to cylinder."""
    signs = tables[0].likelihood.shape[1]
    nothing_yet = np.zeros((1, signs, 1))
    nothing_yet[:, 0] = 1.0
    reached, spread = [start[:, None] * (at_most(nothing_yet) if by_subsets else nothing_yet)], []
    for table, size, local in zip(tables, sizes, seen, strict=True):
        likelihood = table.likelihood / size[:, None, None]
        spread.append(np.take(at_most(likelihood) if by_subsets else likelihood, local.place, axis=2))
        reached.append(reached[-1] * spread[-1] if by_subsets else join(reached[-1], spread[-1]))
    return reached, spread


def _backwards(reached: list[Array], spread: list[Array], rest: Array, seen: Sequence[Local], *, by_subsets: bool) -> list[Array]:
    """What each entry of each cylinder's likelihood is worth; shape (B, D, X) each."""
    back, worth = rest, []
    for position in reversed(range(len(spread))):
        if by_subsets:
            worth.append(at_least(seen[position].collapse(back * reached[position])))
            back = back * spread[position]
        else:
            worth.append(seen[position].collapse(unjoin(back, reached[position])))
            back = unjoin(back, spread[position])
    return worth[::-1]


def _chances(
    mass: Array, sets: Configurations, tables: Sequence[PlugTable], worth: Sequence[Array], wanted: Sequence[bool]
) -> Array:
    own = [
        table.cause_weights(share) if asked else np.full((len(mass), len(table.steps)), np.nan)
        for table, share, asked in zip(tables, worth, wanted, strict=True)
    ]
    parts = [mass @ sets.holds, *own]
    rows = max(len(part) for part in parts)
    return np.concatenate([np.broadcast_to(part, (rows, part.shape[1])) for part in parts], axis=1)


def _allowed(network: Network, prior: Array) -> Array:
    """Sum of the prior odds over all configurations the model allows: elementary symmetric sums; shape (B,)."""
    sums = np.zeros((len(prior), network.at_most + 1))
    sums[:, 0] = 1.0
    for column in range(len(network.shared)):
        odds = (prior[:, column] / (1.0 - prior[:, column]))[:, None]
        sums[:, 1:] += odds * sums[:, :-1]
    return np.asarray(sums.sum(axis=1))
