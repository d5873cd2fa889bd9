"""How far phones are held from what they photograph closely (`lens.toml`)."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib import resources
from typing import Any


def usual_nearness() -> tuple[float, float]:
    """Return one over the usual distance from lens to plug (1/mm) and its 1 sigma, for where the thread does not tell."""
    return float(_table()["usual"]), float(_table()["spread"])


def most_nearness() -> float:
    """Return one over the least distance (1/mm) a phone's lens focuses at."""
    return float(_table()["most"])


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    text = resources.files("plugread.measure").joinpath("lens.toml").read_text(encoding="utf-8")
    return dict(tomllib.loads(text)["nearness"])
