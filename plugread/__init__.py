"""Read spark plugs: measured colour, exact probability, a reasoned next step.

Importing this package loads nothing heavy; each name is fetched from its module on first use.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_HOME = {
    "load_case": "plugread.casefile",
    "parse_case": "plugread.casefile",
    "read_photo": "plugread.pipeline",
    "diagnose_case": "plugread.pipeline",
    "load_rules": "plugread.rules.load",
    "Engine": "plugread.engine",
    "Case": "plugread.records",
    "Diagnosis": "plugread.records",
    "PhotoRead": "plugread.records",
    "PlugreadError": "plugread.errors",
}

__all__ = ["__version__", *_HOME]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'plugread' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
