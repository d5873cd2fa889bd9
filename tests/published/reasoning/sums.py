"""A published network laid over our two layers: roots are causes, their children findings, the rest a table over these."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import product

import numpy as np

from plugread.diagnose.network import Network
from plugread.records import Evidence
from tests.diagnose.builders import cause, engine_of, finding, link, rules_of

Table = Callable[[Mapping[str, bool]], float]


class Published:
    """Roots with priors, children as (leak, root -> strength); strengths such that each printed table comes out."""

    def __init__(self, roots: Mapping[str, float], children: Mapping[str, tuple[float, Mapping[str, float]]]) -> None:
        findings = [finding(name, leak, "engine") for name, (leak, _) in children.items()]
        sure = [finding(f"{root}_known", 0.0, "engine") for root in roots]
        links = [link(root, name, strength) for name, (_, by) in children.items() for root, strength in by.items()]
        links += [link(root, f"{root}_known", 1.0) for root in roots]
        causes = [cause(root, prior) for root, prior in roots.items()]
        self.roots, self.children = tuple(roots), tuple(children)
        self.network = Network(rules_of(causes, [*findings, *sure], links), engine_of(1), at_most=None)

    def chance(self, known: Mapping[str, bool]) -> float:
        """Chance of some roots and children having these values, by the solver under test."""
        seen = {(f"{name}_known" if name in self.roots else name, None): value for name, value in known.items()}
        with np.errstate(divide="ignore"):
            return float(np.exp(self.network.solve(Evidence(seen)).log_evidence))

    def with_table(self, known: Mapping[str, bool], table: Table) -> tuple[float, dict[str, float]]:
        """Chance of `known` and of what `table` says of the children; chance of each child given both."""
        total, joint = 0.0, dict.fromkeys(self.children, 0.0)
        for state in product((False, True), repeat=len(self.children)):
            values = dict(zip(self.children, state, strict=True))
            weight = self.chance({**values, **known}) * table(values) if _agrees(values, known) else 0.0
            total += weight
            for name, value in values.items():
                joint[name] += weight * value
        return total, {name: weight / total for name, weight in joint.items()}


def strength(leak: float, chance: float) -> float:
    """Link that lifts a child from `leak` to `chance`."""
    return 1.0 - (1.0 - chance) / (1.0 - leak)


def _agrees(values: Mapping[str, bool], known: Mapping[str, bool]) -> bool:
    return all(values.get(name, value) == value for name, value in known.items())
