"""Measured values of a check -> its outcomes, by the sourced limits of the band tables.

Units are converted, never guessed; a value that cannot be is refused; a value that decides nothing says what is missing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from statistics import fmean, median

from plugread.errors import CaseError
from plugread.records import CheckEntry
from plugread.rules.tables import Band

UNITS: Mapping[str, Mapping[str, float]] = {
    "pressure": {"kPa": 1.0, "bar": 100.0, "psi": 6.894757293168},  # exact by definition of inch and pound-force (NIST SP 811)
    "resistance": {"ohm": 1.0, "kohm": 1e3, "Mohm": 1e6},
    "percent": {"percent": 1.0},
    "angle": {"deg": 1.0},
    "oil": {"litre_per_1000_km": 1.0},
}
IMPOSSIBLE_ABOVE: Mapping[str, float] = {"percent": 100.0, "angle": 90.0, "oil": 50.0}
"""No such value exists in that unit (percent by definition; the others are our estimate of what no running engine reaches)."""
HIGHEST_COMPRESSION_KPA = 4000.0
"""No petrol engine cranks higher (our estimate, about twice the usual); a greater value is a wrong unit."""
SIGNED = ("angle",)

Values = Mapping[int | None, float]


@dataclass(frozen=True)
class Banded:
    """Outcomes by cylinder (None = engine), and what could not be answered."""

    outcomes: Mapping[int | None, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Measurement:
    """One measured check: values by cylinder (None = engine) in the unit of its band, with all that was told beside them."""

    band: Band
    values: Values
    entry: CheckEntry
    spec: float | tuple[float, float] | None = None
    dry: Values = field(default_factory=dict)


def convert(entry: CheckEntry, band: Band) -> Measurement:
    """Return the values of `entry` in the unit of `band`.

    Raises
    ------
    CaseError
        If the unit is missing or foreign, a value is not a number or impossible, or there is none.
    """
    factor, kind = _factor(entry, band)
    given: dict[int | None, float] = dict(entry.values.items())
    if entry.value is not None:
        given[entry.cylinder] = entry.value
    if not given:
        raise CaseError(f"check {entry.id} has no values", "give value or values, or name the outcome")
    values = {cylinder: _sensible(entry, value, cylinder, kind) * factor for cylinder, value in given.items()}
    if band.check.startswith("compression") and max(values.values()) > HIGHEST_COMPRESSION_KPA:
        raise CaseError(f"check {entry.id}: {max(given.values()):g} {entry.unit} is more than any engine has", "check the unit")
    return Measurement(band, values, entry, _spec(entry, factor))


def decide(measured: Measurement) -> Banded:
    """Return the outcome of every value."""
    return RULES[measured.band.rule](measured)


def _factor(entry: CheckEntry, band: Band) -> tuple[float, str]:
    kind = next(kind for kind, table in UNITS.items() if band.unit in table) if band.rule != "told" else "told"
    if kind == "told":
        raise CaseError(f"check {entry.id} is not banded from a value", "name its outcome")
    table = UNITS[kind]
    if entry.unit is None or entry.unit not in table:
        found = f"unit {entry.unit!r}" if entry.unit else "no unit"
        raise CaseError(f"check {entry.id} has {found}", f"use {' or '.join(table)}")
    return table[entry.unit] / table[band.unit], kind


def _sensible(entry: CheckEntry, value: float, cylinder: int | None, kind: str) -> float:
    where = f"check {entry.id}" + (f", cylinder {cylinder}" if cylinder is not None else "")
    if not math.isfinite(value):
        raise CaseError(f"{where}: {value} is not a measured value", "leave it out if it was not measured")
    if value < 0.0 and kind not in SIGNED:
        raise CaseError(f"{where}: {value:g} {entry.unit} cannot be below nought", "measure again")
    if abs(value) > IMPOSSIBLE_ABOVE.get(kind, math.inf):
        raise CaseError(
            f"{where}: {value:g} {entry.unit} cannot be", f"nothing above {IMPOSSIBLE_ABOVE[kind]:g} exists; check it"
        )
    return float(value)


def _spec(entry: CheckEntry, factor: float) -> float | tuple[float, float] | None:
    if entry.spec is None:
        return None
    if isinstance(entry.spec, tuple | list):
        low, high = sorted(float(limit) * factor for limit in entry.spec)
        return low, high
    return float(entry.spec) * factor


# ---- one rule each ---------------------------------------------------------------------------------------


def _share_of_highest(measured: Measurement) -> Banded:
    limits, highest = measured.band.limits, max(measured.values.values())

    def outcome(value: float) -> str:
        share = value / highest if highest > 0.0 else 0.0
        if share < limits["low_share"] or value < limits["floor_kpa"]:
            return "low"
        return "watch" if share < limits["watch_share"] else "normal"

    alone = len(measured.values) == 1
    note = f"{measured.entry.id}: one value only, so nothing could be compared with it" if alone else ""
    return Banded({cylinder: outcome(value) for cylinder, value in measured.values.items()}, (note,) if note else ())


def _rise_over_dry(measured: Measurement) -> Banded:
    limits = measured.band.limits
    outcomes: dict[int | None, str] = {}
    for cylinder, wet in measured.values.items():
        dry = measured.dry.get(cylinder)
        if dry is not None:
            rises = wet - dry >= limits["rise_kpa"] and wet >= limits["rise_share"] * dry
            outcomes[cylinder] = "rises" if rises else "stays"
    missing = sorted(str(cylinder) for cylinder in measured.values if cylinder not in outcomes)
    return Banded(outcomes, _note(measured, missing, "no dry value of cylinder", "measure it dry as well"))


def _leak_with_place(measured: Measurement) -> Banded:
    limits, where = measured.band.limits, measured.entry.where
    outcomes: dict[int | None, str] = {}
    for cylinder, value in measured.values.items():
        place = where.get(cylinder) if cylinder is not None else None
        if value > limits["acceptable_percent"] or place in ("coolant", "next_cylinder"):
            if place:
                outcomes[cylinder] = f"leaks_{place}"
        else:
            outcomes[cylinder] = "sound"
    missing = sorted(str(cylinder) for cylinder in measured.values if cylinder not in outcomes)
    return Banded(outcomes, _note(measured, missing, "too much is lost at cylinder", "listen where it hisses and name the place"))


def _lead_per_metre(measured: Measurement) -> Banded:
    limits, lengths = measured.band.limits, measured.entry.lengths_m
    known = all(lengths.get(cylinder or 0, 0.0) > 0.0 for cylinder in measured.values)
    by_length = {c: value / lengths[c or 0] if known else value for c, value in measured.values.items()}

    def outcome(cylinder: int | None, value: float) -> str:
        if value > limits["open_kohm"]:
            return "open"
        others = [v for c, v in by_length.items() if c != cylinder and measured.values[c] <= limits["open_kohm"]]
        apart = bool(others) and by_length[cylinder] > limits["outlier_ratio"] * fmean(others)
        too_much = value > limits["scrap_kohm"] or (known and by_length[cylinder] > limits["high_kohm_per_m"])
        return "high" if apart or too_much else "sound"

    note = () if known else (f"{measured.entry.id}: lengths_m not given, so the leads were only compared with each other",)
    return Banded({cylinder: outcome(cylinder, value) for cylinder, value in measured.values.items()}, note)


def _outlier_of_set(measured: Measurement) -> Banded:
    limits, middle = measured.band.limits, median(measured.values.values())
    enough = len(measured.values) >= 3

    def outcome(value: float) -> str:
        if value > limits["open_ohm"]:
            return "open"
        ratio = value / middle if middle > 0.0 else 1.0
        apart = ratio > limits["outlier_ratio"] or ratio < 1.0 / limits["outlier_ratio"]
        return "out" if enough and apart else "sound"

    outcomes = {c: outcome(v) for c, v in measured.values.items() if enough or v > limits["open_ohm"]}
    note = () if enough else (f"{measured.entry.id}: fewer than three values, so only an open winding can be told",)
    return Banded(outcomes, note)


def _below(measured: Measurement) -> Banded:
    (limit,) = measured.band.limits.values()
    return Banded({cylinder: "low" if value < limit else "sound" for cylinder, value in measured.values.items()})


def _outlier_or_above(measured: Measurement) -> Banded:
    limits, middle = measured.band.limits, median(measured.values.values())

    def outcome(value: float) -> str:
        if value > limits["open_kohm"]:
            return "open"
        apart = len(measured.values) >= 3 and value > limits["outlier_ratio"] * middle
        return "high" if apart or value > limits["high_kohm"] else "sound"

    return Banded({cylinder: outcome(value) for cylinder, value in measured.values.items()})


def _against_spec(measured: Measurement) -> Banded:
    if measured.spec is None:
        return Banded({}, (f"{measured.entry.id}: the book's value (spec) is missing, so it answers nothing",))
    low, high = _range(measured.spec, measured.band.limits)
    above, below = ("advanced", "retarded") if "tolerance_deg" in measured.band.limits else ("high", "low")
    return Banded({c: above if v > high else below if v < low else "right" for c, v in measured.values.items()})


def _range(spec: float | tuple[float, float], limits: Mapping[str, float]) -> tuple[float, float]:
    if isinstance(spec, tuple):
        return spec
    play = limits.get("tolerance_deg", abs(spec) * limits.get("tolerance_share", 0.0))
    return spec - play, spec + play


def _drop_from_average(measured: Measurement) -> Banded:
    if len(measured.values) < 2:
        return Banded({}, (f"{measured.entry.id}: one value only, there is no average to compare it with",))
    average = fmean(measured.values.values())
    even = max(measured.band.limits["even_kpa"], measured.band.limits["outlier_share"] * average)
    sides = {c: value - average for c, value in measured.values.items()}
    return Banded({c: "rich" if side > even else "lean" if side < -even else "even" for c, side in sides.items()})


def _above(measured: Measurement) -> Banded:
    limits = measured.band.limits
    return Banded(
        {c: "high" if v >= limits["high"] else "watch" if v >= limits["watch"] else "normal" for c, v in measured.values.items()}
    )


def _note(measured: Measurement, cylinders: list[str], what: str, advice: str) -> tuple[str, ...]:
    return (f"{measured.entry.id}: {what} {', '.join(cylinders)}; {advice}",) if cylinders else ()


RULES: Mapping[str, Callable[[Measurement], Banded]] = {
    "share_of_highest": _share_of_highest,
    "rise_over_dry": _rise_over_dry,
    "leak_with_place": _leak_with_place,
    "lead_per_metre": _lead_per_metre,
    "outlier_of_set": _outlier_of_set,
    "below": _below,
    "outlier_or_above": _outlier_or_above,
    "against_spec": _against_spec,
    "drop_from_average": _drop_from_average,
    "above": _above,
}
