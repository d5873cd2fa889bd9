"""The reading of one firing end from its measures: how probable they are under each look of the table, and what follows.

Each look is a mixture of Gaussians in CIELAB, widened by the spread of the measurement, times its cues (gloss, crust, specks,
gap, patchiness). A cue that was not measured says nothing. No look falls below a floor: an image can always be wrong.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plugread.reading.looks import SPECK_KINDS, Look, Looks, load_looks
from plugread.reading.refuse import doubt, refusal
from plugread.records import FiringEnd, Measured, PlugMeasures, Quality, Reading

Floats = NDArray[np.float64]

_TWO_SIGMA = 1.96
"""Half-width of a 95 % interval over the standard deviation of a normal distribution."""
_PATCHY_SPREAD = 1.5
"""Standard deviation of the measured patchiness between two photos of one plug; our own."""
_SCORES, _RIGHTLY_FOUND = (0.30, 0.45, 0.55, 0.65, 0.75), (0.50, 0.85, 0.93, 0.96, 1.0)
"""Share of noses found in the right place (overlap of 0.35 or more) by its score, over 161 finds in rendered photos."""


def read(measures: PlugMeasures, quality: Quality, end: FiringEnd, *, gap_spec_mm: float | None = None) -> Reading:
    """Return likelihood and probability of each look a photo can show.

    Parameters
    ----------
    gap_spec_mm : the book's gap; without it a wide gap is judged against the usual one, and counts for less.

    Returns
    -------
    Reading
        "read" names `top`; "unsure" has probabilities but no `top`; "refused" has neither; `why` tells the reason.
    """
    why = refusal(measures, quality, end)
    if why is not None:
        return Reading("refused", why, {}, {}, None)
    table = load_looks()
    likelihood = as_far_as_found(likelihoods(measures, table, gap_spec_mm), end)
    shares = shares_of(likelihood, table)
    unsure = doubt(measures, end, shares, top_share=table.top_share, top_lead=table.top_lead)
    top = None if unsure else max(shares, key=lambda name: shares[name])
    return Reading("unsure" if unsure else "read", unsure, likelihood, shares, top)


def likelihoods(measures: PlugMeasures, table: Looks, gap_spec_mm: float | None = None) -> dict[str, float]:
    """Return how probable the measures are under each look, largest = 1, none below the table's floor."""
    logs = {name: _log_likelihood(look, measures, table, gap_spec_mm) for name, look in table.look.items()}
    best = max(logs.values())
    return {name: table.floor + (1 - table.floor) * math.exp(value - best) for name, value in logs.items()}


def as_far_as_found(likelihood: dict[str, float], end: FiringEnd) -> dict[str, float]:
    """Return the likelihoods with the chance that something else was measured than the nose, which would say nothing of it."""
    right = 1.0 if end.by_hand else float(np.interp(end.score, _SCORES, _RIGHTLY_FOUND))
    return {name: right * value + 1 - right for name, value in likelihood.items()}


def shares_of(likelihood: dict[str, float], table: Looks) -> dict[str, float]:
    """Return the probability of each look: likelihood times how common it is, summing to 1."""
    weighed = {name: value * table.look[name].common for name, value in likelihood.items()}
    total = sum(weighed.values())
    return {name: value / total for name, value in weighed.items()}


def _log_likelihood(look: Look, measures: PlugMeasures, table: Looks, gap_spec_mm: float | None) -> float:
    cues = (
        _log_cue(look, "gloss", measures.gloss)
        + _log_cue(look, "crust", measures.crust)
        + _log_cue(look, "gap", _relative_gap(measures.gap_mm, table, gap_spec_mm))
        + _log_cue(look, "patchy", _patchiness(measures))
        + _log_specks(look, measures, table.enough)
    )
    return _log_colour(look, measures) + table.cue_weight * cues


def _log_colour(look: Look, measures: PlugMeasures) -> float:
    """Return the log density of the colour under the look's mixture, class spread and measured spread added."""
    parts = [p for p in (measures.lightness, measures.a, measures.b) if p is not None]
    value = np.array([p.value for p in parts])
    own = np.array([p.spread for p in parts]) / _TWO_SIGMA
    variance = look.spreads**2 + own**2
    logs = -0.5 * ((value - look.means) ** 2 / variance + np.log(2 * np.pi * variance)).sum(1) + np.log(look.weights)
    return float(np.logaddexp.reduce(logs))


def _log_cue(look: Look, cue: str, measured: Measured | None) -> float:
    if measured is None or cue not in look.cues:
        return 0.0
    mean, spread = look.cues[cue]
    variance = spread**2 + (measured.spread / _TWO_SIGMA) ** 2
    return -0.5 * ((measured.value - mean) ** 2 / variance + math.log(2 * math.pi * variance))


def _log_specks(look: Look, measures: PlugMeasures, enough: int) -> float:
    if measures.specks is None:
        return 0.0
    seen = {kind: measures.specks.get(kind, 0) >= enough for kind in SPECK_KINDS}
    return sum(math.log(look.specks[kind] if there else 1 - look.specks[kind]) for kind, there in seen.items())


def _relative_gap(gap: Measured | None, table: Looks, spec_mm: float | None) -> Measured | None:
    """Return the gap over the book's gap; where that is unknown, over the usual one with its spread added."""
    if gap is None:
        return None
    if spec_mm:
        return Measured(gap.value / spec_mm, gap.spread / spec_mm, "of the book's gap", gap.method)
    ratio = gap.value / table.usual_gap_mm
    unknown = _TWO_SIGMA * table.usual_gap_spread * ratio
    return Measured(ratio, math.hypot(gap.spread / table.usual_gap_mm, unknown), "of the usual gap", gap.method)


def _patchiness(measures: PlugMeasures) -> Measured | None:
    value = measures.features.get("patchiness")
    return None if value is None else Measured(value, _PATCHY_SPREAD * _TWO_SIGMA, "a*b*", "scatter of the nose colour")
