"""Are the chances what they say, if the rule base is right, and if it is off by half a log-odd?

    python -m tests.bench.reasoning.calibration [cases]

Shows that the program agrees with its own rule base; it cannot show that the rule base is right.
"""

from __future__ import annotations

import sys

import numpy as np

from plugread.diagnose.network import Network
from plugread.errors import CaseError
from plugread.rules.load import load_rules
from tests.bench.reasoning.simulate import draw, inline_four, say

LEAST = 0.05
BINS = np.linspace(LEAST, 1.0, 11)


def statements(network: Network, cases: int, shaken: bool, seed: int) -> tuple[np.ndarray, np.ndarray, float, float]:
    """Chances above 5 % that were said, whether each came true; share of first and of first-three hits."""
    rng = np.random.default_rng(seed)
    said, true, first, three = [], [], 0, 0
    done = 0
    while done < cases:
        world = network.words.shaken(1, rng) if shaken else None
        on, evidence = draw(network, rng, numbers=world, least=0)
        try:
            chances = network.solve(evidence).chances
        except CaseError:
            continue
        done += 1
        keep = chances > LEAST
        said.append(chances[keep])
        true.append(on[keep])
        order = np.argsort(-chances)
        first += bool(on[order[0]])
        three += bool(on[order[:3]].any())
    return np.concatenate(said), np.concatenate(true).astype(float), first / cases, three / cases


def calibration_error(said: np.ndarray, true: np.ndarray) -> float:
    place = np.digitize(said, BINS[1:-1])
    return float(sum(abs(said[place == b].mean() - true[place == b].mean()) * (place == b).mean() for b in np.unique(place)))


def main(cases: int = 3000) -> None:
    network = Network(load_rules(), inline_four())
    rng = np.random.default_rng(99)
    say(f"{'world':<22}{'statements':>11}{'ECE':>8}{'noise 50 %':>12}{'99 %':>8}{'z':>7}{'first':>8}{'of three':>9}")
    for label, shaken in (("rule base right", False), ("shaken by 0.5", True)):
        said, true, first, three = statements(network, cases, shaken, seed=1)
        noise = [calibration_error(said, (rng.random(len(said)) < said).astype(float)) for _ in range(500)]
        z = (true.sum() - said.sum()) / np.sqrt((said * (1 - said)).sum())
        middle, limit = np.quantile(noise, [0.5, 0.99])
        error = calibration_error(said, true)
        say(f"{label:<22}{len(said):>11}{error:>8.4f}{middle:>12.4f}{limit:>8.4f}{z:>7.2f}{first:>8.3f}{three:>9.3f}")
        place = np.digitize(said, BINS[1:-1])
        pairs = [(said[place == b].mean(), true[place == b].mean()) for b in np.unique(place)]
        say("  said -> happened: " + "  ".join(f"{a:.2f} -> {b:.2f}" for a, b in pairs))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
