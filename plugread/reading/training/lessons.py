"""A folder of confirmed photos: which reading each shows, and which belong to one plug, engine and light.

    FOLDER/carbon_fouled/four-c3-1.jpg    reading = name of the folder; plug "four-c3" = file name up to its last "-"; shot "1"
    FOLDER/carbon_fouled/groups.csv       optional: file,plug,engine,light,nose (nose = box "x y w h" where it is not found)
    FOLDER/groups.csv                     the same for all readings, file = "carbon_fouled/four-c3-1.jpg"

A plug has one reading: the same plug under two readings is listed and left out. Plugs of different engines may share a name
where the engine is told.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from plugread.errors import ModelError
from plugread.records import Box

PHOTO_ENDINGS = (".jpg", ".jpeg", ".png", ".webp", ".avif")
GROUPS = "groups.csv"
_COLUMNS = ("file", "plug", "engine", "light", "nose")

Row = dict[str, str]


@dataclass(frozen=True)
class Lesson:
    """One photo with the reading it is known to show; `engine` and `light` are None where they were not given."""

    path: Path
    reading: str
    plug: str
    engine: str | None = None
    light: str | None = None
    nose: Box | None = None


@dataclass(frozen=True)
class Lessons:
    """What a folder holds: photos to learn from, and a line about everything that was passed over."""

    photos: tuple[Lesson, ...]
    passed_over: tuple[str, ...]


def find_lessons(folder: Path, known: Iterable[str]) -> Lessons:
    """Return the lessons of a folder with one sub-folder for each reading.

    Parameters
    ----------
    known : the readings a photo of the firing end can show.

    Raises
    ------
    ModelError
        if there is no such folder, or a `groups.csv` cannot be understood.
    """
    if not folder.is_dir():
        raise ModelError(f"no folder {folder}", "give a folder with one sub-folder of photos for each reading")
    known, rows = tuple(known), _rows(folder / GROUPS)
    photos: list[Lesson] = []
    passed: list[str] = []
    for child in sorted(path for path in folder.iterdir() if path.is_dir() and not path.name.startswith(".")):
        if child.name in known:
            found = _photos(child, rows)
            photos += found
            passed += [] if found else [f"{child.name}: no photos"]
        else:
            near = get_close_matches(child.name.lower(), known, n=1, cutoff=0.5)
            told = f"; did you mean {near[0]}?" if near else ""
            passed.append(f"folder {child.name!r} is no reading that a photo of the firing end shows{told}")
    kept, contrary = _without_contradictions(photos)
    return Lessons(tuple(kept), (*passed, *contrary))


def _photos(folder: Path, above: Mapping[str, Row]) -> list[Lesson]:
    rows = _rows(folder / GROUPS)
    files = sorted(path for path in folder.iterdir() if path.suffix.lower() in PHOTO_ENDINGS)
    return [_lesson(path, above.get(f"{folder.name}/{path.name}", {}) | rows.get(path.name, {})) for path in files]


def _lesson(path: Path, row: Row) -> Lesson:
    engine, plug = row.get("engine") or None, row.get("plug") or plug_of(path.stem)
    plug = f"{engine}/{plug}" if engine else plug
    return Lesson(path, path.parent.name, plug, engine, row.get("light") or None, _box(row.get("nose"), path))


def plug_of(stem: str) -> str:
    """Return the plug a file name stands for: all up to the last "-", or the whole name without one."""
    plug, dash, shot = stem.rpartition("-")
    return plug if dash and plug and shot else stem


def _rows(path: Path) -> dict[str, Row]:
    """Return the rows of a groups file by their photo; none where there is no file."""
    if not path.exists():
        return {}
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = [{str(key): str(value or "").strip() for key, value in row.items()} for row in csv.DictReader(file)]
    except (OSError, UnicodeDecodeError, csv.Error) as problem:
        raise ModelError(f"{path} cannot be read: {problem}", f"write a CSV with columns {','.join(_COLUMNS)}") from problem
    strange = sorted({key for row in rows for key in row} - set(_COLUMNS))
    if strange or any("file" not in row for row in rows):
        found = f"unknown column {strange[0]!r}" if strange else "no column 'file'"
        raise ModelError(f"{path}: {found}", f"the columns are {','.join(_COLUMNS)}; all but file may be left out")
    return {row["file"]: row for row in rows}


def _box(text: str | None, path: Path) -> Box | None:
    if not text:
        return None
    try:
        x, y, w, h = (int(part) for part in text.replace(",", " ").split())
    except ValueError:
        raise ModelError(f"{path.name}: nose {text!r} is not a box", "write four whole numbers: x y w h") from None
    return x, y, w, h


def _without_contradictions(photos: list[Lesson]) -> tuple[list[Lesson], list[str]]:
    readings: dict[str, set[str]] = {}
    for lesson in photos:
        readings.setdefault(lesson.plug, set()).add(lesson.reading)
    contrary = {plug: sorted(names) for plug, names in readings.items() if len(names) > 1}
    lines = [
        f"plug {plug!r} stands under {' and '.join(names)}: left out; give it one reading, or name its plugs apart"
        for plug, names in contrary.items()
    ]
    return [lesson for lesson in photos if lesson.plug not in contrary], lines
