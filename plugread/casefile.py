"""Reads a case file (TOML, or JSON of the same shape) into a `Case`, refusing what contradicts itself in one line."""

from __future__ import annotations

import difflib
import json
import tomllib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from plugread.engine import Engine
from plugread.errors import CaseError
from plugread.records import Case, CheckEntry, EngineSpec, Lineup, PlugEntry, PlugType
from plugread.rules.tables import Rules

Table = Mapping[str, Any]

CASE_FIELDS = ("engine", "lineup", "signs", "plug", "check", "title")
ENGINE_FIELDS = (
    "layout", "cylinders", "firing_order", "induction", "closed_loop", "ignition", "head",
    "banks", "neighbours", "feeds", "coils", "plug",
)  # fmt: skip
PLUG_TYPE_FIELDS = ("thread", "seat", "electrode", "gap_mm", "distance_km")
PLUG_FIELDS = ("cylinder", "photo", "seen", "not_seen", "gap_mm", "tick_after_photo")
CHECK_FIELDS = ("id", "cylinder", "outcome", "unit", "values", "value", "spec", "lengths_m", "where")
CHOICES = {
    "layout": ("inline", "vee", "flat"),
    "induction": ("carburettor", "single_point", "port_injection", "direct_injection"),
    "ignition": ("contact_breaker", "distributor", "wasted_spark", "coil_on_plug", "magneto"),
    "head": ("aluminium", "iron"),
    "seat": ("gasket", "taper"),
    "electrode": ("nickel", "platinum", "iridium"),
}


