"""All faults of a rule folder at once, each with its file, row, field and the nearest known word.

`python -m plugread.rules.validate [FOLDER]` prints them on stderr and leaves with 1 if there are any; lints go to stdout.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from plugread.rules.faults_maps import map_faults
from plugread.rules.lints import lints
from plugread.rules.raw import RawRules, Row, read_folder
from plugread.rules.shapes import NEEDS, PUBLISHED, SHAPES, Field

__all__ = ["faults", "faults_of", "lints", "main"]

KINDS: Mapping[str, tuple[type, ...]] = {
    "text": (str,),
    "texts": (list,),
    "flag": (bool,),
    "whole": (int,),
    "number": (int, float),
    "map": (dict,),
    "rows": (list,),
}
MOST_SEVERE = 4
FEWEST_OUTCOMES = 2


def faults(folder: Path) -> list[str]:
    """Return every fault of the rule files in `folder`, one sentence each; empty when the rule base is sound."""
    return faults_of(read_folder(folder))


def faults_of(raw: RawRules) -> list[str]:
    """Return every fault of rows that have been read; a fault in one row hides none in another."""
    found = list(raw.unreadable)
    for table, rows in raw.rows.items():
        found.extend(_repeated(table, rows))
        for row in rows:
            found.extend(_row_faults(row, raw))
    found.extend(map_faults(raw))
    return found


def did_you_mean(word: str, known: Iterator[str] | tuple[str, ...]) -> str:
    """Return "; did you mean '...'?" with the nearest known word, or nothing if none is near."""
    near = get_close_matches(word, list(known), n=1)
    return f"; did you mean '{near[0]}'?" if near else ""


def _row_faults(row: Row, raw: RawRules) -> Iterator[str]:
    where = f"{row.file}: {row.table} {row.label}"
    yield from _shape_faults(where, row.table, row.fields, raw)
    if row.table == "finding":
        yield from _finding_faults(where, row.fields)
    if row.table == "check":
        yield from _check_faults(where, row.fields, raw)
    if row.table == "link":
        yield from _link_faults(where, row.fields)


def _shape_faults(where: str, shape: str, fields: Mapping[str, Any], raw: RawRules) -> Iterator[str]:
    shapes = SHAPES[shape]
    for name in fields:
        if name not in shapes:
            yield f"{where}: no field '{name}' in a {shape}{did_you_mean(name, tuple(shapes))}"
    for name, field in shapes.items():
        if name in fields:
            yield from _field_faults(f"{where}: {name}", field, fields[name], raw)
        elif field.required:
            yield f"{where}: {name} is missing"
    if "grade" in shapes:
        yield from _backing_faults(where, fields, raw)


def _field_faults(where: str, field: Field, value: Any, raw: RawRules) -> Iterator[str]:
    if not _is_kind(value, field.kind):
        yield f"{where}: {value!r} is not {_kind_in_words(field.kind)}"
        return
    if field.kind == "text" and field.required and not value.strip():
        yield f"{where}: is empty"
    for word in value if field.kind == "texts" else [value] if field.kind == "text" else []:
        known = field.words or (_known(field.names, raw) if field.names else (word,))
        if word not in known:
            yield f"{where}: '{word}' is not known{did_you_mean(str(word), known)}"
    if where.endswith(": needs"):
        yield from _needs_faults(where, value)


def _is_kind(value: Any, kind: str) -> bool:
    return isinstance(value, KINDS[kind]) and (kind == "flag" or not isinstance(value, bool))


def _known(names: str, raw: RawRules) -> tuple[str, ...]:
    if names == "caution":
        return tuple(raw.maps["caution"])
    scale = names.removeprefix("scales.")
    return raw.ids(names) if scale == names else tuple(raw.maps["scales"].get(scale, ()))


def _needs_faults(where: str, needs: Mapping[str, Any]) -> Iterator[str]:
    for name, allowed in needs.items():
        if name not in NEEDS:
            yield f"{where}: an engine has no '{name}'{did_you_mean(name, tuple(NEEDS))}"
            continue
        for word in allowed:
            if word not in NEEDS[name]:
                yield f"{where}.{name}: '{word}' is not known{did_you_mean(str(word), NEEDS[name])}"


def _backing_faults(where: str, fields: Mapping[str, Any], raw: RawRules) -> Iterator[str]:
    sources = fields.get("sources", [])
    if fields.get("grade") in PUBLISHED and not sources:
        yield f"{where}: sources: grade '{fields['grade']}' needs a source"
    if not isinstance(sources, list):
        return
    for source in map(str, sources):
        key, colon, place = source.partition(":")
        if key not in raw.ids("source"):
            yield f"{where}: sources: '{key}' is not known{did_you_mean(key, raw.ids('source'))}"
        if not colon or not place.strip():
            yield f"{where}: sources: '{source}' names no place; write it like '{key}:page 12'"


def _finding_faults(where: str, fields: Mapping[str, Any]) -> Iterator[str]:
    severity = fields.get("severity")
    if isinstance(severity, int) and not 0 <= severity <= MOST_SEVERE:
        yield f"{where}: severity: {severity} is outside 0 to {MOST_SEVERE}"
    if fields.get("danger") and not fields.get("stop"):
        yield f"{where}: stop is missing: a danger must say what not to do and why"
    if fields.get("stop") and not fields.get("danger"):
        yield f"{where}: danger is missing: there is a stop"
    if (fields.get("kind") == "sign") != (fields.get("level") == "engine"):
        yield f"{where}: level: a sign belongs to the engine, a reading to a cylinder"


def _link_faults(where: str, fields: Mapping[str, Any]) -> Iterator[str]:
    if fields.get("strength") == "always" and not fields.get("sources"):
        yield f"{where}: strength: 'always' needs a source"


def _check_faults(where: str, fields: Mapping[str, Any], raw: RawRules) -> Iterator[str]:
    outcomes = [row for row in fields.get("outcomes", []) if isinstance(row, dict)]
    answers = [row for row in fields.get("answers", []) if isinstance(row, dict)]
    for number, outcome in enumerate(outcomes, start=1):
        place = f"{where}: outcome {outcome.get('id', number)}"
        yield from _shape_faults(place, "outcome", outcome, raw)
        yield from _outcome_faults(place, outcome, last=number == len(outcomes))
    if len(outcomes) < FEWEST_OUTCOMES:
        yield f"{where}: outcomes: at least two are needed"
    firing = tuple(str(outcome.get("id")) for outcome in outcomes if not outcome.get("fallthrough"))
    for number, answer in enumerate(answers, start=1):
        place = f"{where}: answer {answer.get('cause', number)}"
        yield from _shape_faults(place, "answer", answer, raw)
        yield from _link_faults(place, answer)
        if answer.get("outcome") not in firing:
            word = str(answer.get("outcome"))
            yield f"{place}: outcome: '{word}' is not one that fires here{did_you_mean(word, firing)}"


def _outcome_faults(where: str, outcome: Mapping[str, Any], *, last: bool) -> Iterator[str]:
    if bool(outcome.get("fallthrough")) != last:
        yield f"{where}: fallthrough: the last outcome, and only the last, is the one when none fires"
    if not last and not outcome.get("false_alarm"):
        yield f"{where}: false_alarm is missing"


def _repeated(table: str, rows: tuple[Row, ...]) -> Iterator[str]:
    counts = Counter(row.label for row in rows)
    for label, count in counts.items():
        if count > 1:
            files = ", ".join(dict.fromkeys(row.file for row in rows if row.label == label))
            yield f"{files}: {table} {label}: stands {count} times"


def _kind_in_words(kind: str) -> str:
    words = {
        "texts": "a list of words",
        "flag": "true or false",
        "whole": "a whole number",
        "map": "a table",
        "rows": "a list of rows",
    }
    return words.get(kind, f"a {kind}")


def main(arguments: list[str] | None = None) -> int:
    """Print all faults on stderr, or the lints on stdout; return 1 if there are faults."""
    from plugread.rules.load import load_rules, own_folder

    given = sys.argv[1:] if arguments is None else arguments
    folder = Path(given[0]) if given else own_folder()
    found = faults(folder)
    for line in found:
        sys.stderr.write(line + "\n")
    if not found:
        sys.stdout.writelines(f"lint: {line}\n" for line in lints(load_rules(folder)))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
