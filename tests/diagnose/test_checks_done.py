"""Checks already done: banding, units, what cannot be, and what a value cannot answer."""

from __future__ import annotations

import pytest

from plugread.diagnose.evidence import add_checks
from plugread.engine import Engine
from plugread.errors import CaseError
from plugread.records import CheckEntry, EngineSpec, Evidence
from plugread.rules.load import load_rules

RULES = load_rules()
FOUR = Engine(EngineSpec("inline", 4, (1, 3, 4, 2), "port_injection", "wasted_spark", True))


def done(*checks: CheckEntry, engine: Engine = FOUR) -> Evidence:
    return add_checks(Evidence({}), engine, checks, RULES)


def test_units_are_converted() -> None:
    """The same pressures in psi, kPa and bar give the same outcomes."""
    psi = {1: 150.0, 2: 148.0, 3: 90.0, 4: 149.0}
    given = [
        done(CheckEntry("compression_dry", unit=unit, values={c: v * f for c, v in psi.items()})).outcomes
        for unit, f in (("psi", 1.0), ("kPa", 6.894757), ("bar", 0.06894757))
    ]
    assert given[0] == given[1] == given[2]
    assert given[0]["compression_dry", 3] == "low"


def test_the_latest_entry_counts() -> None:
    """Doing a check again replaces its result: it is no fresh evidence."""
    one, other = CheckEntry("swap_plug", 3, "moved"), CheckEntry("swap_plug", 3, "stayed")
    assert done(one, other).outcomes == {("swap_plug", 3): "stayed"}
    assert done(one, one).outcomes == done(one).outcomes


@pytest.mark.parametrize(
    ("values", "where", "outcome"),
    [
        ({3: 8}, {}, "sound"),
        ({3: 35}, {3: "exhaust"}, "leaks_exhaust"),
        ({3: 35}, {3: "crankcase"}, "leaks_crankcase"),
        ({3: 12}, {3: "coolant"}, "leaks_coolant"),
        ({3: 12}, {3: "intake"}, "sound"),
    ],
)
def test_leak_down(values: dict[int, float], where: dict[int, str], outcome: str) -> None:
    """Above the limit the place names the outcome; bubbles in the coolant count at any percentage."""
    assert done(CheckEntry("leak_down", unit="percent", values=values, where=where)).outcomes["leak_down", 3] == outcome


def test_leak_without_a_place_asks_for_it() -> None:
    """Too much leakage with no place told answers nothing, and says what is missing."""
    given = done(CheckEntry("leak_down", unit="percent", values={3: 35}))
    assert given.outcomes == {}
    assert "name the place" in given.notes[0]


def test_wet_without_dry_asks_for_it() -> None:
    """A wet value alone answers nothing."""
    assert "measure it dry" in done(CheckEntry("compression_wet", unit="psi", values={3: 90})).notes[0]


def test_pressure_without_the_books_value_answers_nothing() -> None:
    """Fuel pressure means nothing without the book's value."""
    given = done(CheckEntry("fuel_pressure", unit="kPa", value=300.0))
    assert given.outcomes == {}
    assert "spec" in given.notes[0]


@pytest.mark.parametrize(
    ("value", "spec", "outcome"), [(300, 300, "right"), (250, 300, "low"), (340, 300, "high"), (345, (301, 347), "right")]
)
def test_pressure_against_the_book(value: float, spec: float | tuple[float, float], outcome: str) -> None:
    """A single book value allows the band's tolerance; a printed range is taken as it stands."""
    given = done(CheckEntry("fuel_pressure", unit="kPa", value=value, spec=spec))
    assert given.outcomes == {("fuel_pressure", None): outcome}


def test_leads_are_judged_by_the_metre() -> None:
    """12 kohm is fine on a lead of a metre and too much on one of 40 cm; an open lead is open."""
    entry = CheckEntry(
        "lead_resistance", unit="kohm", values={1: 12, 2: 12, 3: 900, 4: 5}, lengths_m={1: 1.0, 2: 0.4, 3: 0.6, 4: 0.5}
    )
    given = done(entry).outcomes
    assert [given["lead_resistance", n] for n in (1, 2, 3, 4)] == ["sound", "high", "open", "sound"]


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        (CheckEntry("compresion_dry", outcome="low"), "compresion_dry.* did you mean compression_dry"),
        (CheckEntry("swap_plug", 3, "maybe"), "swap_plug has no outcome 'maybe'; use one of moved, stayed"),
        (CheckEntry("swap_plug", None, "moved"), "swap_plug belongs to one cylinder"),
        (CheckEntry("swap_plug", 9, "moved"), "no cylinder 9"),
        (CheckEntry("float_level", outcome="high"), "float_level does not apply"),
        (CheckEntry("compression_dry", unit="psi", values={}), "compression_dry has no values"),
        (CheckEntry("compression_dry", unit="furlong", values={1: 1}), "unit 'furlong'; use kPa or bar or psi"),
        (CheckEntry("compression_dry", values={1: 150}), "no unit"),
        (CheckEntry("compression_dry", unit="psi", values={1: float("nan")}), "nan is not a measured value"),
        (CheckEntry("compression_dry", unit="psi", values={1: -5}), "-5 psi cannot be below nought"),
        (CheckEntry("compression_dry", unit="bar", values={1: 150}), "150 bar is more than any engine has; check the unit"),
        (CheckEntry("compression_dry", unit="psi", value=150.0), "give values by cylinder"),
        (CheckEntry("leak_down", unit="percent", values={1: 140}), "140 percent cannot be"),
        (CheckEntry("fuel_trims", unit="percent", value=5.0), "fuel_trims .*name its outcome"),
    ],
)
def test_nonsense_is_refused_in_one_line(entry: CheckEntry, words: str) -> None:
    """What cannot be is refused with what was found and what to do."""
    with pytest.raises(CaseError, match=words) as caught:
        done(entry)
    assert "\n" not in str(caught.value)
