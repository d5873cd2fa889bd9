"""The whole reasoning over one case: causes with their reasons, the verdict, the next checks, cautions and notes."""

from __future__ import annotations

from plugread.diagnose.checks import advise, look_ahead
from plugread.diagnose.network import Network
from plugread.diagnose.posterior import Posterior
from plugread.diagnose.verdict import decide, nothing_known
from plugread.engine import Engine
from plugread.records import CauseRank, CheckAdvice, Comparison, Evidence, Verdict
from plugread.rules.tables import Losses, Rules

MOST_CHECKS = 5

Answer = tuple[tuple[CauseRank, ...], float, Verdict, tuple[CheckAdvice, ...], tuple[str, ...], tuple[str, ...]]


def diagnose(
    engine: Engine,
    evidence: Evidence,
    comparison: Comparison,
    rules: Rules,
    *,
    losses: Losses | None = None,
    shakes: int = 200,
    network: Network | None = None,
) -> Answer:
    """Return causes (best first), chance that none of them is present, verdict, next checks, cautions, notes.

    Parameters
    ----------
    shakes : how many shaken rule bases stand behind the robustness figures; 0 leaves them out.
    network : the network of this engine under these rules, if there is one already.
    """
    network = network or Network(rules, engine)
    posterior = network.solve(evidence)
    ahead = look_ahead(posterior, losses)
    verdict = decide(network, posterior, evidence, losses, ahead=ahead)
    checks = advise(ahead, MOST_CHECKS)
    causes = tuple(CauseRank(i.cause, i.scope, i.cylinders, chance) for i, chance in posterior.ranked)
    notes = list(evidence.notes)
    if nothing_known(evidence):
        notes.append("Nothing was looked at: the chances are only how common each cause is.")
    return causes, posterior.none_listed, verdict, checks, (), tuple(notes)
