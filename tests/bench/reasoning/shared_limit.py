"""Is three shared causes at once enough? The same cases with four, truth drawn without any limit.

python -m tests.bench.reasoning.shared_limit [cases]
"""

from __future__ import annotations

import sys

import numpy as np

from plugread.diagnose.network import Network
from plugread.errors import CaseError
from plugread.rules.load import load_rules
from tests.bench.reasoning.simulate import draw, say, vee_eight


def main(cases: int = 300) -> None:
    rules, engine = load_rules(), vee_eight()
    three, four = Network(rules, engine, 3), Network(rules, engine, 4)
    rng = np.random.default_rng(11)
    same, apart = 0, []
    while len(apart) < cases:
        _, evidence = draw(three, rng, least=2, limit=None)
        try:
            a, b = three.solve(evidence).chances, four.solve(evidence).chances
        except CaseError:
            continue
        same += int(np.argmax(a) == np.argmax(b))
        apart.append(np.abs(a - b).max())
    say(f"{cases} vee-eight cases, two causes or more, no limit on the truth")
    say(
        f"{len(three.configurations.members)} sets of up to three shared causes, {len(four.configurations.members)} of up to four"
    )
    say(
        f"same first cause {100 * same / cases:.1f} %; largest difference: median {np.median(apart):.1e}, "
        f"90 % {np.quantile(apart, 0.9):.1e}, worst {max(apart):.2f}; over 0.05 in {100 * np.mean(np.array(apart) > 0.05):.1f} %"
    )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
