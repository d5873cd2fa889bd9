"""How long the reasoning takes on one core, and against another library on the same network in the same run.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python -m tests.bench.reasoning.speed

Processor time, so that a busy machine does not count; medians over simulated cases.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from time import process_time

import numpy as np

from plugread.diagnose.checks import look_ahead
from plugread.diagnose.explain import because
from plugread.diagnose.network import Network
from plugread.diagnose.robustness import shake_posterior
from plugread.errors import CaseError
from plugread.records import Evidence
from plugread.rules.load import load_rules
from tests.bench.reasoning.simulate import draw, inline_four, say, vee_eight
from tests.diagnose.builders import cause, engine_of, finding, link, rules_of

CASES = 20


def seconds(action: Callable[[], object]) -> float:
    start = process_time()
    action()
    return process_time() - start


def cases_of(network: Network, count: int) -> list[Evidence]:
    rng, cases = np.random.default_rng(5), []
    while len(cases) < count:
        _, evidence = draw(network, rng, least=2)
        try:
            network.solve(evidence)
        except CaseError:
            continue
        cases.append(evidence)
    return cases


def many_findings(network: Network, count: int) -> Evidence:
    names = [name for name, one in network.rules.findings.items() if one.kind == "firing_end" and name != "normal"][:count]
    return Evidence({(name, cylinder): True for name in names for cylinder in network.engine.cylinders})


def row(label: str, values: list[float], bar: float) -> None:
    milliseconds = 1e3 * np.array(values)
    say(f"{label:<52}{np.median(milliseconds):>9.1f}{np.quantile(milliseconds, 0.95):>9.1f}{milliseconds.max():>9.1f}{bar:>9.0f}")


def against_pgmpy() -> None:
    """22 causes over four cylinders, all chances."""
    from pgmpy.inference import VariableElimination

    from tests.diagnose.with_pgmpy import build

    rng = np.random.default_rng(2)
    causes = [cause(f"e{n}", 0.05) for n in range(2)] + [cause(f"c{n}", 0.03, "cylinder") for n in range(5)]
    findings = [finding(f"f{n}", 0.02) for n in range(4)]
    links = [link(c.id, f.id, rng.uniform(0.2, 0.95)) for c in causes for f in findings if rng.random() < 0.6]
    network = Network(rules_of(causes, findings, links), engine_of(4), at_most=None)
    evidence = Evidence({(f.id, c): bool(rng.random() < 0.5) for f in findings for c in (1, 2, 3, 4)})
    model, seen = build(network, evidence)
    network.solve(evidence)
    ours = min(seconds(lambda: network.solve(evidence)) for _ in range(20))
    inference = VariableElimination(model)

    def theirs() -> np.ndarray:
        return np.array(
            [inference.query([f"c{n}"], evidence=seen, show_progress=False).values[1] for n in range(len(network.instances))]
        )

    other = min(seconds(theirs) for _ in range(3))
    apart = np.abs(theirs() - network.solve(evidence).chances).max()
    say(f"22 causes: {1e3 * ours:.2f} ms against {1e3 * other:.1f} ms by pgmpy: {other / ours:.0f} times, apart by {apart:.0e}")


def main() -> None:
    warnings.simplefilter("ignore")
    rules = load_rules()
    say(f"{'milliseconds of processor time':<52}{'median':>9}{'95 %':>9}{'worst':>9}{'bar':>9}")
    for label, engine, bars in (
        ("inline four", inline_four(), (15, 50, 300, 1000)),
        ("vee eight", vee_eight(), (60, 50, 300, 1000)),
    ):
        row(f"{label}: layout, once", [seconds(lambda e=engine: Network(rules, e).configurations) for _ in range(5)], 200)
        network = Network(rules, engine)
        cases = cases_of(network, CASES)
        row(f"{label}: every chance", [seconds(lambda n=network, e=e: n.solve(e)) for e in cases], bars[0])
        six = many_findings(network, 6)
        row(f"{label}: six findings on every plug", [seconds(lambda n=network, e=six: n.solve(e)) for _ in range(3)], 200)
        solved = [network.solve(e) for e in cases]
        for one in solved:
            _ = one.likely, one.readings
        aheads = [look_ahead(one) for one in solved]
        count = int(np.median([len(ahead.options) for ahead in aheads]))
        row(f"{label}: {count} checks ranked, one step", [seconds(lambda a=a: a.one_step) for a in aheads], bars[1])
        row(f"{label}: two steps", [seconds(lambda a=a: a.two_steps) for a in aheads], bars[2])
        row(f"{label}: 200 shaken rule bases", [seconds(lambda p=p: shake_posterior(p, 200)) for p in solved], bars[3])
        row(f"{label}: reasons of eight causes", [seconds(lambda p=p: because(p, range(8))) for p in solved], 1000)
    against_pgmpy()


if __name__ == "__main__":
    main()
