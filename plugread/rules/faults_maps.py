"""Faults of the tables that map words to values: scales, losses, cautions, looks, and which look hides which."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from numbers import Real
from typing import Any

from plugread.rules.raw import RawRules
from plugread.rules.shapes import CHANCES, LOSSES, SCALES

LEAST_NAMED = 0.9
"""A look row must name at least this much; only the rest is spread evenly."""


def map_faults(raw: RawRules) -> Iterator[str]:
    """Yield every fault of the mapping tables."""
    yield from _scale_faults(raw)
    yield from _loss_faults(raw)
    yield from _caution_faults(raw)
    yield from _band_faults(raw)
    yield from _look_faults(raw)


def _scale_faults(raw: RawRules) -> Iterator[str]:
    scales = raw.maps["scales"]
    for name in SCALES:
        if not scales.get(name):
            yield f"scales: {name} is missing"
    for name, words in scales.items():
        where = f"{_file(raw, f'scales.{name}')}: scales {name}"
        if name not in SCALES:
            yield f"{where}: not a scale; known: {', '.join(SCALES)}"
        elif not isinstance(words, dict):
            yield f"{where}: is not a table of words"
        else:
            yield from (f"{where}: {word}: {fault}" for word, value in words.items() if (fault := _value_fault(name, value)))


def _value_fault(scale: str, value: Any) -> str:
    if not _is_number(value):
        return f"{value!r} is not a number"
    if scale in CHANCES and not 0 < value < 1:
        return f"{value} is not strictly between 0 and 1"
    if scale == "look" and not 0 < value <= 1:
        return f"{value} is not above 0 and at most 1"
    return f"{value} is below 0" if value < 0 else ""


def _loss_faults(raw: RawRules) -> Iterator[str]:
    losses = raw.maps["losses"]
    for name in LOSSES:
        if name not in losses:
            yield f"losses: {name} is missing"
    for name, value in losses.items():
        if name not in LOSSES:
            yield f"{_file(raw, 'losses')}: losses: no field '{name}'; known: {', '.join(LOSSES)}"
        elif not _is_number(value) or value < 0:
            yield f"{_file(raw, 'losses')}: losses: {name}: {value!r} is not a number from 0 up"


def _caution_faults(raw: RawRules) -> Iterator[str]:
    for name, text in raw.maps["caution"].items():
        if not isinstance(text, str) or not text.strip():
            yield f"{_file(raw, f'caution.{name}')}: caution {name}: is not a sentence"


def _band_faults(raw: RawRules) -> Iterator[str]:
    bands = {row.label: row for row in raw.rows["band"]}
    for row in bands.values():
        limits = row.fields.get("limits")
        for name, limit in limits.items() if isinstance(limits, dict) else ():
            if not _is_number(limit):
                yield f"{row.file}: band {row.label}: limits.{name}: {limit!r} is not a number"
    for check in raw.rows["check"]:
        band = bands.get(str(check.fields.get("bands", "")))
        if band and band.fields.get("check") != check.label:
            yield f"{check.file}: check {check.label}: bands: {band.label} belongs to check {band.fields.get('check')}"


def _look_faults(raw: RawRules) -> Iterator[str]:
    photographable = [row.label for row in raw.rows["finding"] if row.fields.get("photo")]
    dominance = list(raw.maps["order"].get("dominance", ()))
    looks = raw.maps["looks"]
    yield from _difference("order dominance", dominance, [name for name in photographable if name != "normal"])
    yield from _difference("looks", list(looks), photographable)
    for state, row in looks.items():
        yield from _look_row_faults(f"{_file(raw, f'looks.{state}')}: looks {state}", row, photographable)


def _look_row_faults(where: str, row: Mapping[str, Any], known: list[str]) -> Iterator[str]:
    for look, share in row.items():
        if look not in known:
            yield f"{where}: '{look}' is not a reading a photo can show"
        if not _is_number(share) or not 0 <= share < 1:
            yield f"{where}: {look}: {share!r} is not a chance"
            return
    named = sum(row.values())
    if not LEAST_NAMED <= named < 1:
        yield f"{where}: names {named:.2f} in all; it must lie between {LEAST_NAMED} and 1, the rest is spread evenly"


def _difference(where: str, found: list[str], wanted: list[str]) -> Iterator[str]:
    for name in wanted:
        if name not in found:
            yield f"{where}: '{name}' is missing"
    for name in found:
        if name not in wanted:
            yield f"{where}: '{name}' is not a reading a photo can show"
    for name in {name for name in found if found.count(name) > 1}:
        yield f"{where}: '{name}' stands more than once"


def _is_number(value: Any) -> bool:
    return isinstance(value, Real) and not isinstance(value, bool)


def _file(raw: RawRules, name: str) -> str:
    return raw.map_files.get(name, "?")
