"""Keeps unfinished visits and their photos in one SQLite file, written at every change.

Each call opens its own connection, for the page runs every step on another thread.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from plugread.errors import StoreError
from plugread.notebook.draft import Draft, from_text, to_text

SCHEMA = """
CREATE TABLE IF NOT EXISTS visit (id TEXT PRIMARY KEY, revision INTEGER NOT NULL, writer TEXT NOT NULL, changed TEXT NOT NULL,
                                  body TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS photo (digest TEXT PRIMARY KEY, bytes BLOB NOT NULL);
"""
BUSY_MS = 3000
VISIT_ID_BYTES = 6


@dataclass(frozen=True)
class Kept:
    """A draft as it lies in the store. `revision` counts its changes; `writer` made the last one."""

    id: str
    revision: int
    writer: str
    changed: str
    draft: Draft


def default_path() -> Path:
    """Return where the store lies unless told otherwise: PLUGREAD_HOME, or the user's data folder."""
    home = os.environ.get("PLUGREAD_HOME")
    if home:
        return Path(home) / "notebook.sqlite"
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    else:
        base = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    return base / "plugread" / "notebook.sqlite"


def new_id() -> str:
    """Return an id for a new visit that nobody can guess."""
    return secrets.token_hex(VISIT_ID_BYTES)


def digest_of(data: bytes) -> str:
    """Return the name a photo's bytes are kept under."""
    return hashlib.sha256(data).hexdigest()[:32]


class Store:
    """The notebook's file.

    Parameters
    ----------
    path : the SQLite file; its folder is made when first written to.

    Every method raises `StoreError` when the file cannot be read or written (folder missing, disk full, file damaged).
    """

    def __init__(self, path: Path) -> None:
        self.path = path

    def start(self, visit: str, draft: Draft, writer: str) -> Kept:
        """Keep a new visit, or put `draft` in the place of the one kept under this id."""
        return self.change(visit, lambda _: draft, writer, blank=draft)

    def change(self, visit: str, step: Callable[[Draft], Draft], writer: str, blank: Draft) -> Kept:
        """Apply one change to the newest state of a visit and keep the result; of two writers the later one wins.

        Parameters
        ----------
        visit : id of the visit.
        step : takes the newest draft, returns the changed one.
        writer : who changes it (one browser tab).
        blank : what to start from when the visit is not kept yet.
        """
        with self._open(write=True) as db:
            now = self._read(db, visit)
            draft = step(now.draft if now else blank)
            kept = Kept(visit, now.revision + 1 if now else 1, writer, datetime.now(UTC).isoformat(timespec="seconds"), draft)
            db.execute(
                "INSERT OR REPLACE INTO visit (id, revision, writer, changed, body) VALUES (?, ?, ?, ?, ?)",
                (kept.id, kept.revision, kept.writer, kept.changed, to_text(draft)),
            )
        return kept

    def find(self, visit: str) -> Kept | None:
        """Return a kept visit, or None if there is none under this id."""
        if not self.path.exists():
            return None
        with self._open() as db:
            return self._read(db, visit)

    def last(self) -> Kept | None:
        """Return the visit of the user's own (no sample engine) that was changed last."""
        if not self.path.exists():
            return None
        with self._open() as db:
            for (visit,) in db.execute("SELECT id FROM visit ORDER BY changed DESC, revision DESC LIMIT 20").fetchall():
                kept = self._read(db, visit)
                if kept and not kept.draft.sample:
                    return kept
        return None

    def keep_photo(self, data: bytes) -> str:
        """Keep a photo's bytes and return its digest; the same bytes are kept once."""
        digest = digest_of(data)
        with self._open(write=True) as db:
            db.execute("INSERT OR IGNORE INTO photo (digest, bytes) VALUES (?, ?)", (digest, data))
        return digest

    def photo(self, digest: str) -> bytes:
        """Return the bytes of a kept photo."""
        with self._open() as db:
            row = db.execute("SELECT bytes FROM photo WHERE digest = ?", (digest,)).fetchone()
        if row is None:
            raise StoreError(f"photo {digest[:8]} is not in the notebook", "take it again")
        return bytes(row[0])

    def _read(self, db: sqlite3.Connection, visit: str) -> Kept | None:
        row = db.execute("SELECT id, revision, writer, changed, body FROM visit WHERE id = ?", (visit,)).fetchone()
        if row is None:
            return None
        try:
            return Kept(row[0], row[1], row[2], row[3], from_text(row[4]))
        except (ValueError, TypeError, KeyError) as problem:
            raise StoreError(f"visit {visit} in {self.path} cannot be understood ({problem})", "start a new visit") from problem

    @contextmanager
    def _open(self, *, write: bool = False) -> Iterator[sqlite3.Connection]:
        try:
            if write:
                self.path.parent.mkdir(parents=True, exist_ok=True)
            with closing(sqlite3.connect(self.path, timeout=BUSY_MS / 1000, isolation_level=None)) as db:
                db.execute("PRAGMA journal_mode=WAL")
                db.execute("PRAGMA synchronous=NORMAL")
                db.executescript(SCHEMA)
                if write:
                    db.execute("BEGIN IMMEDIATE")
                yield db
                if write:
                    db.execute("COMMIT")
        except (sqlite3.Error, OSError) as problem:
            raise StoreError(
                f"the notebook {self.path} cannot be used ({problem})", "free some disk space or check the folder"
            ) from problem
