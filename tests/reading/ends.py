"""Measures and firing ends for tests of the reading rules."""

from __future__ import annotations

from typing import Any

import numpy as np

from plugread.records import PARTS, FiringEnd, Measured, PartMap, PlugMeasures, Quality

GOOD = Quality(1.5, 0.5, 0.0, 30.0)


def end(score: float = 0.9, agreement: float = 0.9, *, by_hand: bool = False) -> FiringEnd:
    """A firing end found with some confidence."""
    parts = PartMap(np.zeros((len(PARTS), 4, 4), np.float32), 0.0, 0.0, 1.0)
    return FiringEnd((0, 0, 100, 100), "side", {"side": 1.0}, parts, {}, score, agreement, by_hand)


def measures(
    lab: tuple[float, float, float],
    *,
    spread: tuple[float, float, float] = (8.0, 3.0, 4.0),
    gloss: float | None = None,
    crust: float | None = None,
    specks: dict[str, int] | None = None,
    gap_mm: float | None = None,
    **features: float,
) -> PlugMeasures:
    """What was measured on one nose; left out = could not be measured."""
    colour = [Measured(v, s, "L*a*b*", "test") for v, s in zip(lab, spread, strict=True)]

    def cue(value: float | None, width: float) -> Any:
        return None if value is None else Measured(value, width, "0-1", "test")

    return PlugMeasures(*colour, cue(gloss, 0.2), cue(crust, 0.2), specks, cue(gap_mm, 0.05), {}, features)


SEEN: dict[str, dict[str, Any]] = {
    "normal": {"lab": (62, 8, 20), "gloss": 0.1, "crust": 0.1, "specks": {"dark": 0, "metal": 0, "white": 0}},
    "carbon_fouled": {"lab": (16, 0.3, 1), "gloss": 0.1, "crust": 0.3, "specks": {"dark": 0, "metal": 0, "white": 0}},
    "oil_fouled": {"lab": (13, 1.5, 3), "gloss": 0.9, "crust": 0.2, "specks": {"dark": 0, "metal": 0, "white": 0}},
    "additive_stain": {"lab": (46, 24, 32), "gloss": 0.1, "crust": 0.2, "specks": {"dark": 0, "metal": 0, "white": 0}},
    "ash_crust": {"lab": (72, 3, 12), "gloss": 0.1, "crust": 0.9, "specks": {"dark": 4, "metal": 0, "white": 0}},
    "lean_white": {"lab": (91, 0, 3), "gloss": 0.05, "crust": 0.03, "specks": {"dark": 0, "metal": 0, "white": 0}},
    "overheated": {"lab": (91, 0, 3), "gloss": 0.1, "crust": 0.35, "specks": {"dark": 9, "metal": 0, "white": 0}},
    "glazed": {"lab": (52, 10, 32), "gloss": 0.95, "crust": 0.03, "specks": {"dark": 0, "metal": 0, "white": 0}},
}
"""Textbook noses: what the trade's words for each look measure like."""
