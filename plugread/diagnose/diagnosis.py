"""The whole reasoning over one case: causes with their reasons, the verdict, the next checks, cautions and notes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from plugread.diagnose.checks import advise, look_ahead
from plugread.diagnose.explain import because, break_even_prior, inseparable, separating_check
from plugread.diagnose.lookahead import Lookahead
from plugread.diagnose.posterior import TIED_DIGITS, Posterior
from plugread.diagnose.robustness import DOUBTFUL, Shaken, shake_posterior, verdict_stays
from plugread.diagnose.verdict import ORDER, decide, nothing_known
from plugread.diagnose.words import listed, named, small
from plugread.records import CauseRank, CheckAdvice, Comparison, Evidence, Ranking, Verdict
from plugread.rules.tables import Losses, Rules

MOST_CHECKS = 5
MOST_EXPLAINED = 8
"""Causes that get their reasons."""
LEAST_NAMED = 0.05
"""Chance from which causes that cannot be told apart are pointed out."""

Answer = tuple[tuple[CauseRank, ...], float, Verdict, tuple[CheckAdvice, ...], tuple[str, ...], tuple[str, ...]]


def diagnose(
    posterior: Posterior,
    comparison: Comparison,
    *,
    losses: Losses | None = None,
    shakes: int = 200,
    on_ranking: Callable[[Ranking], None] | None = None,
    between: Callable[[], None] | None = None,
) -> Answer:
    """Return causes (best first), chance that none of them is present, verdict, next checks, cautions, notes.

    Parameters
    ----------
    posterior : what follows from the evidence.
    losses : another loss table than the rule base's own.
    shakes : how many shaken rule bases stand behind the robustness figures; 0 leaves them out.
    on_ranking : called with the ranked causes as soon as they stand, before checks and verdict are worked out.
    between : called between pieces of work of a few hundredths of a second after that; what it raises ends the work.
    """
    ranked = rank(posterior)
    if on_ranking is not None:
        on_ranking(Ranking(comparison, ranked, posterior.none_listed))
    ahead = look_ahead(posterior, losses, between)
    verdict = decide(posterior.network, posterior, posterior.evidence, losses, ahead=ahead)
    shaken = shake_posterior(posterior, shakes, between=between) if shakes else None
    causes = firmness(ranked, posterior, shaken) if shaken is not None else ranked
    checks = advise(ahead, MOST_CHECKS, still=verdict.action == "do_not_run")
    notes = _notes(posterior, comparison, ahead, verdict, shaken)
    return causes, posterior.none_listed, verdict, checks, _cautions(posterior.network.rules, verdict), notes


def rank(posterior: Posterior) -> tuple[CauseRank, ...]:
    """Rank every cause at every place; the first few with their reasons, the first with the prior at which it loses its place."""
    order = posterior.order
    reasons = because(posterior, order[:MOST_EXPLAINED])
    ranks = []
    for number, place in enumerate(order):
        instance, explained = posterior.network.instances[place], number < MOST_EXPLAINED
        ranks.append(
            CauseRank(
                instance.cause,
                instance.scope,
                instance.cylinders,
                round(float(posterior.chances[place]), TIED_DIGITS),
                because=reasons[number] if explained else (),
                break_even_prior=break_even_prior(posterior, place) if number == 0 else None,
                group=_group(posterior, place) if explained else (),
            )
        )
    return tuple(ranks)


def firmness(ranked: Sequence[CauseRank], posterior: Posterior, shaken: Shaken) -> tuple[CauseRank, ...]:
    """Return the ranked causes with the range of each chance under shaken rule bases, and how often the first stays first."""
    causes = [replace(cause, band=shaken.band(place)) for cause, place in zip(ranked, posterior.order, strict=True)]
    causes[:1] = [replace(first, stays_first=shaken.stays_first, stays_first_interval=shaken.interval) for first in causes[:1]]
    return tuple(causes)


def _group(posterior: Posterior, place: int) -> tuple[str, ...]:
    return tuple(posterior.network.instances[other].cause for other in inseparable(posterior, place))


# ---- what must be said beside the answer -----------------------------------------------------------------


def _notes(
    posterior: Posterior, comparison: Comparison, ahead: Lookahead, verdict: Verdict, shaken: Shaken | None
) -> tuple[str, ...]:
    notes = list(posterior.evidence.notes)
    if nothing_known(posterior.evidence):
        notes.append("Nothing was looked at: the chances only say how common each cause is.")
    if shaken is not None and shaken.stays_first < DOUBTFUL:
        low, high = shaken.interval
        share = f"{100 * shaken.stays_first:.0f} % of the shaken rule bases ({100 * low:.0f} to {100 * high:.0f} %)"
        notes.append(f"Do not rely on the order of the causes: the first stays first in {share}.")
    if shaken is not None and verdict.action == min(ORDER, key=lambda answer: verdict.expected_loss[answer]):
        stays = verdict_stays(shaken, ahead.losses, float(np.max(ahead.two_steps, initial=0.0)), verdict.action)
        if stays < DOUBTFUL:
            notes.append(f"The verdict hangs on the numbers: it stays the same in {100 * stays:.0f} % of the shaken tables.")
    notes += _groups_in_words(posterior)
    notes += _silent_complaint(posterior, comparison)
    notes += _remarks(posterior.network.rules, posterior.evidence)
    return tuple(dict.fromkeys(notes))


def _groups_in_words(posterior: Posterior) -> list[str]:
    """Likely causes that nothing seen tells apart, with the check that would."""
    network, said, notes = posterior.network, set(), []
    for place in posterior.order[:MOST_EXPLAINED]:
        others = inseparable(posterior, place) if posterior.chances[place] >= LEAST_NAMED else ()
        if others and place not in said:
            said |= {place, *others}
            names = listed([named(network.rules, network.instances[one]) for one in (place, *others)])
            check = separating_check(network, place, others[0])
            tail = f"{small(network.rules.checks[check].name)} does" if check else "no check here does"
            notes.append(f"Nothing seen so far tells these apart: {names}; {tail}.")
    return notes


def _silent_complaint(posterior: Posterior, comparison: Comparison) -> list[str]:
    """The engine complains but no plug differs: say that colour clears nobody."""
    rules = posterior.network.rules
    pattern = rules.patterns.get("nothing_odd_but_complaint")
    complaint = any(
        seen and cylinder is None and rules.findings[name].severity > 0
        for (name, cylinder), seen in posterior.evidence.findings.items()
    )
    if pattern is None or not complaint or comparison.odd or "all_alike_normal" not in comparison.pattern_ids:
        return []
    return [f"{pattern.name}: {small(pattern.points_to)}"]


def _cautions(rules: Rules, verdict: Verdict) -> tuple[str, ...]:
    """What to do and not to do at once, for every sign of danger."""
    return tuple(dict.fromkeys(rules.findings[name].stop for name, _ in verdict.stops if name in rules.findings))


def _remarks(rules: Rules, evidence: Evidence) -> list[str]:
    """Remarks of the rule base on what was seen: disagreements of the sources, awkward truths."""
    return [rules.findings[name].note for (name, _), seen in evidence.findings.items() if seen and rules.findings[name].note]
