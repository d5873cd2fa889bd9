"""When a firing end must not be read, and when its reading must be called unsure."""

from __future__ import annotations

from collections.abc import Mapping

from plugread.records import FiringEnd, PlugMeasures, Quality

# Our own limits: the finder's own confidence, and how well two passes agree on the nose.
_MIN_SCORE, _MIN_AGREEMENT = 0.26, 0.25
_DOUBTFUL_SCORE, _DOUBTFUL_AGREEMENT = 0.5, 0.5
_DOUBTFUL_BRIGHT = 0.3
"""Share of the nose at the camera's limit from which its colour is whiter than it is."""


def refusal(measures: PlugMeasures, quality: Quality, end: FiringEnd) -> str | None:
    """Return why this firing end is not read, or None."""
    if quality.refusal:
        return "; ".join((quality.refusal, *quality.advice))
    if not end.by_hand and (end.score < _MIN_SCORE or end.agreement < _MIN_AGREEMENT):
        return "the firing end was not found surely enough; move closer on a plain background, or draw a box around the nose"
    if measures.lab is None:
        return measures.why.get("colour", "the nose colour could not be measured")
    return None


def doubt(
    measures: PlugMeasures, end: FiringEnd, shares: Mapping[str, float], *, top_share: float, top_lead: float
) -> str | None:
    """Return why the most likely look is not to be named alone, or None where it stands out."""
    if not end.by_hand and (end.score < _DOUBTFUL_SCORE or end.agreement < _DOUBTFUL_AGREEMENT):
        return "the nose was not found surely enough to name one look"
    if measures.features.get("bright_share", 0.0) > _DOUBTFUL_BRIGHT:
        return "much of the nose is overexposed; move out of the sun or switch the flash off"
    if measures.features.get("two_lights", 0.0) > 0.8 and measures.features.get("shade_depth", 0.0) > 30:
        return "sun and shade lie on the nose together; take the photo in even light"
    first, second = sorted(shares.values(), reverse=True)[:2]
    if first < top_share or first < top_lead * second:
        return "several looks fit about equally well"
    return None
