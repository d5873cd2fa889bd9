"""The advised order of checks against the best of all plans, on cases small enough to try every plan.

python -m tests.bench.reasoning.policy [cases]
"""

from __future__ import annotations

import sys
from functools import cache
from itertools import product

import numpy as np

from plugread.diagnose.lookahead import Lookahead
from plugread.diagnose.losses import LossTable
from plugread.diagnose.network import Network
from plugread.diagnose.options import options_for
from plugread.records import Evidence
from tests.bench.reasoning.simulate import say
from tests.diagnose.builders import cause, chance_of_evidence, check, engine_of, finding, link, outcome_chances, rules_of, states

CAUSES, CHECKS = 5, 6
State = tuple[int, ...]
"""For each check: -1 not done, 0 its finding fired, 1 it did not."""


class Small:
    """One random case with its full joint table."""

    def __init__(self, rng: np.random.Generator) -> None:
        causes = [cause(f"c{n}", rng.uniform(0.03, 0.3)) for n in range(CAUSES)]
        findings = [finding(f"f{n}", rng.uniform(0.02, 0.1), "engine") for n in range(3)]
        links = [link(c.id, f.id, rng.uniform(0.3, 0.95)) for c in causes for f in findings if rng.random() < 0.7]
        checks = [
            check(
                f"k{n}",
                [("bad", rng.uniform(0.01, 0.1), {c.id: rng.uniform(0.5, 0.98) for c in causes if rng.random() < 0.4})],
                minutes=float(rng.uniform(3, 60)),
            )
            for n in range(CHECKS)
        ]
        self.network = Network(rules_of(causes, findings, links, checks), engine_of(1), at_most=None)
        self.evidence = Evidence({(f.id, None): bool(rng.random() < 0.7) for f in findings})
        self.losses = LossTable(rng.uniform(30, 500, CAUSES), rng.uniform(10, 250, CAUSES), rng.uniform(150, 600), 25 / 60)
        self.minutes = np.array([one.minutes for one in checks])
        self.on = states(self.network)
        prior = self.network.numbers.prior[0, self.network.cause_of]
        weight = np.prod(np.where(self.on, prior, 1 - prior), axis=1) * chance_of_evidence(self.network, self.evidence, self.on)
        self.weight = weight / weight.sum()
        self.fires = np.array(
            [outcome_chances(self.network, self.evidence, self.on, f"k{n}", None)["bad"] for n in range(CHECKS)]
        )

    @cache  # noqa: B019
    def joint(self, state: State) -> tuple[float, np.ndarray]:
        weight = self.weight
        for fires, outcome in zip(self.fires, state, strict=True):
            if outcome >= 0:
                weight = weight * (fires if outcome == 0 else 1 - fires)
        return float(weight.sum()), weight @ self.on

    def stop(self, state: State) -> float:
        total, joint = self.joint(state)
        return float(self.losses.stopping(joint[None], np.array([total]))[0])

    def cost(self, number: int) -> float:
        return self.losses.minute * self.minutes[number]

    @cache  # noqa: B019
    def best(self, state: State) -> float:
        total, _ = self.joint(state)
        plans = [self.stop(state)]
        for number in range(CHECKS):
            if state[number] < 0:
                plans.append(total * self.cost(number) + sum(self.best(after(state, number, o)) for o in (0, 1)))
        return min(plans)

    def follow(self, policy: object, state: State) -> float:
        """Expected loss of following a policy, which names the next check or None."""
        number = policy(self, state)  # type: ignore[operator]
        if number is None:
            return self.stop(state)
        total, _ = self.joint(state)
        return total * self.cost(number) + sum(self.follow(policy, after(state, number, o)) for o in (0, 1))


def after(state: State, number: int, outcome: int) -> State:
    return (*state[:number], outcome, *state[number + 1 :])


def look_ahead(case: Small, state: State) -> Lookahead:
    outcomes = {(f"k{n}", None): ("bad", "right")[o] for n, o in enumerate(state) if o >= 0}
    posterior = case.network.solve(Evidence(case.evidence.findings, outcomes=outcomes))
    return Lookahead(posterior, case.losses, options_for(case.network, posterior.evidence, posterior.chances))


def two_steps(case: Small, state: State) -> int | None:
    """The package's own advice."""
    ahead = look_ahead(case, state)
    return None if ahead.best is None else int(ahead.options[ahead.best].check.id[1:])


def one_step(case: Small, state: State) -> int | None:
    ahead = look_ahead(case, state)
    best = int(np.argmax(ahead.one_step)) if len(ahead.options) else -1
    return int(ahead.options[best].check.id[1:]) if best >= 0 and ahead.one_step[best] > 0 else None


def entropy(case: Small, state: State) -> int | None:
    ahead = look_ahead(case, state)
    if ahead.best is None:
        return None
    return int(ahead.options[int(np.argmax(ahead.knowledge / ahead.minutes))].check.id[1:])


def chance_per_minute(case: Small, state: State) -> int | None:
    ahead = look_ahead(case, state)
    if ahead.best is None:
        return None
    bad = np.array([outlook.total[0] for outlook in ahead.outlooks])
    return int(ahead.options[int(np.argmax(bad / ahead.minutes))].check.id[1:])


def nothing(_case: Small, _state: State) -> None:
    return None


def main(cases: int = 400) -> None:
    rng = np.random.default_rng(7)
    drawn = [Small(rng) for _ in range(cases)]
    start = (-1,) * CHECKS
    best = np.array([case.best(start) for case in drawn])
    idle = np.array([case.stop(start) for case in drawn])
    say(f"{cases} cases, {CAUSES} causes, {CHECKS} checks, {len(list(product((-1, 0, 1), repeat=CHECKS)))} states each")
    say(f"{'policy':<30}{'mean regret':>12}{'95 %':>8}{'worst':>8}{'optimal':>9}{'of the gain':>12}")
    for label, policy in (
        ("two steps (the package)", two_steps),
        ("one step", one_step),
        ("entropy per minute", entropy),
        ("chance of bad per minute", chance_per_minute),
        ("no check", nothing),
    ):
        loss = np.array([case.follow(policy, start) for case in drawn])
        regret = (loss - best) / best
        gain = (idle - loss).sum() / (idle - best).sum()
        worst = np.quantile(regret, 0.95)
        say(
            f"{label:<30}{100 * regret.mean():>10.2f} %{100 * worst:>6.1f} %{100 * regret.max():>6.0f} %"
            f"{100 * (regret < 1e-9).mean():>7.0f} %{100 * gain:>10.1f} %"
        )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
