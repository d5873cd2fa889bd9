"""Made-up training photos for tests of the classifier: a centre for each reading, plugs about it, shots about those.

A photo is a text file that says what measuring it gives.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from plugread.reading.features import NAMES
from plugread.reading.looks import load_looks
from plugread.reading.portrait import Portrait
from plugread.reading.surface import LEAST_SHARE, NOTHING
from plugread.reading.training.lessons import Lesson
from plugread.reading.training.study import Study, study
from plugread.records import Box

THREE = {"normal": 8, "carbon_fouled": 6, "oil_fouled": 6}
APART, BETWEEN_PLUGS, BETWEEN_SHOTS = 0.4, 0.7, 0.2


def _noise(*words: object) -> NDArray[np.float64]:
    """Standard normal numbers that depend on the words alone."""
    return np.random.default_rng(zlib.crc32(repr(words).encode())).normal(size=len(NAMES))


def vector(reading: str, plug: object, shot: object = 0, *, apart: float = APART) -> NDArray[np.float64]:
    """The features of one photo; every fifth photo lacks the gap, as real ones do."""
    values = apart * _noise(reading) + BETWEEN_PLUGS * _noise(reading, plug) + BETWEEN_SHOTS * _noise(reading, plug, shot)
    if zlib.crc32(repr((plug, shot)).encode()) % 5 == 0:
        values[NAMES.index("gap_mm")] = np.nan
    values[NAMES.index(f"surface_{NOTHING}")] = np.log(LEAST_SHARE)
    return values


def measured(reading: str, plug: object, shot: object = 0, *, apart: float = APART) -> Portrait:
    """What measuring one photo gives, with a fingerprint of its own; the rules half know the reading."""
    rules = dict.fromkeys(load_looks().look, 0.1) | {"normal": 0.3, reading: 0.3}
    bits = np.random.default_rng(zlib.crc32(repr((reading, plug, shot)).encode())).random(256) < 0.5
    return Portrait(vector(reading, plug, shot, apart=apart), bits, rules, "paper")


def lessons(plugs: Mapping[str, int], shots: int = 2) -> list[Lesson]:
    """Lessons of so many plugs of each reading, each engine with one plug of every reading."""
    return [
        Lesson(Path(f"{reading}/{reading}{k}-{s}.jpg"), reading, f"{reading}{k}", f"engine{k}", "day")
        for reading, count in plugs.items()
        for k in range(count)
        for s in range(shots)
    ]


def studied(plugs: Mapping[str, int], shots: int = 2, *, apart: float = APART) -> Study:
    """What can be learned from such lessons."""
    found = lessons(plugs, shots)
    return study(found, [measured(one.reading, one.plug, one.path.name, apart=apart) for one in found])


@cache
def three() -> Study:
    """Three readings of six to eight plugs, two shots each."""
    return studied(THREE)


def write_folder(folder: Path, plugs: Mapping[str, int], shots: int = 2) -> Path:
    """Write such photos into sub-folders named by reading."""
    for reading, count in plugs.items():
        (folder / reading).mkdir(parents=True, exist_ok=True)
        for k in range(count):
            for s in range(shots):
                (folder / reading / f"{reading}{k}-{s}.jpg").write_text(f"{reading} {k} {s}")
    return folder


def look(path: Path, nose: Box | None) -> Portrait:
    """Measure one of the written photos; anything else cannot be read."""
    words = path.read_text().split()
    if len(words) != 3:
        return Portrait(None, None, {}, None, f"{path.name} is not a picture")
    return measured(*words)
