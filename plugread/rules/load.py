"""The rule base as records: reads a folder of TOML tables, refuses it with all its faults at once, builds `Rules`."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from plugread.errors import RuleBaseError
from plugread.rules.raw import RawRules, Row, read_folder
from plugread.rules.tables import (
    Backing,
    Band,
    Cause,
    Check,
    Context,
    Finding,
    Link,
    Losses,
    Outcome,
    Pattern,
    Rules,
    Scales,
    Source,
)
from plugread.rules.validate import faults_of


def own_folder() -> Path:
    """Return the folder of the rule base that comes with the package."""
    return Path(__file__).parent


def load_rules(folder: Path | None = None) -> Rules:
    """Return the rule base of `folder` (default: the one that comes with the package).

    Raises
    ------
    RuleBaseError
        If anything in the folder is wrong; the message lists every fault, one a line.
    """
    raw = read_folder(folder or own_folder())
    faults = faults_of(raw)
    if faults:
        raise RuleBaseError("the rule base has faults:\n" + "\n".join(faults), "mend the rows named above")
    return _build(raw)


def _build(raw: RawRules) -> Rules:
    looks = list(raw.maps["looks"])
    return Rules(
        sources={row.label: _source(row) for row in raw.rows["source"]},
        scales=Scales(**raw.maps["scales"]),
        losses=Losses(**raw.maps["losses"]),
        findings={row.label: _finding(row) for row in raw.rows["finding"]},
        causes={row.label: _cause(row) for row in raw.rows["cause"]},
        links=tuple(_link(row.fields) for row in raw.rows["link"]),
        contexts=tuple(_context(row) for row in raw.rows["context"]),
        checks={row.label: _check(row) for row in raw.rows["check"]},
        patterns={row.label: _pattern(row) for row in raw.rows["pattern"]},
        bands={row.label: _band(row) for row in raw.rows["band"]},
        cautions=dict(raw.maps["caution"]),
        looks={state: _look_row(shares, looks) for state, shares in raw.maps["looks"].items()},
        dominance=tuple(raw.maps["order"]["dominance"]),
    )


def _look_row(shares: Mapping[str, float], looks: list[str]) -> dict[str, float]:
    """Return chances of every look that sum to 1: what the named ones leave over is spread evenly over the others."""
    others = [look for look in looks if look not in shares]
    rest = 1.0 - sum(shares.values())
    return {look: shares.get(look, rest / len(others) if others else 0.0) for look in looks}


def _backing(fields: Mapping[str, Any]) -> Backing:
    return Backing(fields["grade"], tuple(fields.get("sources", ())))


def _needs(fields: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    return {field: tuple(allowed) for field, allowed in fields.get("needs", {}).items()}


def _source(row: Row) -> Source:
    return Source(key=row.label, **{name: value for name, value in row.fields.items() if name != "id"})


def _finding(row: Row) -> Finding:
    fields = row.fields
    return Finding(
        id=row.label,
        name=fields["name"],
        level=fields["level"],
        kind=fields["kind"],
        seen=fields["seen"],
        confused_with=fields.get("confused_with", ""),
        severity=fields["severity"],
        leak=fields["leak"],
        danger=fields.get("danger", False),
        photo=fields.get("photo", False),
        backing=_backing(fields),
        stop=fields.get("stop", ""),
        note=fields.get("note", ""),
        implies=tuple(fields.get("implies", ())),
        excludes=tuple(fields.get("excludes", ())),
    )


def _cause(row: Row) -> Cause:
    fields = row.fields
    return Cause(
        id=row.label,
        name=fields["name"],
        scope=fields["scope"],
        prior=fields["prior"],
        severity=fields["severity"],
        put_right=fields["put_right"],
        remedy=fields["remedy"],
        hint=fields["hint"],
        backing=_backing(fields),
        needs=_needs(fields),
        note=fields.get("note", ""),
    )


def _link(fields: Mapping[str, Any]) -> Link:
    """Return a link; in an answer of a check the outcome takes the place of the finding."""
    return Link(fields["cause"], fields.get("finding") or fields["outcome"], fields["strength"], _backing(fields))


def _context(row: Row) -> Context:
    fields = row.fields
    return Context(
        fields["sign"],
        fields["finding"],
        fields.get("leak", ""),
        fields.get("shows", ""),
        _backing(fields),
        fields.get("note", ""),
    )


def _check(row: Row) -> Check:
    fields = row.fields
    answers = [_link(answer) for answer in fields["answers"]]
    return Check(
        id=row.label,
        name=fields["name"],
        per=fields["per"],
        minutes=float(fields["minutes"]),
        setup_minutes=float(fields.get("setup_minutes", 0.0)),
        tools=fields["tools"],
        how=fields["how"],
        separates=fields["separates"],
        cautions=tuple(fields["cautions"]),
        outcomes=tuple(_outcome(outcome, answers) for outcome in fields["outcomes"]),
        backing=_backing(fields),
        needs=_needs(fields),
        bands=fields.get("bands", ""),
        after=fields.get("after", ""),
        note=fields.get("note", ""),
        engine=fields["engine"],
    )


def _outcome(fields: Mapping[str, Any], answers: list[Link]) -> Outcome:
    return Outcome(
        id=fields["id"],
        name=fields["name"],
        fallthrough=fields.get("fallthrough", False),
        false_alarm=fields.get("false_alarm", ""),
        answers=tuple(answer for answer in answers if answer.finding == fields["id"]),
        danger=fields.get("danger", False),
        advice=fields.get("advice", ""),
    )


def _pattern(row: Row) -> Pattern:
    fields = row.fields
    return Pattern(
        row.label,
        fields["name"],
        fields["points_to"],
        fields["rules_out"],
        tuple(fields["first_checks"]),
        _backing(fields),
    )


def _band(row: Row) -> Band:
    fields = row.fields
    return Band(
        row.label,
        fields.get("check", ""),
        fields["unit"],
        fields["rule"],
        {name: float(limit) for name, limit in fields["limits"].items()},
        _backing(fields),
        fields.get("note", ""),
    )
