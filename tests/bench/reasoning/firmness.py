"""How often the first cause stays first under 200 shaken rule bases, over the bank of written cases.

python -m tests.bench.reasoning.firmness
"""

from __future__ import annotations

import numpy as np

from plugread.casefile import parse_case
from plugread.diagnose.network import Network
from plugread.diagnose.robustness import DOUBTFUL, shake
from plugread.engine import Engine
from plugread.pipeline import gather
from plugread.rules.load import load_rules
from tests.bench.reasoning.simulate import say
from tests.cases.bank import load_case_files


def main() -> None:
    rules, shares = load_rules(), {}
    for one in load_case_files():
        case = parse_case(one.text)
        engine = Engine(case.engine)
        shares[one.name] = shake(Network(rules, engine), gather(case, engine, {}, rules)).stays_first
    values = np.array(list(shares.values()))
    say(f"{len(values)} cases: first stays first in {values.mean():.3f} on average, worst tenth {np.quantile(values, 0.1):.3f}")
    doubtful = {name: share for name, share in shares.items() if share < DOUBTFUL}
    say(f"below {DOUBTFUL}: {len(doubtful)}, for which the answer says not to rely on the order")
    for name, share in doubtful.items():
        say(f"  {share:.2f}  {name}")


if __name__ == "__main__":
    main()
