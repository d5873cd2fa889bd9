"""The JSON documents of `read` and `diagnose`: fixed names, plain numbers, nothing else."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from plugread.records import CauseRank, CheckAdvice, Diagnosis, Measured, PhotoRead, PlugRead, White

Document = dict[str, Any]


def photo_document(photo: PhotoRead) -> Document:
    """Return one photo's answer; a line-up has its plugs in `plugs`, in the order along the row."""
    head = {"file": photo.file, "status": photo.status, "why": photo.why}
    size = list(photo.size) if photo.size else None
    white = _white(photo.white)
    if not photo.lineup:
        plug = photo.plugs[0] if photo.plugs else None
        return {**head, **_plug(plug), "white": white, "size": size, "notes": list(photo.notes)}
    plugs = [
        {"position": k, "status": p.reading.status, "why": p.reading.why, **_plug(p), "white": white, "size": size}
        for k, p in enumerate(photo.plugs, 1)
    ]
    return {**head, **_plug(None), "white": white, "size": size, "notes": list(photo.notes), "lineup": True, "plugs": plugs}


def _plug(plug: PlugRead | None) -> Document:
    if plug is None:
        return {"readings": {}} | dict.fromkeys(("top", "nose_lab", "gloss", "specks", "gap_mm", "gap_why", "nose_box"))
    measures = plug.measures
    return {
        "readings": {name: _rounded(p, 4) for name, p in _best_first(plug.reading.probability)},
        "top": plug.reading.top,
        "nose_lab": [_rounded(v, 2) for v in measures.lab] if measures.lab else None,
        "nose_lab_spread": _lab_spread(plug),
        "gloss": _rounded(measures.gloss.value, 3) if measures.gloss else None,
        "crust": _rounded(measures.crust.value, 3) if measures.crust else None,
        "specks": sum(measures.specks.values()) if measures.specks is not None else None,
        "specks_by_kind": dict(measures.specks) if measures.specks is not None else None,
        "gap_mm": _measured(measures.gap_mm),
        "gap_why": None if measures.gap_mm else measures.why.get("gap", measures.why.get("all")),
        "nose_box": list(plug.end.nose_box) if plug.end else None,
        "view": plug.end.view if plug.end else None,
        "read_by": plug.reading.by,
        "could_not_measure": dict(measures.why),
        "advice": list(plug.quality.advice),
    }


def _lab_spread(plug: PlugRead) -> list[float] | None:
    parts = (plug.measures.lightness, plug.measures.a, plug.measures.b)
    return [_rounded(p.spread, 2) for p in parts if p] if all(parts) else None


def _measured(number: Measured | None) -> Document | None:
    return {"value": _rounded(number.value, 3), "spread": _rounded(number.spread, 3)} if number else None


def _white(white: White | None) -> Document | None:
    if white is None:
        return None
    box = list(white.reference_box) if white.reference_box else None
    return {"method": white.method, "detail": white.detail, "level_known": white.level_known, "box": box, "why": white.why}


def diagnosis_document(diagnosis: Diagnosis) -> Document:
    """Return the whole answer for a case; causes best first."""
    return {
        "plugs": [_cylinder(diagnosis, number) for number in sorted({*diagnosis.readings, *diagnosis.photo_problems})],
        "pattern": diagnosis.comparison.pattern,
        "rules_out": diagnosis.comparison.rules_out,
        "causes": [_cause(cause) for cause in diagnosis.causes],
        "none_listed": _rounded(diagnosis.none_listed, 6),
        "verdict": {
            "action": diagnosis.verdict.action,
            "why": diagnosis.verdict.why,
            "close_call": diagnosis.verdict.close_call,
            "expected_loss": {name: _rounded(v, 3) for name, v in diagnosis.verdict.expected_loss.items()},
        },
        "next_checks": [_check(check) for check in diagnosis.next_checks],
        "cautions": list(diagnosis.cautions),
        "notes": list(diagnosis.notes),
        "service": {},
    }


def _cylinder(diagnosis: Diagnosis, number: int) -> Document:
    comparison = diagnosis.comparison
    plug = diagnosis.photos.get(number)
    return {
        "cylinder": number,
        "readings": {name: _rounded(p, 4) for name, p in _best_first(diagnosis.readings.get(number, {}))},
        "delta_e_to_median": _maybe(comparison.delta_e.get(number), 2),
        "odd": number in comparison.odd,
        "gap_difference_mm": _maybe(comparison.gap_difference_mm.get(number), 3),
        "nose_lab": [_rounded(v, 2) for v in plug.measures.lab] if plug and plug.measures.lab else None,
        "photo_problem": diagnosis.photo_problems.get(number),
    }


def _cause(cause: CauseRank) -> Document:
    return {
        "id": cause.id,
        "scope": cause.scope,
        "cylinders": list(cause.cylinders),
        "probability": _rounded(cause.probability, 6),
        "stays_first": _maybe(cause.stays_first, 3),
        "stays_first_interval": [_rounded(v, 3) for v in cause.stays_first_interval] if cause.stays_first_interval else None,
        "band": [_rounded(v, 4) for v in cause.band] if cause.band else None,
        "break_even_prior": _maybe(cause.break_even_prior, 6),
        "cannot_be_told_from": list(cause.group),
        "because": [{"finding": r.finding, "cylinder": r.cylinder, "weight": _rounded(r.weight, 3)} for r in cause.because],
    }


def _check(check: CheckAdvice) -> Document:
    return {
        "id": check.id,
        "cylinders": list(check.cylinders),
        "minutes": _rounded(check.minutes, 1),
        "value": _rounded(check.value, 3),
        "why": check.why,
        "outcomes": list(check.outcomes),
        "cautions": list(check.cautions),
    }


def _best_first(shares: Mapping[str, float]) -> list[tuple[str, float]]:
    return sorted(shares.items(), key=lambda item: (-item[1], item[0]))


def _maybe(value: float | None, digits: int) -> float | None:
    return None if value is None or not math.isfinite(value) else _rounded(value, digits)


def _rounded(value: float, digits: int) -> float:
    return round(float(value), digits)
