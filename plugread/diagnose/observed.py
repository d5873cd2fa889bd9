"""What was seen, arranged for the sweep: for each cylinder and for the engine, what is present, absent, or seen by a photo.

Not looked at is left out, which is exact. A photo's likelihood of each look becomes a short sum of terms: the look depends on
the finding that hides the others, "nothing before the i-th finding in the order of dominance" is a set of absences, and the
chance that the i-th is the first present one is a difference of two such sets. So a photo costs one term a look, not 2^n.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from plugread.diagnose.network import Network
from plugread.diagnose.numbers import Array, Numbers, outcome_signal
from plugread.errors import CaseError
from plugread.records import Evidence

MOST_PRESENT = 12
"""Findings present at one cylinder, or signs of the engine that single cylinders can cause; time doubles with each."""
NORMAL = "normal"


@dataclass(frozen=True)
class Sight:
    """One signal as it was looked at.

    `shown` scales its links (0-1: how well it was looked at, how far it has had the chance to show); `context` is the
    position of the context that replaces its leak, -1 for none.
    """

    signal: int
    shown: float = 1.0
    context: int = -1

    def link(self, numbers: Numbers) -> Array:
        """Links of all causes to it, shape (B, causes)."""
        return numbers.link[:, self.signal] * self.shown

    def leak(self, numbers: Numbers) -> Array:
        """Chance that it is there with none of the causes, shape (B,)."""
        own = numbers.leak[:, self.signal]
        if self.context < 0:
            return own
        instead = numbers.context_leak[:, self.context]
        return np.where(np.isnan(instead), own, instead)


@dataclass(frozen=True)
class PlugSights:
    """What is known about one cylinder.

    `hidden` are findings a photo may have shown, in order of dominance; term t of the photo says that the first `prefix[t]`
    of them are absent, and weighs `weight[t]` (weights of either sign). Without a photo there is one term of weight 1.
    """

    present: tuple[Sight, ...] = ()
    absent: tuple[Sight, ...] = ()
    hidden: tuple[Sight, ...] = ()
    prefix: tuple[int, ...] = (0,)
    weight: tuple[float, ...] = (1.0,)

    @property
    def empty(self) -> bool:
        """Whether nothing at all is known about the cylinder."""
        return not (self.present or self.absent or self.hidden) and self.weight == (1.0,)


@dataclass(frozen=True)
class Observed:
    """What is known: `plugs` by cylinder in the engine's order, then signs and checks of the whole engine.

    `coupled` are present signs that a cause of a single cylinder can bring about; they tie the cylinders together.
    """

    plugs: tuple[PlugSights, ...]
    present: tuple[Sight, ...]
    coupled: tuple[Sight, ...]
    absent: tuple[Sight, ...]


def observe(network: Network, evidence: Evidence) -> Observed:
    """Arrange `evidence` for `network`.

    Raises
    ------
    CaseError
        If the evidence names a finding, check, outcome or cylinder that does not exist, or more is present than can be summed.
    """
    signals = _signals(network, evidence)
    known = {*network.engine.cylinders, None}
    for name, cylinder in signals:
        if cylinder not in known:
            raise CaseError(f"{name} is given for cylinder {cylinder}, which this engine has not")
    plugs = tuple(
        _plug(network, evidence, cylinder, *_sights(network, evidence, signals, cylinder))
        for cylinder in network.engine.cylinders
    )
    observed = _with_engine(network, evidence, signals, plugs)
    _check_size(network, observed)
    return observed


def observe_again(network: Network, evidence: Evidence, before: Observed, finding: str, cylinder: int | None) -> Observed:
    """Return what `observe` would, given `before`: what was observed with nothing different but one finding or outcome.

    Only its own plug is observed anew, or the engine alone where the finding is no sign that others are taken by.
    """
    signals = _signals(network, evidence)
    if cylinder is None:
        if any(context.sign == finding for context in network.rules.contexts):
            return observe(network, evidence)
        return _with_engine(network, evidence, signals, before.plugs)
    plugs, position = list(before.plugs), network.engine.cylinders.index(cylinder)
    plugs[position] = _plug(network, evidence, cylinder, *_sights(network, evidence, signals, cylinder))
    return replace(before, plugs=tuple(plugs))


def _sights(
    network: Network, evidence: Evidence, signals: Mapping[tuple[str, int | None], bool], cylinder: int | None
) -> tuple[tuple[Sight, ...], tuple[Sight, ...]]:
    """Return what is present and what is absent at one place."""
    here = [(_sight(network, evidence, name, where), seen) for (name, where), seen in signals.items() if where == cylinder]
    return tuple(sight for sight, seen in here if seen), tuple(sight for sight, seen in here if not seen)


def _with_engine(
    network: Network, evidence: Evidence, signals: Mapping[tuple[str, int | None], bool], plugs: tuple[PlugSights, ...]
) -> Observed:
    present, absent = _sights(network, evidence, signals, None)
    coupled = tuple(sight for sight in present if _reached_by_one_cylinder(network, sight))
    return Observed(plugs, tuple(sight for sight in present if sight not in coupled), coupled, absent)


def _signals(network: Network, evidence: Evidence) -> dict[tuple[str, int | None], bool]:
    """All signals that are present or absent; an outcome says that it fired and that the ones before it did not."""
    found = {place: seen for place, seen in evidence.findings.items() if place[0] != NORMAL}
    for (check, cylinder), outcome in evidence.outcomes.items():
        for signal, fired in fired_by(network, check, outcome):
            found[signal, cylinder] = fired
    for name, _ in found:
        if name not in network.signals:
            raise CaseError(f"finding {name!r} is not known")
    return found


def fired_by(network: Network, check: str, outcome: str) -> list[tuple[str, bool]]:
    """Signals that `outcome` of `check` decides: itself fired, those that dominate it did not."""
    if check not in network.rules.checks:
        raise CaseError(f"check {check!r} is not known")
    outcomes = [entry.id for entry in network.rules.checks[check].outcomes]
    if outcome not in outcomes:
        raise CaseError(f"check {check} has no outcome {outcome!r}", f"use one of {', '.join(outcomes)}")
    before = [(outcome_signal(check, entry), False) for entry in outcomes[: outcomes.index(outcome)]]
    return before if outcome == outcomes[-1] else [*before, (outcome_signal(check, outcome), True)]


def _sight(network: Network, evidence: Evidence, name: str, cylinder: int | None) -> Sight:
    shown, context = evidence.look_noise.get((name, cylinder), 1.0), -1
    for position, entry in enumerate(network.rules.contexts):
        if entry.finding == name and evidence.findings.get((entry.sign, None)):
            shown *= network.rules.scales.look[entry.shows] if entry.shows else 1.0
            context = _stronger(network, context, position)
    return Sight(network.signals[name], shown, context)


def _stronger(network: Network, one: int, other: int) -> int:
    """Of two contexts of one finding, the one under which it comes by itself more often."""
    leaks = network.numbers.context_leak[0]
    return other if one < 0 or np.nan_to_num(leaks[other]) > np.nan_to_num(leaks[one]) else one


def _plug(
    network: Network, evidence: Evidence, cylinder: int, present: tuple[Sight, ...], absent: tuple[Sight, ...]
) -> PlugSights:
    looks = evidence.looks.get(cylinder)
    if not looks or max(looks.values()) <= 0.0:
        return PlugSights(present, absent)
    hidden, states = [], []
    for finding in network.rules.dominance:
        known = evidence.findings.get((finding, cylinder))
        if known is not False:
            states.append(finding)
        if known:
            break
        if known is None:
            hidden.append(_sight(network, evidence, finding, cylinder))
    else:
        states.append(NORMAL)
    top = max(looks.values())
    chances = [sum(s * looks.get(look, 0.0) for look, s in network.rules.looks[state].items()) / top for state in states]
    steps = np.diff(chances, prepend=0.0)
    terms = [(prefix, float(step)) for prefix, step in enumerate(steps) if step != 0.0]
    prefix, weight = zip(*terms, strict=True)
    return PlugSights(present, absent, tuple(hidden), prefix, weight)


def _reached_by_one_cylinder(network: Network, sight: Sight) -> bool:
    return bool(network.words.link[sight.signal, network.local_of].any())


def _check_size(network: Network, observed: Observed) -> None:
    for cylinder, plug in zip(network.engine.cylinders, observed.plugs, strict=True):
        if len(plug.present) > MOST_PRESENT:
            raise CaseError(
                f"{len(plug.present)} findings are present on cylinder {cylinder}", f"name the {MOST_PRESENT} clearest"
            )
    if len(observed.coupled) > MOST_PRESENT:
        raise CaseError(f"{len(observed.coupled)} signs of the engine are present", f"name the {MOST_PRESENT} clearest")
