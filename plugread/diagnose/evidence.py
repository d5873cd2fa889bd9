"""Checks already done, as evidence. The latest entry of a check at a place counts: doing it twice is no fresh evidence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from difflib import get_close_matches

from plugread.diagnose.banding import Banded, convert, decide
from plugread.engine import Engine
from plugread.errors import CaseError
from plugread.records import CheckEntry, Evidence
from plugread.rules.tables import Band, Check, Rules

NEEDS_DRY = "rise_over_dry"
DRY_CHECK = "compression_dry"


def add_checks(evidence: Evidence, engine: Engine, checks: Iterable[CheckEntry], rules: Rules) -> Evidence:
    """Return `evidence` with the outcomes of `checks`; measured values go through the band tables.

    Raises
    ------
    CaseError
        For an unknown check or outcome, one the engine cannot have, a cylinder it has not, or an impossible value.
    """
    outcomes = dict(evidence.outcomes)
    notes = list(evidence.notes)
    dry: dict[int | None, float] = {}
    for entry in checks:
        check = _known(entry, engine, rules)
        if entry.outcome is not None:
            outcomes[entry.id, _place(entry, check)] = _outcome(entry, check)
            continue
        banded = _measured(entry, check, rules, dry)
        outcomes |= {(entry.id, cylinder): outcome for cylinder, outcome in banded.outcomes.items()}
        notes += [note for note in banded.notes if note not in notes]
    return replace(evidence, outcomes=outcomes, notes=tuple(notes))


def _known(entry: CheckEntry, engine: Engine, rules: Rules) -> Check:
    check = rules.checks.get(entry.id)
    if check is None:
        near = get_close_matches(entry.id, rules.checks, n=1)
        raise CaseError(f"check {entry.id!r} is not known", f"did you mean {near[0]}?" if near else "")
    if not engine.has(check.needs):
        raise CaseError(f"check {entry.id} does not apply: this engine ({engine.describe()}) has nothing to do it on")
    named = {*entry.values, *entry.lengths_m, *entry.where} | ({entry.cylinder} if entry.cylinder is not None else set())
    for cylinder in sorted(named - set(engine.cylinders)):
        raise CaseError(f"check {entry.id}: this engine has no cylinder {cylinder}", f"it has 1 to {len(engine.cylinders)}")
    return check


def _place(entry: CheckEntry, check: Check) -> int | None:
    if check.per == "engine":
        return None
    if entry.cylinder is None:
        raise CaseError(f"check {entry.id} belongs to one cylinder", "name the cylinder")
    return entry.cylinder


def _outcome(entry: CheckEntry, check: Check) -> str:
    known = [outcome.id for outcome in check.outcomes]
    if entry.outcome not in known:
        raise CaseError(f"check {entry.id} has no outcome {entry.outcome!r}", f"use one of {', '.join(known)}")
    return entry.outcome


def _measured(entry: CheckEntry, check: Check, rules: Rules, dry: dict[int | None, float]) -> Banded:
    """Band the values of one entry; `dry` remembers dry compression values in kPa for the wet ones."""
    band: Band | None = rules.bands.get(check.bands)
    if band is None:
        raise CaseError(f"check {entry.id} has no outcome", f"name one of {', '.join(one.id for one in check.outcomes)}")
    measured = convert(entry, band)
    values: Mapping[int | None, float] = measured.values
    if check.per == "engine" and set(values) != {None}:
        raise CaseError(f"check {entry.id} has one value for the whole engine", "give value instead of values")
    if check.per != "engine" and None in values:
        raise CaseError(f"check {entry.id} has a value for each cylinder", "give values by cylinder")
    if entry.id == DRY_CHECK:
        dry.update(values)
    return decide(replace(measured, dry=dict(dry)) if band.rule == NEEDS_DRY else measured)
