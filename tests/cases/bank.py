"""Loads the case files of this folder and marks the tool's answers against the expectation at the end of each.

A case file is an ordinary case followed by an `[expect]` table, which is cut off before the tool sees the text:

kind : published (a real case in print), rule (a manual's own statement, or a case built from one), common_practice.
first_any : causes that may stand first. top3_all : entries that must each be among the first three.
never_first : causes that must not stand first. verdicts : actions a mechanic would sign.
first_checks_any : at least one of them must be among the first two checks advised.
below : cause -> probability it must stay under. source, why : where the answer comes from, and the reasoning in a line.

A cause is written `id`, or `id@2-3` when exactly these cylinders are meant; `a|b` means either will do.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from plugread.casefile import parse_case
from plugread.pipeline import diagnose_case
from plugread.records import CauseRank, Diagnosis

HERE = Path(__file__).parent
EXPECT = re.compile(r"^\[expect\]$", re.MULTILINE)
KEYS = ("kind", "first_any", "top3_all", "never_first", "verdicts", "first_checks_any", "below", "source", "why")
KINDS = ("published", "rule", "common_practice")


@dataclass(frozen=True)
class BankCase:
    """One case: its file name without ending, the first comment line, the text for the tool, the expectation."""

    name: str
    title: str
    text: str
    expect: Mapping[str, Any]


def load_case_files(folder: Path = HERE) -> list[BankCase]:
    """Return the cases of a folder in the order of their names."""
    return [_load(path) for path in sorted(folder.glob("*.toml"))]


def _load(path: Path) -> BankCase:
    text = path.read_text(encoding="utf-8")
    mark = EXPECT.search(text)
    if mark is None:
        raise ValueError(f"{path.name}: no [expect] table")
    title = text.splitlines()[0].lstrip("# ")
    return BankCase(path.stem, title, text[: mark.start()], tomllib.loads(text[mark.start() :])["expect"])


def answer(case: BankCase) -> Diagnosis:
    """Return the tool's answer; the robustness figures are left out for speed."""
    return diagnose_case(parse_case(case.text), shakes=0)


# ---- marking ---------------------------------------------------------------------------------------------


def mark_first(expect: Mapping[str, Any], given: Diagnosis) -> str | None:
    """Return why the first cause is wrong, or None."""
    first, wanted = given.causes[0], expect["first_any"]
    return None if _any(wanted, [first]) else f"first is {shown(first)}, expected one of {_list(wanted)}"


def mark_top3(expect: Mapping[str, Any], given: Diagnosis) -> str | None:
    """Return what is missing among the first three causes, or None."""
    missing = [entry for entry in expect["top3_all"] if not _any([entry], given.causes[:3])]
    return f"{_list(missing)} not in {', '.join(map(shown, given.causes[:3]))}" if missing else None


def mark_never_first(expect: Mapping[str, Any], given: Diagnosis) -> str | None:
    """Return the forbidden cause that stands first, or None."""
    first = given.causes[0]
    return f"{shown(first)} must not be first" if _any(expect["never_first"], [first]) else None


def mark_verdict(expect: Mapping[str, Any], given: Diagnosis) -> str | None:
    """Return why the verdict is wrong, or None."""
    action = given.verdict.action
    return None if action in expect["verdicts"] else f"verdict {action}, expected {' or '.join(expect['verdicts'])}"


def mark_check(expect: Mapping[str, Any], given: Diagnosis) -> str | None:
    """Return why the checks advised first are not sensible, or None."""
    advised = [check.id for check in given.next_checks[:2]]
    wanted = expect["first_checks_any"]
    return None if set(advised) & set(wanted) else f"checks {_list(advised) or 'none'}, expected one of {_list(wanted)}"


def mark_below(expect: Mapping[str, Any], given: Diagnosis) -> str | None:
    """Return the cause that is held for more probable than the evidence allows, or None."""
    over = [c for c in given.causes for name, limit in expect["below"].items() if _is(name, c) and c.probability >= limit]
    return f"too sure of {', '.join(map(shown, over))}, limits {dict(expect['below'])}" if over else None


MARKS: Mapping[str, Callable[[Mapping[str, Any], Diagnosis], str | None]] = {
    "first_any": mark_first,
    "top3_all": mark_top3,
    "never_first": mark_never_first,
    "verdicts": mark_verdict,
    "first_checks_any": mark_check,
    "below": mark_below,
}


def faults(case: BankCase, given: Diagnosis) -> dict[str, str | None]:
    """Return, for each thing the case expects, None if it holds and else what is wrong."""
    return {key: mark(case.expect, given) for key, mark in MARKS.items() if key in case.expect}


def shown(cause: CauseRank) -> str:
    """Return a cause as `id@2-3 0.61`."""
    place = "@" + "-".join(map(str, sorted(cause.cylinders))) if cause.cylinders else ""
    return f"{cause.id}{place} {cause.probability:.2f}"


def _any(entries: Iterable[str], causes: Iterable[CauseRank]) -> bool:
    causes = list(causes)
    return any(_is(name, cause) for entry in entries for name in entry.split("|") for cause in causes)


def _is(name: str, cause: CauseRank) -> bool:
    wanted, _, place = name.partition("@")
    return cause.id == wanted and (not place or {int(n) for n in place.split("-")} == set(cause.cylinders))


def _list(names: Iterable[str]) -> str:
    return ", ".join(names)
