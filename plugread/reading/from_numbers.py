"""What the gauge and the odometer say without a photo: worn or not, far too narrow, nearly new, overdue."""

from __future__ import annotations

from collections.abc import Iterable

from plugread.records import PlugEntry, PlugType
from plugread.rules.tables import Rules

Findings = dict[tuple[str, int | None], bool]


def gauge_findings(entries: Iterable[PlugEntry], plug: PlugType, rules: Rules) -> Findings:
    """Return findings by (id, cylinder) from gaps taken by gauge; nothing where the book's gap is not known.

    A gap between "like new" and "worn" says nothing.
    """
    limits = rules.bands["gap_gauge"].limits
    found: Findings = {}
    for entry in entries:
        if entry.gap_mm is None or plug.gap_mm is None:
            continue
        over_mm = entry.gap_mm - plug.gap_mm
        if over_mm >= limits["worn_mm"] - 1e-9:
            found["worn", entry.cylinder] = True
        elif over_mm <= limits["like_new_mm"] + 1e-9:
            found["worn", entry.cylinder] = False
        found["gap_narrow", entry.cylinder] = -over_mm >= limits["narrow_mm"] - 1e-9
    return found


def distance_signs(plug: PlugType, rules: Rules) -> Findings:
    """Return signs of the engine by (id, None) from the distance its plugs have done; nothing where it is not known."""
    limits = rules.bands["plug_distance"].limits
    if plug.distance_km is None:
        return {}
    signs: Findings = {("plugs_under_250_km", None): plug.distance_km < limits["new"]}
    if plug.electrode is not None and plug.electrode in limits:
        signs["plugs_overdue", None] = plug.distance_km > limits[plug.electrode]
    return signs
