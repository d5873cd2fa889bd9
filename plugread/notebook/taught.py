"""Photos of plugs whose reading the user confirmed, as a folder that can be learned from, and the models learned from it.

    HOME/taught/carbon_fouled/PLUG-SHOT.jpg, groups.csv      one folder a reading; groups.csv: file,light,nose
    HOME/models/learned, HOME/models/used                    the model learned last, and the one that reads photos now

A plug has one reading: confirming another takes its photos with it.
"""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from plugread.errors import StoreError
from plugread.records import Box

ENDINGS = (".jpg", ".jpeg", ".png", ".webp", ".avif")
GROUPS, CARD = "groups.csv", "card.json"
SHOT_DIGITS = 12
"""Hexadecimal digits of a photo's digest that tell the shots of one plug apart."""
_COLUMNS = ("file", "light", "nose")


@dataclass(frozen=True)
class Kept:
    """How many photos and plugs are kept of one reading."""

    photos: int
    plugs: int


class Taught:
    """The folder of confirmed photos below the notebook's own; every method raises `StoreError` when it cannot be used."""

    def __init__(self, home: Path) -> None:
        self.photos, self.learned, self.used = home / "taught", home / "models" / "learned", home / "models" / "used"

    def keep(self, reading: str, plug: str, digest: str, data: bytes, *, name: str, light: str, nose: Box | None) -> None:
        """Keep one photo of a plug under its reading; photos of the plug under other readings move there.

        Parameters
        ----------
        plug : names the plug for good, of letters, digits, "_" and "-".
        digest : names the photo.
        name : the photo's file name; only its ending counts.
        light : stands for the sitting; photos of one sitting share light and phone.
        nose : box of the nose meant, where the photo shows several or the finder missed it.
        """
        with self._told():
            for other in self._readings():
                if other.name != reading and self._shots(other, plug):
                    self._move(other, self.photos / reading, plug)
            ending = Path(name).suffix.lower()
            file = f"{plug}-{digest[:SHOT_DIGITS]}{ending if ending in ENDINGS else '.jpg'}"
            box = "" if nose is None else " ".join(map(str, nose))
            (self.photos / reading).mkdir(parents=True, exist_ok=True)
            _swap_in(self.photos / reading / file, data)
            self._note(self.photos / reading, {**self._rows(self.photos / reading), file: (light, box)})

    def forget(self, plug: str) -> None:
        """Take all photos of a plug out."""
        with self._told():
            for folder in self._readings():
                for shot in self._shots(folder, plug):
                    shot.unlink()
                self._note(folder, self._rows(folder))

    def reading_of(self, plug: str, digest: str) -> str | None:
        """Return the reading under which a photo of a plug is kept, None if it is not."""
        with self._told():
            shots = [shot for folder in self._readings() for shot in self._shots(folder, plug)]
        return next((shot.parent.name for shot in shots if shot.stem == f"{plug}-{digest[:SHOT_DIGITS]}"), None)

    def counts(self) -> dict[str, Kept]:
        """Return how much is kept, by reading in alphabetical order."""
        with self._told():
            shots = {folder.name: self._shots(folder) for folder in self._readings()}
        return {
            name: Kept(len(here), len({shot.stem.rpartition("-")[0] for shot in here})) for name, here in shots.items() if here
        }

    def use_learned(self) -> None:
        """Let the model learned last read photos from now on."""
        aside = self.used.with_name("used.new")
        with self._told():
            shutil.rmtree(aside, ignore_errors=True)
            shutil.copytree(self.learned, aside)
            self.stop_using()
            aside.rename(self.used)

    def in_use(self) -> str:
        """Return what stands for the model that reads photos now, another for every model; empty if there is none."""
        with self._told():
            card = self.used / CARD
            return str(card.stat().st_mtime_ns) if card.exists() else ""

    def is_learned(self) -> bool:
        """Return whether a model has been learned."""
        return (self.learned / CARD).exists()

    def stop_using(self) -> None:
        """Let the model that reads photos now read no more."""
        with self._told():
            if self.used.exists():
                shutil.rmtree(self.used)

    def _readings(self) -> list[Path]:
        return sorted(path for path in self.photos.iterdir() if path.is_dir()) if self.photos.is_dir() else []

    def _shots(self, folder: Path, plug: str | None = None) -> list[Path]:
        shots = sorted(path for path in folder.iterdir() if path.suffix in ENDINGS)
        return [shot for shot in shots if plug is None or shot.stem.rpartition("-")[0] == plug]

    def _move(self, old: Path, new: Path, plug: str) -> None:
        new.mkdir(parents=True, exist_ok=True)
        rows, moved = self._rows(old), self._shots(old, plug)
        for shot in moved:
            shot.replace(new / shot.name)
        self._note(new, {**self._rows(new), **{shot.name: rows.get(shot.name, ("", "")) for shot in moved}})
        self._note(old, rows)

    def _rows(self, folder: Path) -> dict[str, tuple[str, str]]:
        """Return light and nose of the photos in a folder, by file name."""
        if not (folder / GROUPS).exists():
            return {}
        with (folder / GROUPS).open(newline="", encoding="utf-8") as file:
            return {row["file"]: (row.get("light") or "", row.get("nose") or "") for row in csv.DictReader(file)}

    def _note(self, folder: Path, rows: dict[str, tuple[str, str]]) -> None:
        """Write the groups of a folder, of the photos that are there."""
        text = io.StringIO()
        listed = [(name, *row) for name, row in sorted(rows.items()) if (folder / name).exists()]
        csv.writer(text, lineterminator="\n").writerows([_COLUMNS, *listed])
        _swap_in(folder / GROUPS, text.getvalue().encode())

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except (OSError, csv.Error, KeyError, UnicodeDecodeError) as problem:
            raise StoreError(
                f"the folder of lessons {self.photos} cannot be used ({problem})", "free some disk space"
            ) from problem


def _swap_in(path: Path, content: bytes) -> None:
    """Write aside, then rename: a file is the old one or the new one."""
    aside = path.with_name(f".{path.name}.new")
    aside.write_bytes(content)
    aside.replace(path)
