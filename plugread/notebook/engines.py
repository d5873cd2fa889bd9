"""The engines a visit can start from, by layout."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

from plugread.records import EngineSpec


@cache
def presets() -> dict[str, EngineSpec]:
    """Return the shipped engines by name, the commonest first."""
    text = Path(__file__).with_name("engines.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["engine"]
    return {row.pop("name"): EngineSpec(**{**row, "firing_order": tuple(row["firing_order"])}) for row in rows}


def usual() -> EngineSpec:
    """Return the engine a first visit starts from."""
    return next(iter(presets().values()))
