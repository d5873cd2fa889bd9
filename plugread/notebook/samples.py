"""Turns a case file with its photos into a draft visit: the door for the sample engines."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from plugread.errors import PhotoError
from plugread.notebook.draft import Draft, Row, Shot
from plugread.notebook.store import digest_of
from plugread.records import Case


def sample_names(folder: Path) -> tuple[str, ...]:
    """Return the sample engines in a folder, by the names of their folders."""
    return tuple(sorted(path.parent.name for path in folder.glob("engine_*/case.toml")))


def sample_photo(folder: Path, name: str) -> bytes | None:
    """Return the bytes of a sample picture, None if this installation came without it."""
    path = folder / name
    return path.read_bytes() if path.is_file() else None


def draft_of_case(case: Case, sample: str = "") -> tuple[Draft, dict[str, bytes]]:
    """Return a case as a draft, and the bytes of its photos by digest.

    Raises
    ------
    PhotoError
        A photo the case names cannot be opened.
    """
    photos: dict[str, bytes] = {}

    def taken(name: str) -> str:
        try:
            data = (Path(case.base_dir) / name).read_bytes()
        except OSError as problem:
            raise PhotoError(f"{name}: cannot be opened ({problem.strerror})", "put the photo beside the case file") from problem
        photos[digest_of(data)] = data
        return digest_of(data)

    shots = tuple(Shot(taken(plug.photo), Path(plug.photo).name, plug.cylinder) for plug in case.plugs if plug.photo)
    row = Row(taken(case.lineup.photo), Path(case.lineup.photo).name, case.lineup.cylinders) if case.lineup else None
    plugs = tuple(replace(p, photo=None) for p in case.plugs if p.seen or p.not_seen or p.gap_mm is not None)
    draft = Draft(case.engine, plugs, shots, row, case.signs_seen, case.signs_not_seen, case.checks, shown=True, sample=sample)
    return draft, photos
