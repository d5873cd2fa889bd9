"""The same network built in pgmpy, one table a finding, for comparison only."""

from __future__ import annotations

from itertools import product

import numpy as np
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork

from plugread.diagnose.network import Network
from plugread.records import Evidence
from tests.diagnose.builders import chance_present


def build(network: Network, evidence: Evidence) -> tuple[DiscreteBayesianNetwork, dict[str, int]]:
    """The network with the findings of `evidence` below it, and their observed states."""
    model = DiscreteBayesianNetwork()
    names = [f"c{place}" for place in range(len(network.instances))]
    priors = network.numbers.prior[0, network.cause_of]
    model.add_nodes_from(names)
    model.add_cpds(*(TabularCPD(name, 2, [[1.0 - p], [p]]) for name, p in zip(names, priors, strict=True)))
    seen = {}
    for number, ((name, cylinder), state) in enumerate(evidence.findings.items()):
        node, parents = f"f{number}", _parents(network, name, cylinder)
        model.add_node(node)
        model.add_edges_from((names[place], node) for place in parents)
        rows = np.zeros((2 ** len(parents), len(names)), dtype=bool)
        rows[:, parents] = np.array(list(product((False, True), repeat=len(parents)))).reshape(len(rows), -1)
        chance = chance_present(network, evidence, rows, name, cylinder)
        table = np.stack([1.0 - chance, chance])
        model.add_cpds(TabularCPD(node, 2, table, [names[place] for place in parents] or None, [2] * len(parents) or None))
        seen[node] = int(state)
    return model, seen


def eliminate(network: Network, evidence: Evidence) -> np.ndarray:
    """Chance of every instance by variable elimination."""
    model, seen = build(network, evidence)
    inference = VariableElimination(model)
    chances = []
    for place in range(len(network.instances)):
        result = inference.query([f"c{place}"], evidence=seen, show_progress=False)
        chances.append(float(result.values[1]))
    return np.array(chances)


def _parents(network: Network, name: str, cylinder: int | None) -> list[int]:
    linked = {one.cause for one in network.rules.links if one.finding == name}
    return [
        place
        for place, one in enumerate(network.instances)
        if one.cause in linked and (cylinder is None or one.reaches(cylinder))
    ]
