"""The verdict: fit the plugs and carry on, investigate first, or do not run the engine.

Decided by expected loss, except that a sign of danger forbids carrying on whatever the chances say.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from plugread.diagnose.checks import advise, look_ahead
from plugread.diagnose.danger import SURE_BY_PHOTO, Place, dangers, doubtful_dangers
from plugread.diagnose.lookahead import Lookahead
from plugread.diagnose.network import Network
from plugread.diagnose.posterior import Posterior
from plugread.diagnose.words import named, place, small, spoken
from plugread.records import Action, Evidence, Verdict
from plugread.rules.tables import Losses, Rules

LIVE_WITH = 0.15
"""Share of the loss of standing still up to which one may run on with a known fault (our estimate)."""
LEAST_SAVING_MIN = 6.0
"""Minutes of one's own time that a check must save before it holds up the refit (our estimate)."""
SERIOUS = 3
"""Severity of a finding that is looked into before long, whatever its likeliest cause (service texts: "before hard driving")."""

LIKELY = 0.5
"""Chance from which a cause that a check has shown counts as found."""


def decide(
    network: Network, posterior: Posterior, evidence: Evidence, losses: Losses | None = None, *, ahead: Lookahead | None = None
) -> Verdict:
    """Return the answer with the least expected loss, and what stands against it.

    Parameters
    ----------
    ahead : the look ahead from this posterior, if there is one already.
    """
    ahead = ahead or look_ahead(posterior, losses)
    expected = expected_losses(posterior, ahead)
    close = _close((losses or network.rules.losses).close_call_share, expected)
    stops = dangers(posterior)
    if stops:
        return Verdict("do_not_run", _stop_words(network.rules, stops), False, expected, stops)
    doubtful = doubtful_dangers(posterior)
    if doubtful:
        return Verdict("investigate", _doubt_words(network.rules, doubtful), False, expected)
    if nothing_known(evidence):
        return Verdict("investigate", "Nothing was looked at, so nothing can be said of this engine yet.", False, expected)
    action = min(ORDER, key=lambda answer: expected[answer])
    slight = expected["carry_on"] - expected["investigate"] < LEAST_SAVING_MIN * ahead.losses.minute
    if action == "investigate" and (close or slight) and expected["carry_on"] <= LIVE_WITH * expected["do_not_run"]:
        action = "carry_on"  # what is saved is within the doubt about the losses themselves
    if action == "carry_on" and _worth_a_look(posterior, expected):
        action = "investigate"
    return Verdict(action, _words(posterior, action, ahead), close, expected)


ORDER: tuple[Action, ...] = ("carry_on", "investigate", "do_not_run")
"""The answers from the mildest; of equal losses the milder wins."""


def expected_losses(posterior: Posterior, ahead: Lookahead) -> dict[str, float]:
    """Expected loss of each answer: run on with what is there; mend or check what pays; stand still."""
    losses = ahead.losses
    running = float(losses.running_on(posterior.chances))
    mending = float(losses.mending(posterior.chances[None], np.ones(1))[0])
    checking = min((mending - max(0.0, float(value)) for value in ahead.two_steps), default=mending)
    return {"carry_on": running, "investigate": min(mending, checking), "do_not_run": losses.standing_still}


def nothing_known(evidence: Evidence) -> bool:
    """Whether there is no evidence at all."""
    return not (evidence.findings or evidence.looks or evidence.outcomes)


def _worth_a_look(posterior: Posterior, expected: Mapping[str, float]) -> bool:
    """Whether something speaks against carrying on although looking for it does not pay by itself."""
    rules, evidence = posterior.network.rules, posterior.evidence
    too_much = expected["carry_on"] > LIVE_WITH * expected["do_not_run"]
    return too_much or bool(_serious(rules, posterior.readings, evidence)) or bool(_found(posterior))


def _found(posterior: Posterior) -> list[str]:
    """Faults that a check has shown and that are the likelier explanation."""
    rules = posterior.network.rules
    likely = {instance.cause for instance, chance in posterior.ranked if chance >= LIKELY}
    shown = {
        answer.cause
        for (check, _), outcome in posterior.evidence.outcomes.items()
        for one in rules.checks[check].outcomes
        if one.id == outcome
        for answer in one.answers
    }
    return [
        cause for cause in rules.causes if cause in likely & shown and rules.scales.severity[rules.causes[cause].severity] > 0.0
    ]


def _serious(rules: Rules, readings: Mapping[int, Mapping[str, float]], evidence: Evidence) -> list[str]:
    """Findings that must be looked into: ticked, or shown by a photo beyond reasonable doubt."""
    signs = [name for (name, cylinder), seen in evidence.findings.items() if seen and cylinder is None]
    shown = [name for reading in readings.values() for name, chance in reading.items() if chance >= SURE_BY_PHOTO]
    return [name for name in dict.fromkeys((*shown, *signs)) if rules.findings[name].severity >= SERIOUS]


def _close(share: float, expected: Mapping[str, float]) -> bool:
    first, second = sorted(expected.values())[:2]
    return second - first < share * max(second, 1e-9)


def _stop_words(rules: Rules, stops: tuple[Place, ...]) -> str:
    name, cylinder = stops[0]
    where = place(() if cylinder is None else (cylinder,))
    if name in rules.findings:
        finding = rules.findings[name]
        return f"{finding.name}{f', {where}' if where else ''}. {finding.stop}".strip()
    check = rules.checks[name]
    return f"{check.name}{f', {where}' if where else ''}: the result says do not run. {_advice_of(rules, name)}".strip()


def _advice_of(rules: Rules, check: str) -> str:
    return next((outcome.advice for outcome in rules.checks[check].outcomes if outcome.danger), "")


def _doubt_words(rules: Rules, doubtful: tuple[Place, ...]) -> str:
    name, cylinder = doubtful[0]
    finding = rules.findings[name]
    seen = f"The photo of cylinder {cylinder} may show this: {small(finding.name)}"
    return f"{seen}. Look at it by eye and lens before the engine runs."


def _words(posterior: Posterior, action: Action, ahead: Lookahead) -> str:
    first, chance = posterior.ranked[0]
    suspect = f"{named(posterior.network.rules, first)}, {spoken(chance)}"
    if action == "carry_on":
        if posterior.none_listed > chance:
            return "Nothing found that is worth a check or a repair now."
        return f"The likeliest cause, {suspect}, costs less to live with than to look for now."
    if action == "do_not_run":
        return f"What running on may cost is more than standing still: {suspect}."
    advised = advise(ahead, 1)
    if not advised:
        return f"Likeliest: {suspect}. Putting it right costs less than living with it."
    check = small(posterior.network.rules.checks[advised[0].id].name)
    saves = " saves more than it costs" if advised[0].value > 0.0 else ", before money is spent"
    return f"Likeliest: {suspect}. One check first{saves}: {check}."
