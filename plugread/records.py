"""The frozen records that pass between the stages.

Flow: photo -> parts found -> measured -> reading -> all cylinders compared -> causes -> next check -> verdict.
Pixel boxes and points are (x, y) in the upright full-size photo; masks and maps are row, column.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

View = Literal["side", "oblique", "end", "unknown"]
ReadStatus = Literal["read", "unsure", "refused"]
WhiteMethod = Literal["card", "paper", "estimated"]
Action = Literal["carry_on", "investigate", "do_not_run"]
Box = tuple[int, int, int, int]
"""x, y, width, height in pixels."""

PARTS = ("background", "nose", "centre", "strap", "rim", "thread", "hex", "upper", "sheet")
"""Parts the locator tells apart, by channel: rim = rim and bore, hex = hex and seat, sheet = white or grey reference."""

KEY_POINTS = ("strap_face", "centre_tip", "axis_front", "axis_back")
"""strap_face and centre_tip face each other across the gap; axis_front lies on the shell's end face."""


# ---- measuring -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Measured:
    """A measured number, never bare.

    `spread` is the half-width of its 95 % interval, in the same unit; `method` says how it was taken.
    """

    value: float
    spread: float
    unit: str
    method: str


@dataclass(frozen=True, eq=False)
class Photo:
    """A decoded photo: upright, RGB, encoded values untouched.

    Parameters
    ----------
    name : file name as given.
    rgb : uint8 or uint16 of shape (h, w, 3), encoded; may be a reduced decode.
    scale : full-size pixels for one pixel of `rgb` (1, 2, 4 or 8).
    size : (w, h) of the upright full-size photo.
    to_srgb : float64 of shape (3, 3), linear RGB of the file's profile -> linear sRGB.
    valid : bool of shape (h, w), False where alpha hides the colour; None = all valid.
    notes : remarks about the file that a user should know (profile missing, orientation applied...).
    curve : float64 of shape (256,) or (65536,), linear value of each code by the file's profile; None = the sRGB curve.
    """

    name: str
    rgb: NDArray[np.uint8] | NDArray[np.uint16]
    scale: int
    size: tuple[int, int]
    to_srgb: NDArray[np.float64]
    valid: NDArray[np.bool_] | None = None
    notes: tuple[str, ...] = ()
    curve: NDArray[np.float64] | None = None


@dataclass(frozen=True, eq=False)
class PartMap:
    """Part probabilities over a crop of the photo.

    `probability` is float32 of shape (9, h, w), channels as `PARTS`; map pixel (r, c) covers the full-size
    pixels from (x0 + c * step, y0 + r * step), `step` full-size pixels wide.
    """

    probability: NDArray[np.float32]
    x0: float
    y0: float
    step: float


@dataclass(frozen=True, eq=False)
class FiringEnd:
    """One firing end found in a photo.

    `score` is the finder's own confidence, 0-1; `agreement` how well two flipped passes agree on the nose (IoU, 0-1);
    `key_points` maps names of `KEY_POINTS` to (x, y, confidence).
    """

    nose_box: Box
    view: View
    view_probability: Mapping[str, float]
    parts: PartMap
    key_points: Mapping[str, tuple[float, float, float]]
    score: float
    agreement: float
    by_hand: bool = False


@dataclass(frozen=True, eq=False)
class White:
    """How the light of the photo was taken out.

    Corrected linear sRGB = matrix @ (gains * rgb) ** power, level included where a reference gave one.

    Parameters
    ----------
    method : card (grey card, paper and card, or chart), paper, or estimated.
    detail : which reference exactly, in words.
    gains, power : float64 of shape (3,) each.
    matrix : float64 of shape (3, 3).
    level_known : whether lightness is calibrated too, not only hue.
    spread_lab : 95 % half-widths that this correction alone brings to L*, a*, b*.
    reference_box : box of the reference used; None when estimated.
    why : why a better reference was not used (clipped, shaded, sloping...); None if there is nothing to say.
    """

    method: WhiteMethod
    detail: str
    gains: NDArray[np.float64]
    power: NDArray[np.float64]
    matrix: NDArray[np.float64]
    level_known: bool
    spread_lab: tuple[float, float, float]
    reference_box: Box | None = None
    why: str | None = None


