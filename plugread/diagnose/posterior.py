"""The exact posterior: every cause at every place, none of the listed ones, and what each plug shows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from plugread.diagnose.network import Configurations, Instance, Network
from plugread.diagnose.numbers import Array
from plugread.diagnose.observed import Observed, observe
from plugread.diagnose.sweep import Swept, sweep
from plugread.engine import Engine
from plugread.records import Evidence
from plugread.rules.tables import Rules

TIED_DIGITS = 12
"""Chances that agree to so many decimals are a tie, not a matter of rounding."""
LEFT_OUT = 1e-8
"""Share of the posterior that what-ifs may leave out; moves no chance by more than this..."""
MOST_SETS = 1000
"""...unless that would take more configurations than these (little was looked at); then a little more is left out."""


@dataclass(frozen=True, eq=False)
class Posterior:
    """What follows from the evidence.

    `chances` of shape (instances,) in the order of `network.instances`; `none_listed` the chance that all are absent;
    `log_evidence` the natural log of the chance of the evidence.
    """

    network: Network
    evidence: Evidence
    observed: Observed
    swept: Swept

    @property
    def chances(self) -> Array:
        """Chance of each cause at each place, shape (instances,)."""
        return np.asarray(self.swept.chances[0])

    @property
    def none_listed(self) -> float:
        """Chance that none of the listed causes is present."""
        return float(self.swept.none[0])

    @property
    def log_evidence(self) -> float:
        """Natural log of the chance of all the evidence."""
        return float(self.swept.log_chance[0])

    @cached_property
    def order(self) -> tuple[int, ...]:
        """Positions of the instances, likeliest first; ties stand in the order of rule base and cylinders."""
        return tuple(int(place) for place in np.argsort(-np.round(self.chances, TIED_DIGITS), kind="stable"))

    @cached_property
    def ranked(self) -> tuple[tuple[Instance, float], ...]:
        """Causes with their chances, likeliest first."""
        return tuple((self.network.instances[place], float(self.chances[place])) for place in self.order)

    def chance(self, cause: str, *cylinders: int) -> float:
        """Chance of one cause at one place."""
        return float(self.chances[self.network.place_of(cause, cylinders)])

    @cached_property
    def likely(self) -> Configurations:
        """The fewest configurations of shared causes that matter for what-ifs."""
        return likely_sets(self.network, self.swept.mass[0])

    @cached_property
    def readings(self) -> Mapping[int, Mapping[str, float]]:
        """Cylinder -> reading -> probability, for every plug with a photo or a tick."""
        from plugread.diagnose.plug_readings import plug_readings

        return plug_readings(self)


def likely_sets(network: Network, mass: Array, left_out: float = LEFT_OUT, most: int = MOST_SETS) -> Configurations:
    """Keep the fewest configurations that hold all but `left_out` of `mass`, `most` at most; the empty one stays, first."""
    order = np.argsort(-mass, kind="stable")
    enough = int(np.searchsorted(np.cumsum(mass[order]), (1.0 - left_out) * mass.sum())) + 1
    kept = np.union1d(order[: min(enough, most)], [0])
    return network.configurations_of(network.configurations.members[kept])


def solve_network(network: Network, evidence: Evidence) -> Posterior:
    """Return the exact posterior of `evidence` under `network`."""
    observed = observe(network, evidence)
    return Posterior(network, evidence, observed, sweep(network, observed))


def solve(rules: Rules, engine: Engine, evidence: Evidence) -> Posterior:
    """Return the exact posterior; keep a `Network` instead where several cases share rules and engine."""
    return Network(rules, engine).solve(evidence)
