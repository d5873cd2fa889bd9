"""Style sheets, scripts and page pieces in their own languages, shipped with the package."""

from __future__ import annotations

from functools import cache
from importlib.resources import files


@cache
def text(name: str) -> str:
    """Return one file of this folder as text."""
    return files(__name__).joinpath(name).read_text(encoding="utf-8")
