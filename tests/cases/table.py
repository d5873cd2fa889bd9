"""Prints how the tool does on a folder of cases: `python -m tests.cases.table [FOLDER] [--all]`."""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

from plugread.errors import PlugreadError
from plugread.records import Diagnosis
from tests.cases.bank import HERE, BankCase, answer, faults, load_case_files, shown


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=HERE, help="folder of case files (default: the bank)")
    parser.add_argument("--all", action="store_true", help="list the cases that hold as well")
    options = parser.parse_args()
    for line in report(load_case_files(options.folder), every=options.all):
        sys.stdout.write(line + "\n")


def report(cases: list[BankCase], *, every: bool) -> Iterator[str]:
    """Yield the cases in which something fails (or all), then the shares."""
    held: dict[str, list[bool]] = defaultdict(list)
    for case in cases:
        try:
            given = answer(case)
        except PlugreadError as problem:
            held["answered"].append(False)
            yield f"{case.name}: {case.title}\n    refused: {problem}"
            continue
        held["answered"].append(True)
        wrong = faults(case, given)
        for key, fault in wrong.items():
            held[key].append(fault is None)
        if every or any(wrong.values()):
            yield from _one(case, given, wrong)
    for key, marks in held.items():
        yield f"{key:17} {sum(marks):4} of {len(marks):4}  {sum(marks) / len(marks):.3f}"


def _one(case: BankCase, given: Diagnosis, wrong: dict[str, str | None]) -> Iterator[str]:
    checks = ", ".join(check.id for check in given.next_checks[:2]) or "no check"
    yield f"{case.name}: {case.title}"
    yield f"    {', '.join(map(shown, given.causes[:3]))}; {given.verdict.action}; {checks}"
    yield from (f"    {key}: {fault}" for key, fault in wrong.items() if fault)


if __name__ == "__main__":
    main()
