"""The table of looks: what each reading of a firing end measures like. Loaded from `looks.toml` and validated."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plugread.errors import RuleBaseError

Floats = NDArray[np.float64]
Band = tuple[float, float]

CUES = ("gloss", "crust", "gap", "patchy")
SPECK_KINDS = ("dark", "metal", "white")


@dataclass(frozen=True, eq=False)
class Look:
    """One look: colour components of shape (n, 3) with spreads (n, 3) and weights (n,), cues as (mean, standard deviation).

    `sources` are "id:place" with ids of the rule base's sources.
    """

    id: str
    common: float
    means: Floats
    spreads: Floats
    weights: Floats
    cues: Mapping[str, Band]
    specks: Mapping[str, float]
    sources: tuple[str, ...]


@dataclass(frozen=True)
class Looks:
    """All looks by id, and the general settings of the table."""

    look: Mapping[str, Look]
    floor: float
    taught_floor: float
    enough: int
    usual_gap_mm: float
    usual_gap_spread: float
    top_share: float
    top_lead: float
    sure_share: float
    cue_weight: float


@lru_cache(maxsize=1)
def load_looks() -> Looks:
    """Return the package's table of looks.

    Raises
    ------
    RuleBaseError
        listing every fault of the table.
    """
    text = resources.files("plugread.reading").joinpath("looks.toml").read_text(encoding="utf-8")
    return parse_looks(text)


def parse_looks(text: str) -> Looks:
    """Return the looks in a TOML text; raises `RuleBaseError` listing every fault."""
    table = tomllib.loads(text)
    rows: dict[str, dict[str, Any]] = table["look"]
    faults = [fault for name, row in rows.items() for fault in _faults(name, row, rows)]
    if faults:
        raise RuleBaseError("looks.toml: " + "\n".join(faults))
    return Looks(look=MappingProxyType({name: _look(name, row, rows) for name, row in rows.items()}), **table["general"])


def _faults(name: str, row: dict[str, Any], rows: dict[str, dict[str, Any]]) -> list[str]:
    faults = [f"{name}: {field} is missing" for field in ("common", "words", "sources", *SPECK_KINDS) if field not in row]
    borrowed = row.get("colour_of")
    if (borrowed is None) == ("colour" not in row):
        faults.append(f"{name}: give either colour or colour_of")
    if borrowed is not None and "colour" not in rows.get(borrowed, {}):
        faults.append(f"{name}: colour_of = {borrowed!r} is no look with a colour of its own")
    for part in row.get("colour", []):
        if len(part) != 7 or min(part[3:]) <= 0:
            faults.append(f"{name}: colour {part} is not L, a, b, three spreads > 0, weight > 0")
    odd = [kind for kind in SPECK_KINDS if not 0 < row.get(kind, 0.5) < 1]
    return faults + [f"{name}: {kind} = {row[kind]} is no chance between 0 and 1" for kind in odd]


def _look(name: str, row: dict[str, Any], rows: dict[str, dict[str, Any]]) -> Look:
    colour = np.array(row.get("colour") or rows[row["colour_of"]]["colour"], np.float64)
    weights = colour[:, 6] / colour[:, 6].sum()
    cues: dict[str, Band] = {cue: (float(row[cue][0]), float(row[cue][1])) for cue in CUES if cue in row}
    specks = {kind: float(row[kind]) for kind in SPECK_KINDS}
    return Look(name, float(row["common"]), colour[:, :3], colour[:, 3:6], weights, cues, specks, tuple(row["sources"]))
