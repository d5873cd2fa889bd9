"""One cylinder: how well each configuration of shared causes explains its plug, its own causes summed out exactly.

Axes of the arrays: B rule bases or what-ifs, X configurations as the cylinder sees them, T terms of its photo, U sets of its
present findings, D sets of the coupled signs of the engine.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from plugread.diagnose.cover import cover, products_left, uncover
from plugread.diagnose.network import Local, Network
from plugread.diagnose.numbers import Array, Index, Numbers
from plugread.diagnose.observed import PlugSights, Sight


@dataclass(frozen=True, eq=False)
class Absences:
    """Chance that things stay absent: `leak` (B, T) with no cause at all, times `kept` (B, T, causes) for each present one."""

    leak: Array
    kept: Array


@dataclass(frozen=True, eq=False)
class PlugTable:
    """The sums of one cylinder.

    `terms` (B, X, T) is what the shared causes leave of each term, weights included; `left` (B, X, U) the chance that they
    account for the present findings not in U; `likelihood` (B, D, X) the chance of all that was seen on the plug while the
    cylinder's own causes bring about exactly the signs D; `none` (B,) the same with every cause absent. `steps[j]` (B, T, U * D)
    is the table at the moment own cause j comes in present, None if it touches nothing that was seen.
    """

    terms: Array
    left: Array
    likelihood: Array
    none: Array
    steps: tuple[Array | None, ...]
    links: Array
    kept: Array
    prior: Array

    def cause_weights(self, worth: Array) -> Array:
        """Return the weight of each own cause (B, causes), given what each entry of `likelihood` is worth (B, D, X)."""
        back = _pull(self.terms, self.left, np.swapaxes(worth, 1, 2))
        return self._take_back(back)

    def _take_back(self, back: Array) -> Array:
        """Undo the own causes from the last to the first; one that touches nothing keeps its prior."""
        weights: dict[int, Array] = {}
        for own in reversed(range(len(self.steps))):
            step = self.steps[own]
            if step is not None:
                weights[own] = (back * step).sum(axis=(1, 2))
                chance = self.prior[:, own, None, None]
                back = (1.0 - chance) * back + chance * self.kept[:, :, own, None] * uncover(back, self.links[:, own])
        whole = back[:, :, 0].sum(axis=1)
        columns = [weights.get(own, whole * self.prior[:, own]) for own in range(len(self.steps))]
        return np.stack(columns, axis=-1) if columns else np.empty((len(whole), 0))


def absences(numbers: Numbers, absent: Sequence[Sight], hidden: Sequence[Sight] = (), prefix: Sequence[int] = (0,)) -> Absences:
    """Multiply up the absent signals: all of `absent`, and for term t the first `prefix[t]` of `hidden`."""
    leak, kept = np.ones((numbers.count, 1)), np.ones((numbers.count, numbers.link.shape[2]))
    for sight in absent:
        leak, kept = leak * (1.0 - sight.leak(numbers))[:, None], kept * (1.0 - sight.link(numbers))
    leaks, kepts = [leak], [kept]
    for sight in hidden:
        leaks.append(leaks[-1] * (1.0 - sight.leak(numbers))[:, None])
        kepts.append(kepts[-1] * (1.0 - sight.link(numbers)))
    return Absences(np.concatenate([leaks[p] for p in prefix], axis=1), np.stack([kepts[p] for p in prefix], axis=1))


def over_members(values: Array, members: Index) -> Array:
    """Multiply `values` (B, shared, Z) over the members (X, K) of each configuration; returns (B, X, Z)."""
    padded = np.concatenate([values, np.ones((len(values), 1, values.shape[2]))], axis=1)
    out = np.take(padded, members[:, 0], axis=1)
    for column in members.T[1:]:
        out *= np.take(padded, column, axis=1)
    return out


def miss_of(network: Network, numbers: Numbers, sights: Sequence[Sight], members: Index) -> Array:
    """Return the chance (B, X, sights) that neither leak nor shared causes bring each of `sights` about."""
    if not sights:
        return np.ones((numbers.count, len(members), 0))
    links = np.stack([sight.link(numbers)[:, network.shared_of] for sight in sights], axis=-1)
    leaks = np.stack([sight.leak(numbers) for sight in sights], axis=-1)
    return (1.0 - leaks)[:, None, :] * over_members(1.0 - links, members)


@dataclass(frozen=True, eq=False)
class Own:
    """What the causes of one cylinder start from.

    `prior` (B, own) chance of each; `kept` (B, own) what each leaves of the absences of the engine and of a what-if.
    """

    prior: Array
    kept: Array


def plug_table(
    network: Network,
    numbers: Numbers,
    plug: PlugSights,
    *,
    coupled: Sequence[Sight],
    own: Own,
    seen: Local,
    absent: Absences | None = None,
) -> PlugTable:
    """Sum out the causes of one cylinder; `absent` stands in for the absences of `plug` where more are supposed."""
    absent = absent or absences(numbers, plug.absent, plug.hidden, plug.prefix)
    kept = absent.kept[:, :, network.local_of] * own.kept[:, None, :]
    by_shared = over_members(np.swapaxes(absent.kept[:, :, network.shared_of], 1, 2), seen.members)
    terms = absent.leak[:, None, :] * np.array(plug.weight) * by_shared
    left = products_left(miss_of(network, numbers, plug.present, seen.members))
    links = _links_to_own(network, numbers, (*plug.present, *coupled))
    touched = links.any(axis=(0, 2)) | (kept != 1.0).any(axis=(0, 1))
    table, steps = _bring_in(own.prior, kept, links, touched)
    likelihood = _explain(terms, left, table, 2 ** len(coupled))
    empty = seen.place[0]
    nothing = np.prod(1.0 - own.prior, axis=1) * (terms[:, empty] * left[:, empty, :1]).sum(axis=1)
    return PlugTable(terms, left, likelihood, nothing, steps, links, kept, own.prior)


def _links_to_own(network: Network, numbers: Numbers, sights: Sequence[Sight]) -> Array:
    if not sights:
        return np.zeros((1, len(network.local_of), 0))
    return np.stack([sight.link(numbers)[:, network.local_of] for sight in sights], axis=-1)


def _bring_in(prior: Array, kept: Array, links: Array, touched: NDArray[np.bool_]) -> tuple[Array, tuple[Array | None, ...]]:
    """Let the own causes come in one after another; return the table of all of them and the moments each was present."""
    rows = max(len(prior), len(kept), len(links))
    table = np.zeros((rows, kept.shape[1], 2 ** links.shape[2]))
    table[:, :, 0] = 1.0
    steps: list[Array | None] = []
    for own in range(kept.shape[2]):
        if not touched[own]:
            steps.append(None)
            continue
        chance = prior[:, own, None, None]
        present = chance * kept[:, :, own, None] * cover(table, links[:, own])
        table = (1.0 - chance) * table + present
        steps.append(present)
    return table, tuple(steps)


def _explain(terms: Array, left: Array, table: Array, signs: int) -> Array:
    """Sum terms (B, X, T) x left (B, X, U) x table (B, T, U * D) over T and U; returns (B, D, X)."""
    by_set = table.reshape(*table.shape[:2], -1, signs)
    if left.shape[2] <= terms.shape[2]:
        parts = (left[:, :, u, None] * (terms @ by_set[:, :, u]) for u in range(left.shape[2]))
    else:
        parts = (terms[:, :, t, None] * (left @ by_set[:, t]) for t in range(terms.shape[2]))
    return np.swapaxes(reduce(np.add, parts), 1, 2)


def _pull(terms: Array, left: Array, worth: Array) -> Array:
    """Adjoint of `_explain`: sum terms x left x worth (B, X, D) over X; returns (B, T, U * D)."""
    if left.shape[2] <= terms.shape[2]:
        turned = np.swapaxes(terms, 1, 2)
        pulled = np.stack([turned @ (left[:, :, u, None] * worth) for u in range(left.shape[2])], axis=2)
    else:
        turned = np.swapaxes(left, 1, 2)
        pulled = np.stack([turned @ (terms[:, :, t, None] * worth) for t in range(terms.shape[2])], axis=1)
    return pulled.reshape(*pulled.shape[:2], -1)
