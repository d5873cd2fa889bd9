"""The TOML files of a rule folder, read but not yet judged: every row keeps the name of its file."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

TABLES = ("source", "finding", "cause", "link", "context", "check", "pattern", "band")
"""Tables made of rows; each is an array in one or more files."""

MAPS = ("scales", "losses", "caution", "looks", "order")
"""Tables that map a word to its value."""


@dataclass(frozen=True)
class Row:
    """One row of a table as it stands in its file; `number` counts the rows of that table in that file from 1."""

    file: str
    table: str
    number: int
    fields: Mapping[str, Any]

    @property
    def label(self) -> str:
        """How to name the row to a person: its id, or what it joins, or its place in the file."""
        if isinstance(self.fields.get("id"), str):
            return str(self.fields["id"])
        joined = [str(self.fields[key]) for key in ("cause", "sign", "finding") if key in self.fields]
        return " -> ".join(joined) or f"row {self.number}"


@dataclass(frozen=True)
class RawRules:
    """All rows by table, all maps by name, and what could not even be read (one sentence each)."""

    rows: Mapping[str, tuple[Row, ...]]
    maps: Mapping[str, Mapping[str, Any]]
    map_files: Mapping[str, str]
    unreadable: tuple[str, ...]

    def ids(self, table: str) -> tuple[str, ...]:
        """Return the ids of a table in file order."""
        return tuple(row.fields["id"] for row in self.rows[table] if isinstance(row.fields.get("id"), str))


def read_folder(folder: Path) -> RawRules:
    """Return every row of every TOML file in `folder`; a file that cannot be read becomes a sentence, never an error."""
    rows: dict[str, list[Row]] = {table: [] for table in TABLES}
    maps: dict[str, dict[str, Any]] = {name: {} for name in MAPS}
    map_files: dict[str, str] = {}
    unreadable: list[str] = []
    paths = sorted(folder.glob("*.toml"))
    if not paths:
        unreadable.append(f"{folder}: no rule files (*.toml) here")
    for path in paths:
        try:
            content = tomllib.loads(path.read_text("utf-8"))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            unreadable.append(f"{path.name}: not valid TOML: {error}")
            continue
        for key, value in content.items():
            if key in rows and isinstance(value, list):
                rows[key].extend(_rows(path.name, key, value))
            elif key in maps and isinstance(value, dict):
                maps[key].update(value)
                map_files.update(dict.fromkeys([key, *(f"{key}.{word}" for word in value)], path.name))
            else:
                unreadable.append(f"{path.name}: no table is called '{key}'; known: {', '.join([*TABLES, *MAPS])}")
    return RawRules({table: tuple(found) for table, found in rows.items()}, maps, map_files, tuple(unreadable))


def _rows(file: str, table: str, values: list[Any]) -> Iterator[Row]:
    for number, value in enumerate(values, start=1):
        yield Row(file, table, number, value if isinstance(value, dict) else {"not a row": value})
