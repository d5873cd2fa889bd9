"""How far phones are held from what they photograph closely (`lens.toml`)."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib import resources


@lru_cache(maxsize=1)
def usual_nearness() -> tuple[float, float]:
    """Return one over the usual distance from lens to plug (1/mm) and its 1 sigma, for where the thread does not tell."""
    text = resources.files("plugread.measure").joinpath("lens.toml").read_text(encoding="utf-8")
    row = tomllib.loads(text)["nearness"]
    return float(row["usual"]), float(row["spread"])
