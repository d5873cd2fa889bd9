"""Limits of measured checks against the figures as their sources print them, in the unit they print."""

from __future__ import annotations

import pytest

from plugread.rules.load import load_rules
from plugread.rules.tables import Rules

KPA_PER_PSI = 6.894757  # NIST SP 811, appendix B.8
KPA_PER_INHG = 3.386389  # NIST SP 811, appendix B.8 (32 degF)
LITRE_PER_QUART = 0.9463529  # NIST SP 811, appendix B.8 (US liquid quart)
KM_PER_MILE = 1.609344  # NIST SP 811, appendix B.8


@pytest.fixture(scope="module")
def rules() -> Rules:
    return load_rules()


PRINTED = [
    # band, limit, value in our unit, what one unit of the last printed digit is worth
    ("compression_dry", "low_share", 0.75, 0.01),  # Ford 1992-1997: lowest within 75 percent of highest
    ("compression_dry", "floor_kpa", 100 * KPA_PER_PSI, KPA_PER_PSI),  # General Motors 2006: none under 100 psi
    ("compression_dry", "watch_share", 0.90, 0.01),  # V-twin and small-car manuals: all within 10 percent
    ("compression_wet", "rise_kpa", 10 * KPA_PER_PSI, KPA_PER_PSI),  # US Army TM 10-3930-647-14&P: rise of 10 lb or more
    ("leak_down", "good_percent", 10, 1),  # General Motors 2001: normal 10 percent
    ("leak_down", "acceptable_percent", 20, 1),  # General Motors 2001: at most 20 percent
    ("leak_down", "fault_percent", 30, 1),  # trade text: over 30 percent trouble
    ("injector_balance", "even_kpa", 10, 1),  # General Motors 1999-2010: within 10 kPa (1.5 psi) of the average
    ("base_timing", "tolerance_deg", 2, 1),  # car makers 1992-96: 15 +-2 degrees
    ("plug_insulation", "low_mohm", 10, 1),  # Japanese car maker and plug maker: 10 Mohm or more
    ("pressure_hold", "fall_in_1_min", 5 * KPA_PER_PSI, KPA_PER_PSI),  # General Motors: 5 psi in one minute
    ("coolant_pressure", "test", 15 * KPA_PER_PSI, KPA_PER_PSI),  # car makers 1997, 2000: 15 psi
    ("coolant_pressure", "fall_in_2_min", 2 * KPA_PER_PSI, KPA_PER_PSI),  # the same: 2 psi in two minutes
    ("coolant_pressure", "never_over", 20 * KPA_PER_PSI, KPA_PER_PSI),  # the same: never over 20 psi
    ("vacuum_gauge", "normal_from", 15 * KPA_PER_INHG, KPA_PER_INHG),  # Ford vacuum chart: 15 inHg
    ("vacuum_gauge", "normal_to", 22 * KPA_PER_INHG, KPA_PER_INHG),  # the same: 22 inHg
    ("oil_use", "watch", LITRE_PER_QUART / (2 * KM_PER_MILE), 0.1),  # General Motors: 1 quart in 2,000 miles
    ("oil_use", "high", LITRE_PER_QUART / (1 * KM_PER_MILE), 0.1),  # trade text: 1 quart in 1,000 miles
]


@pytest.mark.parametrize(("band", "limit", "printed", "digit"), PRINTED, ids=[f"{row[0]}-{row[1]}" for row in PRINTED])
def test_limit_is_the_printed_one(rules: Rules, band: str, limit: str, printed: float, digit: float) -> None:
    """The limit is the printed figure, converted, to half its last digit."""
    assert rules.bands[band].limits[limit] == pytest.approx(printed, abs=digit / 2)


def test_told_bands_belong_to_worded_checks(rules: Rules) -> None:
    """A band that only shows its limits belongs to a check that names it."""
    for band in rules.bands.values():
        assert not band.check or rules.checks[band.check].bands == band.id