def load_case(path: str | Path, rules: Rules | None = None) -> Case:
    """Return the case described by a file.

    Parameters
    ----------
    path : a `.toml` or `.json` file in UTF-8; photos named in it are looked for beside it.
    rules : the rule base whose ids the case may use; None = the package's own.

    Raises
    ------
    CaseError
        The file cannot be opened or parsed, or its content contradicts itself; one line that names file, field and value.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as problem:
        raise CaseError(
            f"{path}: cannot be opened as a text file ({_first_line(problem)})", "give a TOML or JSON case file"
        ) from problem
    try:
        return parse_case(text, base_dir=path.parent, rules=rules)
    except CaseError as problem:
        raise CaseError(f"{path}: {problem.what}", problem.advice) from problem


def parse_case(data: str | Table, base_dir: str | Path = ".", rules: Rules | None = None) -> Case:
    """Return the case given as text or as an already parsed table; see `load_case`."""
    table = _parsed(data) if isinstance(data, str) else data
    _known_fields(table, CASE_FIELDS, "case", lenient=True)
    rules = rules if rules is not None else _own_rules()
    spec = _engine(_sub_table(table, "engine", required=True))
    engine = Engine(spec)
    signs = _sub_table(table, "signs")
    _known_fields(signs, ("seen", "not_seen"), "signs")
    known_signs = [f.id for f in rules.findings.values() if f.level == "engine"]
    seen, not_seen = (_ids(signs, key, known_signs, "signs", "sign") for key in ("seen", "not_seen"))
    _no_overlap(seen, not_seen, "signs")
    return Case(
        engine=spec,
        plugs=_plugs(table.get("plug", []), engine, rules),
        signs_seen=seen,
        signs_not_seen=not_seen,
        checks=_checks(table.get("check", []), engine, rules),
        lineup=_lineup(_sub_table(table, "lineup"), engine),
        base_dir=str(base_dir),
        title=str(table.get("title", "")),
    )


def _own_rules() -> Rules:
    from plugread.rules.load import load_rules

    return load_rules()


def _parsed(text: str) -> Table:
    try:
        data = json.loads(text) if text.lstrip().startswith("{") else tomllib.loads(text)
    except ValueError as problem:
        raise CaseError(f"not a case file: {_first_line(problem)}", "check the line named") from problem
    if not isinstance(data, dict):
        raise CaseError("not a case file: the outermost thing is not a table", "start with [engine]")
    return data


def _first_line(problem: BaseException) -> str:
    return (str(problem).splitlines() or [type(problem).__name__])[0]


# ---- engine ----------------------------------------------------------------------------------------------


def _engine(table: Table) -> EngineSpec:
    where = "engine"
    _known_fields(table, ENGINE_FIELDS, where)
    plug = _sub_table(table, "plug")
    return EngineSpec(
        layout=_choice(table, "layout", where, required=True),
        cylinders=_whole(table, "cylinders", where),
        firing_order=_numbers(_required(table, "firing_order", where), "engine.firing_order"),
        induction=_choice(table, "induction", where, required=True),
        ignition=_choice(table, "ignition", where, required=True),
        closed_loop=_closed_loop(table, where),
        head=_choice(table, "head", where) or None,
        banks=_groups(table, "banks"),
        neighbours=_pairs(table, "neighbours"),
        feeds=_groups(table, "feeds"),
        coils=_groups(table, "coils"),
        plug=_plug_type(plug),
    )


def _closed_loop(table: Table, where: str) -> bool:
    """Only a carburettor engine may leave it out: without injection there is nothing to close the loop."""
    if "closed_loop" not in table and table.get("induction") == "carburettor":
        return False
    return _yes_no(table, "closed_loop", where)


def _plug_type(table: Table) -> PlugType:
    where = "engine.plug"
    _known_fields(table, PLUG_TYPE_FIELDS, where)
    return PlugType(
        thread=str(table["thread"]) if "thread" in table else None,
        seat=_choice(table, "seat", where) or None,
        electrode=_choice(table, "electrode", where) or None,
        gap_mm=_positive(table, "gap_mm", where),
        distance_km=_positive(table, "distance_km", where, zero=True),
    )


def _groups(table: Table, key: str) -> tuple[tuple[int, ...], ...] | None:
    if key not in table:
        return None
    groups = table[key]
    if not isinstance(groups, list) or not all(isinstance(group, list) for group in groups):
        raise CaseError(f"engine.{key} is {groups!r}, not a list of lists of cylinders", "write it like [[1, 2], [3, 4]]")
    return tuple(_numbers(group, f"engine.{key}") for group in groups)


def _pairs(table: Table, key: str) -> tuple[tuple[int, int], ...] | None:
    groups = _groups(table, key)
    if groups is None:
        return None
    if any(len(group) != 2 for group in groups):
        raise CaseError(f"engine.{key} has a group that is not a pair", "write pairs like [[1, 2], [2, 3]]")
    return tuple((group[0], group[1]) for group in groups)


# ---- plugs, line-up, checks ------------------------------------------------------------------------------


def _plugs(rows: Any, engine: Engine, rules: Rules) -> tuple[PlugEntry, ...]:
    known = [f.id for f in rules.findings.values() if f.level == "cylinder"] + ["normal"]
    entries = [_plug(row, engine, known) for row in _tables(rows, "plug")]
    for number in {e.cylinder for e in entries}:
        if sum(e.cylinder == number for e in entries) > 1:
            raise CaseError(f"cylinder {number} has two [[plug]] entries", "keep one entry for each cylinder")
    return tuple(entries)


def _plug(row: Table, engine: Engine, known: list[str]) -> PlugEntry:
    number = _cylinder(row, engine, "plug")
    where = f"plug of cylinder {number}"
    _known_fields(row, PLUG_FIELDS, where)
    seen, not_seen = (_ids(row, key, known, where, "reading") for key in ("seen", "not_seen"))
    _no_overlap(seen, not_seen, where)
    photo = row.get("photo")
    if photo is not None and not isinstance(photo, str):
        raise CaseError(f"{where}: photo is {photo!r}, not a file name", 'write photo = "c1.jpg"')
    return PlugEntry(number, photo, seen, not_seen, _positive(row, "gap_mm", where), bool(row.get("tick_after_photo", False)))


def _lineup(table: Table, engine: Engine) -> Lineup | None:
    if not table:
        return None
    _known_fields(table, ("photo", "cylinders"), "lineup")
    cylinders = _numbers(_required(table, "cylinders", "lineup"), "lineup.cylinders")
    strangers = [n for n in cylinders if n not in engine.cylinders]
    if strangers or len(set(cylinders)) != len(cylinders):
        raise CaseError(
            f"lineup.cylinders is {list(cylinders)}, but the engine has {list(engine.cylinders)}",
            "name each plug's cylinder once",
        )
    return Lineup(str(_required(table, "photo", "lineup")), cylinders)


def _checks(rows: Any, engine: Engine, rules: Rules) -> tuple[CheckEntry, ...]:
    return tuple(_check(row, engine, rules) for row in _tables(rows, "check"))


def _check(row: Table, engine: Engine, rules: Rules) -> CheckEntry:
    name = str(_required(row, "id", "check"))
    _one_of(name, list(rules.checks), "check", "check")
    where = f"check {name}"
    _known_fields(row, CHECK_FIELDS, where)
    check = rules.checks[name]
    outcome = row.get("outcome")
    if outcome is not None:
        _one_of(str(outcome), [o.id for o in check.outcomes], where, "outcome")
    return CheckEntry(
        id=name,
        cylinder=_cylinder(row, engine, where) if "cylinder" in row else None,
        outcome=outcome,
        unit=row.get("unit"),
        values=_by_cylinder(row, "values", engine, where, _number),
        value=_number(row["value"], f"{where}: value") if "value" in row else None,
        spec=_spec(row, where),
        lengths_m=_by_cylinder(row, "lengths_m", engine, where, _number),
        where=_by_cylinder(row, "where", engine, where, lambda value, _: str(value)),
    )


def _spec(row: Table, where: str) -> float | tuple[float, float] | None:
    spec = row.get("spec")
    if spec is None:
        return None
    if isinstance(spec, list):
        if len(spec) != 2:
            raise CaseError(f"{where}: spec is {spec!r}", "give one number or [lowest, highest]")
        return (_number(spec[0], f"{where}: spec"), _number(spec[1], f"{where}: spec"))
    return _number(spec, f"{where}: spec")


def _by_cylinder(row: Table, key: str, engine: Engine, where: str, turn: Callable[[Any, str], Any]) -> dict[int, Any]:
    table = row.get(key, {})
    if not isinstance(table, Mapping):
        raise CaseError(f"{where}: {key} is {table!r}, not a table by cylinder", f"write {key} = {{ 1 = ..., 2 = ... }}")
    return {
        _member(number, engine, f"{where}: {key}"): turn(value, f"{where}: {key} of {number}") for number, value in table.items()
    }


# ---- small readers ---------------------------------------------------------------------------------------


def _sub_table(table: Table, key: str, *, required: bool = False) -> Table:
    value = table.get(key)
    if value is None and not required:
        return {}
    if value is None:
        raise CaseError(f"the [{key}] table is missing", f"add [{key}]")
    if not isinstance(value, Mapping):
        raise CaseError(f"{key} is {value!r}, not a table", f"write it as [{key}]")
    return value


def _tables(rows: Any, key: str) -> list[Table]:
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
        raise CaseError(f"{key} is not a list of tables", f"write each as [[{key}]]")
    return rows


def _required(table: Table, key: str, where: str) -> Any:
    if key not in table:
        raise CaseError(f"{where}: {key} is missing", f"add {key} = ...")
    return table[key]


def _known_fields(table: Table, known: Iterable[str], where: str, *, lenient: bool = False) -> None:
    """Refuse unknown fields; at the top of a case (`lenient`) only those that look like a slip of the pen."""
    known = list(known)
    for key in table:
        near = difflib.get_close_matches(str(key), known, 1, 0.75 if lenient else 0.0)
        if key not in known and (near or not lenient):
            raise CaseError(f"{where}: unknown field {key!r}", f"did you mean {near[0]!r}?" if near else "remove it")


def _one_of(value: str, known: list[str], where: str, kind: str) -> None:
    if value not in known:
        near = difflib.get_close_matches(value, known, 1, 0.5)
        raise CaseError(
            f"{where}: unknown {kind} {value!r}", f"did you mean {near[0]!r}?" if near else f"known: {', '.join(known)}"
        )


def _choice(table: Table, key: str, where: str, *, required: bool = False) -> str:
    if key not in table and not required:
        return ""
    value = str(_required(table, key, where))
    _one_of(value, list(CHOICES[key]), where, key)
    return value


def _whole(table: Table, key: str, where: str) -> int:
    value = _required(table, key, where)
    if isinstance(value, bool) or not isinstance(value, int):
        raise CaseError(f"{where}: {key} is {value!r}, not a whole number", f"write {key} = 4")
    return value


def _yes_no(table: Table, key: str, where: str) -> bool:
    value = _required(table, key, where)
    if not isinstance(value, bool):
        raise CaseError(f"{where}: {key} is {value!r}", "write true or false")
    return value


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or value != value:
        raise CaseError(f"{where} is {value!r}, not a number", "give a number")
    return float(value)


def _positive(table: Table, key: str, where: str, *, zero: bool = False) -> float | None:
    if key not in table:
        return None
    value = _number(table[key], f"{where}: {key}")
    if value < 0 or (value == 0 and not zero) or value == float("inf"):
        raise CaseError(f"{where}: {key} is {value:g}", "give a positive number")
    return value


def _numbers(values: Any, where: str) -> tuple[int, ...]:
    if not isinstance(values, list | tuple) or not all(isinstance(v, int) and not isinstance(v, bool) for v in values):
        raise CaseError(f"{where} is {values!r}, not a list of cylinder numbers", "write it like [1, 3, 4, 2]")
    return tuple(values)


def _cylinder(row: Table, engine: Engine, where: str) -> int:
    return _member(_required(row, "cylinder", where), engine, where)


def _member(value: Any, engine: Engine, where: str) -> int:
    number = int(value) if isinstance(value, str) and value.isdecimal() else value
    if isinstance(number, bool) or not isinstance(number, int) or number not in engine.cylinders:
        raise CaseError(f"{where}: there is no cylinder {value!r}", f"the engine has {', '.join(map(str, engine.cylinders))}")
    return number


def _ids(table: Table, key: str, known: list[str], where: str, kind: str) -> tuple[str, ...]:
    values = table.get(key, [])
    if not isinstance(values, list | tuple):
        raise CaseError(f"{where}: {key} is {values!r}, not a list", f'write {key} = ["..."]')
    for value in values:
        _one_of(str(value), known, where, kind)
    return tuple(dict.fromkeys(map(str, values)))


def _no_overlap(seen: tuple[str, ...], not_seen: tuple[str, ...], where: str) -> None:
    both = [name for name in seen if name in not_seen]
    if both:
        raise CaseError(f"{where}: {both[0]!r} is both seen and not seen", "keep it in one of the two lists")
