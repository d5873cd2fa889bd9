"""Records of the reasoning: evidence, causes, checks, verdict, comparison and the whole answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from plugread.records.measuring import PlugRead

Action = Literal["carry_on", "investigate", "do_not_run"]


@dataclass(frozen=True)
class Evidence:
    """What is known, in the terms of the network.

    Parameters
    ----------
    findings : (finding id, cylinder or None for the engine) -> True present, False looked and not there.
        Not looked at is absent from the mapping.
    looks : cylinder -> likelihood of each look (from the photo), any scale.
    look_noise : (finding id, cylinder) -> 0-1, how well it was looked at (1 = good light and lens).
    outcomes : (check id, cylinder or None) -> outcome id.
    notes : what a measured value could not answer, and what is missing for it.
    named : cylinder -> the look its photo most likely shows, common looks counted as such; only names the photo in reasons.
    """

    findings: Mapping[tuple[str, int | None], bool]
    looks: Mapping[int, Mapping[str, float]] = field(default_factory=dict)
    look_noise: Mapping[tuple[str, int | None], float] = field(default_factory=dict)
    outcomes: Mapping[tuple[str, int | None], str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    named: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Reason:
    """One finding's weight for (+) or against (-) a cause, in natural log-odds.

    `finding` is a reading, a sign, or an outcome as "check/outcome"; `present` is False where it was looked for and not there.
    """

    finding: str
    cylinder: int | None
    weight: float
    present: bool = True


@dataclass(frozen=True)
class CauseRank:
    """One cause at one place with its probability.

    `cylinders` is empty for an engine-wide cause. `stays_first` is the share of shaken rule bases in which the first stays
    first (only for the first cause), `stays_first_interval` its Wilson interval; `band` the 10-90 % range of the
    probability under shaking; `break_even_prior` the prior at which the cause would lose its place.
    `group` names causes that nothing seen so far, nor any finding, can tell apart from this one.
    """

    id: str
    scope: str
    cylinders: tuple[int, ...]
    probability: float
    because: tuple[Reason, ...] = ()
    stays_first: float | None = None
    stays_first_interval: tuple[float, float] | None = None
    band: tuple[float, float] | None = None
    break_even_prior: float | None = None
    group: tuple[str, ...] = ()


@dataclass(frozen=True)
class Ranking:
    """The causes as soon as they are ranked: before checks, verdict and how firm the order is have been worked out."""

    comparison: Comparison
    causes: tuple[CauseRank, ...]
    none_listed: float


@dataclass(frozen=True)
class CheckAdvice:
    """A check worth doing next; `value` is the expected loss it saves after its own cost (same unit as the losses)."""

    id: str
    cylinders: tuple[int, ...]
    minutes: float
    value: float
    why: str
    cautions: tuple[str, ...] = ()
    outcomes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Verdict:
    """Fit the plugs and carry on, investigate first, or do not run the engine."""

    action: Action
    why: str
    close_call: bool
    expected_loss: Mapping[str, float] = field(default_factory=dict)
    stops: tuple[tuple[str, int | None], ...] = ()
    """Danger findings (id, cylinder) that forbid carrying on, whatever the probabilities say."""


@dataclass(frozen=True)
class Comparison:
    """How the plugs of one engine differ.

    `delta_e` maps cylinder -> CIEDE2000 to the set's median colour; `gap_difference_mm` to the set's median gap; `odd` the
    cylinders that stand out; `pattern` the known pattern in plain words, `pattern_ids` its ids (several may fit at once);
    `rules_out` what the pattern makes unlikely, in plain words.
    """

    delta_e: Mapping[int, float]
    gap_difference_mm: Mapping[int, float]
    odd: tuple[int, ...]
    pattern: str
    pattern_ids: tuple[str, ...] = ()
    rules_out: str = ""
    median_lab: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Diagnosis:
    """The whole answer for one case."""

    comparison: Comparison
    readings: Mapping[int, Mapping[str, float]]
    """Cylinder -> reading id -> probability after joining photo and ticks."""
    causes: tuple[CauseRank, ...]
    none_listed: float
    verdict: Verdict
    next_checks: tuple[CheckAdvice, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...] = ()
    photos: Mapping[int, PlugRead] = field(default_factory=dict)
    photo_problems: Mapping[int, str] = field(default_factory=dict)