@dataclass(frozen=True)
class Quality:
    """Can the firing end be measured at all?

    `blur_px` is the edge width at the nose; `px_per_mm` is None where no scale was found; `refusal` is the reason
    not to read the photo, `advice` what to change.
    """

    blur_px: float
    exposure: float
    clipped_share: float
    px_per_mm: float | None
    refusal: str | None = None
    advice: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlugMeasures:
    """What was measured on one firing end; None = could not be measured, the reason stands in `why`.

    L*, a*, b* are CIELAB under D65, 2 degree observer. `gloss` is 0 (matt) to 1 (wet or glassy); `crust` 0 (smooth) to 1
    (heavy); `specks` counts by kind ("dark", "metal", "white").
    """

    lightness: Measured | None
    a: Measured | None
    b: Measured | None
    gloss: Measured | None
    crust: Measured | None
    specks: Mapping[str, int] | None
    gap_mm: Measured | None
    why: Mapping[str, str] = field(default_factory=dict)
    features: Mapping[str, float] = field(default_factory=dict)
    """Further raw cues used by the reading rules, by name (unevenness, electrode colour...)."""

    @property
    def lab(self) -> tuple[float, float, float] | None:
        """Nose colour as (L*, a*, b*), or None."""
        if self.lightness is None or self.a is None or self.b is None:
            return None
        return self.lightness.value, self.a.value, self.b.value


@dataclass(frozen=True)
class Reading:
    """What a firing end looks like, as likelihood and as probability.

    `likelihood` maps each look (reading id) to how probable the measurements are under it, scaled so that the largest is 1;
    `probability` weighs it with how common the looks are. `top` is None when no look stands out.
    `by` is "rules" or "classifier".
    """

    status: ReadStatus
    why: str | None
    likelihood: Mapping[str, float]
    probability: Mapping[str, float]
    top: str | None
    by: str = "rules"


@dataclass(frozen=True, eq=False)
class PlugRead:
    """All that one firing end in one photo gave."""

    reading: Reading
    measures: PlugMeasures
    quality: Quality
    end: FiringEnd | None
    nose_mask: NDArray[np.bool_] | None = None
    """Upright, over `mask_box` only (full-size pixels); None when refused."""
    mask_box: Box | None = None


@dataclass(frozen=True, eq=False)
class PhotoRead:
    """The answer for one photo: one plug, or several of a line-up from left to right (or top to bottom)."""

    file: str
    status: ReadStatus
    why: str | None
    size: tuple[int, int] | None
    white: White | None
    plugs: tuple[PlugRead, ...]
    lineup: bool = False
    notes: tuple[str, ...] = ()


# ---- the case --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class PlugType:
    """The plug the engine takes; None = not told."""

    thread: str | None = None
    seat: str | None = None
    electrode: str | None = None
    gap_mm: float | None = None
    distance_km: float | None = None


@dataclass(frozen=True)
class EngineSpec:
    """The engine as the case file gives it; what is derived from it lives in `plugread.engine.Engine`."""

    layout: str
    cylinders: int
    firing_order: tuple[int, ...]
    induction: str
    ignition: str
    closed_loop: bool
    head: str | None = None
    banks: tuple[tuple[int, ...], ...] | None = None
    neighbours: tuple[tuple[int, int], ...] | None = None
    feeds: tuple[tuple[int, ...], ...] | None = None
    coils: tuple[tuple[int, ...], ...] | None = None
    plug: PlugType = PlugType()


@dataclass(frozen=True)
class PlugEntry:
    """What the user gave for one cylinder: photo, ticks, gauge."""

    cylinder: int
    photo: str | None = None
    seen: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()
    gap_mm: float | None = None
    tick_after_photo: bool = False
    """The ticks were given after the photo's own reading was shown (they then count for less)."""


@dataclass(frozen=True)
class CheckEntry:
    """One check the user has done; measured values by cylinder, or one for the engine."""

    id: str
    cylinder: int | None = None
    outcome: str | None = None
    unit: str | None = None
    values: Mapping[int, float] = field(default_factory=dict)
    value: float | None = None
    spec: float | tuple[float, float] | None = None
    lengths_m: Mapping[int, float] = field(default_factory=dict)
    where: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Lineup:
    """One photo of all plugs in a row; `cylinders` from left to right as they lie."""

    photo: str
    cylinders: tuple[int, ...]


@dataclass(frozen=True)
class Case:
    """Everything known about one visit."""

    engine: EngineSpec
    plugs: tuple[PlugEntry, ...] = ()
    signs_seen: tuple[str, ...] = ()
    signs_not_seen: tuple[str, ...] = ()
    checks: tuple[CheckEntry, ...] = ()
    lineup: Lineup | None = None
    base_dir: str = "."
    title: str = ""


# ---- reasoning -------------------------------------------------------------------------------------------


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
    """

    findings: Mapping[tuple[str, int | None], bool]
    looks: Mapping[int, Mapping[str, float]] = field(default_factory=dict)
    look_noise: Mapping[tuple[str, int | None], float] = field(default_factory=dict)
    outcomes: Mapping[tuple[str, int | None], str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


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
