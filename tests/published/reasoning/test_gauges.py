"""Measured values of manuals through the package's own bands."""

from __future__ import annotations

import pytest

from plugread.diagnose.evidence import add_checks
from plugread.engine import Engine
from plugread.records import CheckEntry, EngineSpec, Evidence
from plugread.rules.load import load_rules

RULES = load_rules()
FOUR = Engine(EngineSpec("inline", 4, (1, 3, 4, 2), "port_injection", "wasted_spark", True))


def outcomes(*checks: CheckEntry) -> dict[tuple[str, int | None], str]:
    return dict(add_checks(Evidence({}), FOUR, checks, RULES).outcomes)


def test_injector_balance() -> None:
    """Drops of 99, 69, 39, 62 kPa: number 1 gives too much, 3 too little, 2 and 4 are good.

    General Motors workshop manuals 1999-2010, fuel injector balance test, printed example (average 67).
    """
    given = outcomes(CheckEntry("injector_balance", unit="kPa", values={1: 99, 2: 69, 3: 39, 4: 62}))
    assert [given["injector_balance", n] for n in (1, 2, 3, 4)] == ["rich", "even", "lean", "even"]


def test_compression_of_two_neighbours() -> None:
    """120, 118, 62, 60 psi: 3 and 4 are low; the same with oil: both stay.

    US Army TM 10-3930-647-14&P: two adjacent cylinders low and even is the gasket; less than 10 psi of rise is not the rings.
    """
    given = outcomes(
        CheckEntry("compression_dry", unit="psi", values={1: 120, 2: 118, 3: 62, 4: 60}),
        CheckEntry("compression_wet", unit="psi", values={3: 63, 4: 61}),
    )
    assert [given["compression_dry", n] for n in (1, 2, 3, 4)] == ["normal", "normal", "low", "low"]
    assert [given["compression_wet", n] for n in (3, 4)] == ["stays", "stays"]


@pytest.mark.parametrize(("wet", "outcome"), [(130, "rises"), (92, "stays")])
def test_compression_with_oil(wet: float, outcome: str) -> None:
    """90 psi that rises to 130 with oil is the rings, to 92 the valve (US Army TM 10-3930-647-14&P: 10 psi or more)."""
    dry = CheckEntry("compression_dry", unit="psi", values={1: 150, 2: 148, 3: 90, 4: 149})
    assert outcomes(dry, CheckEntry("compression_wet", unit="psi", values={3: wet}))["compression_wet", 3] == outcome


@pytest.mark.parametrize(("lowest", "outcome"), [(112, "low"), (113, "watch")])
def test_lowest_is_three_quarters_of_the_highest(lowest: float, outcome: str) -> None:
    """The lowest must reach 75 percent of the highest: of 150 psi that is 112.5 (workshop manuals of one maker, 1994-2012)."""
    given = outcomes(CheckEntry("compression_dry", unit="psi", values={1: 150, 2: lowest, 3: 148, 4: 150}))
    assert given["compression_dry", 2] == outcome


def test_plug_insulation() -> None:
    """Ten megohm start and run an engine, less does not (two plug makers' guides)."""
    given = outcomes(CheckEntry("plug_insulation", unit="Mohm", values={1: 10, 2: 9.9}))
    assert [given["plug_insulation", n] for n in (1, 2)] == ["sound", "low"]
