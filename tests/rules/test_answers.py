"""Answers of the owner move the causes the way the trade says."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.rules.garage import anywhere, every, solved

ANSWERS = tomllib.loads((Path(__file__).parent / "answers.toml").read_text("utf-8"))["answer"]


@pytest.mark.parametrize("row", ANSWERS, ids=lambda row: f"{row['sign']}-{row['engine']}-{row['plugs'].replace(' ', '-')}")
def test_answer_moves_the_causes(row: dict[str, Any]) -> None:
    """A "yes" raises what it speaks for and lowers what it speaks against (common practice, no source)."""
    where, finding = row["plugs"].split()
    plugs = every(row["engine"], finding) if where == "all" else dict.fromkeys((2,) if where == "one" else (2, 3), (finding,))
    before, after = solved(row["engine"], plugs), solved(row["engine"], plugs, seen=[row["sign"]])
    risen = [cause for cause in row["raises"] if anywhere(after, cause) <= anywhere(before, cause)]
    fallen = [cause for cause in row["lowers"] if anywhere(after, cause) >= anywhere(before, cause)]
    assert (risen, fallen) == ([], [])
