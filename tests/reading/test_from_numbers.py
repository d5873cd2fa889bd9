"""Gauge and odometer as evidence."""

from __future__ import annotations

import pytest

from plugread.pipeline import default_rules
from plugread.reading.from_numbers import distance_signs, gauge_findings
from plugread.records import PlugEntry, PlugType


@pytest.mark.parametrize(
    ("gap_mm", "worn", "narrow"),
    [(1.05, True, False), (1.20, True, False), (0.90, False, False), (0.95, None, False), (0.60, False, True)],
)
def test_gap_against_the_books_gap(gap_mm: float, worn: bool | None, narrow: bool) -> None:
    """0.25 mm over the book's 0.80 is worn, up to 0.10 over is not, between says nothing; 0.20 under is far too narrow."""
    found = gauge_findings([PlugEntry(3, gap_mm=gap_mm)], PlugType(gap_mm=0.8), default_rules())
    assert (found.get(("worn", 3)), found["gap_narrow", 3]) == (worn, narrow)


def test_no_book_gap_no_finding() -> None:
    """Without the engine's own figure a gauge reading says nothing."""
    assert gauge_findings([PlugEntry(1, gap_mm=1.4)], PlugType(), default_rules()) == {}


@pytest.mark.parametrize(
    ("electrode", "km", "new", "overdue"),
    [("nickel", 100, True, False), ("nickel", 60000, False, True), ("iridium", 60000, False, False), (None, 60000, False, None)],
)
def test_distance_says_new_or_overdue(electrode: str | None, km: float, new: bool, overdue: bool | None) -> None:
    """Under 250 km is nearly new; overdue goes by the electrode, and is not said where that is unknown."""
    signs = distance_signs(PlugType(electrode=electrode, distance_km=km), default_rules())
    assert (signs["plugs_under_250_km", None], signs.get(("plugs_overdue", None))) == (new, overdue)


def test_unknown_distance_says_nothing() -> None:
    """Not told is not the same as new."""
    assert distance_signs(PlugType(electrode="nickel"), default_rules()) == {}
