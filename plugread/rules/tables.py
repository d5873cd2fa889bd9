"""Records of the rule base, one class a table. Words, not numbers, stand in the links; `Scales` turns words into numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Needs = Mapping[str, tuple[str, ...]]
"""What an engine must have: field of the engine -> allowed values, e.g. {"ignition": ("wasted_spark",)}.

Fields: layout, induction, ignition, closed_loop ("true"/"false"), head, and `cylinders` ("2+" = at least two).
Empty = every engine.
"""


@dataclass(frozen=True)
class Source:
    """One published source. `read` says how much of it was read: full, excerpt, memory."""

    key: str
    publisher: str
    title: str
    edition: str
    read: str
    note: str = ""


@dataclass(frozen=True)
class Backing:
    """What stands behind a row: grade (standard, handbook, paper, trade_text, common_practice, our_estimate) and "KEY:place"."""

    grade: str
    sources: tuple[str, ...] = ()


@dataclass(frozen=True)
class Finding:
    """A reading of a plug or a sign of the engine.

    Parameters
    ----------
    id, name : contract id; the words shown to people (sentence case).
    level : "cylinder" or "engine".
    kind : firing_end, outside, removal or sign.
    seen, confused_with : what it looks like; what it must not be confused with.
    severity : 0 fine ... 4 do not run the engine until found.
    leak : word of the leak scale: how often it is there with none of the listed causes.
    danger : True if it forbids carrying on; `stop` then says what and why.
    photo : True if a photo of the firing end can show it.
    note : remark shown to the user (disagreements with both sides, awkward truths).
    implies : other findings that are surely there as well (seeing this, that is not asked).
    excludes : findings that cannot be ticked together with it.
    """

    id: str
    name: str
    level: str
    kind: str
    seen: str
    confused_with: str
    severity: int
    leak: str
    danger: bool
    photo: bool
    backing: Backing
    stop: str = ""
    note: str = ""
    implies: tuple[str, ...] = ()
    excludes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Cause:
    """Something that may be wrong.

    `scope` is engine, bank, feed, coil, neighbours or cylinder; `prior` a word of the prior scale; `severity` and `put_right`
    words of the loss scales; `remedy` what puts it right; `hint` one sentence on how it works.
    """

    id: str
    name: str
    scope: str
    prior: str
    severity: str
    put_right: str
    remedy: str
    hint: str
    backing: Backing
    needs: Needs = field(default_factory=dict)
    note: str = ""


@dataclass(frozen=True)
class Link:
    """`cause` shows as `finding` with `strength` (a word of the link scale) on each cylinder it reaches."""

    cause: str
    finding: str
    strength: str
    backing: Backing


@dataclass(frozen=True)
class Context:
    """A sign that changes how a finding is to be taken while the sign is present.

    `leak` replaces the finding's leak word (the finding then comes by itself, e.g. soot after long idling); `shows` scales
    every link to the finding (a word of the look scale: how far the finding has had the chance to show, e.g. new plugs).
    """

    sign: str
    finding: str
    leak: str
    shows: str
    backing: Backing
    note: str = ""


@dataclass(frozen=True)
class Outcome:
    """One outcome of a check.

    Outcomes of a check stand in order of dominance: the one observed is the first that fires (noisy-OR over `answers`, with
    `false_alarm`), the last (`fallthrough`) is observed when none fires. That makes the outcome probabilities sum to one.
    """

    id: str
    name: str
    fallthrough: bool
    false_alarm: str
    answers: tuple[Link, ...] = ()
    danger: bool = False
    advice: str = ""


@dataclass(frozen=True)
class Check:
    """Something to do next.

    `per` is engine (one outcome), cylinder (one outcome for each cylinder, done singly) or all_cylinders (one outcome for each
    cylinder, done in one go); `minutes` for each, `setup_minutes` once. `bands` names the band table for measured values.
    `engine` is what the engine does for it: off, cranked or running; where running is forbidden only "off" may be offered.
    """

    id: str
    name: str
    per: str
    minutes: float
    setup_minutes: float
    tools: str
    how: str
    separates: str
    cautions: tuple[str, ...]
    outcomes: tuple[Outcome, ...]
    backing: Backing
    needs: Needs = field(default_factory=dict)
    bands: str = ""
    after: str = ""
    note: str = ""
    engine: str = "off"


@dataclass(frozen=True)
class Scales:
    """Words to numbers: each mapping word -> probability (prior, link, leak, look) or loss (severity, put_right)."""

    prior: Mapping[str, float]
    link: Mapping[str, float]
    leak: Mapping[str, float]
    look: Mapping[str, float]
    severity: Mapping[str, float]
    put_right: Mapping[str, float]


@dataclass(frozen=True)
class Losses:
    """The loss table a user can change: money-like units, all in one currency of their choice.

    `hourly` is the worth of one hour of work, `standing_still` what not running the engine costs.
    """

    hourly: float
    standing_still: float
    close_call_share: float


@dataclass(frozen=True)
class Pattern:
    """A known pattern across cylinders, in words: what it points to, what it makes unlikely, what to check first."""

    id: str
    name: str
    points_to: str
    rules_out: str
    first_checks: tuple[str, ...]
    backing: Backing


@dataclass(frozen=True)
class Band:
    """Limits that turn a measured value into an outcome; see the comment in the band table for each rule.

    `check` is empty for what is read off without a check (gap by gauge, distance driven).
    """

    id: str
    check: str
    unit: str
    rule: str
    limits: Mapping[str, float]
    backing: Backing
    note: str = ""


@dataclass(frozen=True)
class Rules:
    """The whole rule base, by id, in file order."""

    sources: Mapping[str, Source]
    scales: Scales
    losses: Losses
    findings: Mapping[str, Finding]
    causes: Mapping[str, Cause]
    links: tuple[Link, ...]
    contexts: tuple[Context, ...]
    checks: Mapping[str, Check]
    patterns: Mapping[str, Pattern]
    bands: Mapping[str, Band]
    cautions: Mapping[str, str]
    looks: Mapping[str, Mapping[str, float]]
    """M[state of the firing end][look]: chance that a plug with that dominating finding (or "normal") looks like each look."""
    dominance: tuple[str, ...]
    """Findings a photo can show, the one that hides the others first."""
