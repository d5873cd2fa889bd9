"""Prints how the tool does on a folder of cases: `python -m tests.cases.table [FOLDER] [--all]`."""

from __future__ import annotations

import argparse
from pathlib import Path

from plugread.errors import PlugreadError
from tests.cases.bank import HERE, MARKS, answer, faults, load_case_files, shown


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=HERE, help="folder of case files (default: the bank)")
    parser.add_argument("--all", action="store_true", help="list the cases that hold as well")
    options = parser.parse_args()
    held: dict[str, list[bool]] = {key: [] for key in MARKS}
    for case in load_case_files(options.folder):
        try:
            given = answer(case)
        except PlugreadError as problem:
            print(f"{case.name}\n    refused: {problem}")
            continue
        wrong = faults(case, given)
        for key, fault in wrong.items():
            held[key].append(fault is None)
        if options.all or any(wrong.values()):
            print(f"{case.name}: {case.title}")
            print(f"    {', '.join(map(shown, given.causes[:3]))}; {given.verdict.action}; {', '.join(c.id for c in given.next_checks[:2])}")
            print(*(f"    {key}: {fault}" for key, fault in wrong.items() if fault), sep="\n")
    for key, marks in held.items():
        print(f"{key:17} {sum(marks):4} of {len(marks):4}" + (f"  {sum(marks) / len(marks):.3f}" if marks else ""))


if __name__ == "__main__":
    main()
