"""Which cause shows as which reading, as one table of marks for a terminal."""

from __future__ import annotations

from plugread.rules.tables import Rules

MARKS = {
    "always": "A",
    "almost_always": "a",
    "usually": "U",
    "often": "o",
    "sometimes": "s",
    "seldom": "-",
    "hardly_ever": ",",
}
"""Strength of a link -> its mark; a strength without one is marked "?"."""
NO_LINK = "."


def coverage(rules: Rules) -> str:
    """Return the table: a row for each cause, a numbered column for each reading of a plug, then the numbers explained."""
    readings = [finding.id for finding in rules.findings.values() if finding.level == "cylinder" and finding.id != "normal"]
    width = max(map(len, rules.causes))
    head = " " * width + "".join(f"{number:3d}" for number in range(1, len(readings) + 1))
    rows = [_row(rules, cause, readings, width) for cause in rules.causes]
    legend = [f"  {number:2d} {reading}" for number, reading in enumerate(readings, start=1)]
    marks = ", ".join(f"{mark} {word.replace('_', ' ')}" for word, mark in MARKS.items())
    return "\n".join([f"Coverage ({marks})", head, *rows, *legend])


def _row(rules: Rules, cause: str, readings: list[str], width: int) -> str:
    strength = {link.finding: link.strength for link in rules.links if link.cause == cause}
    marks = (MARKS.get(strength[reading], "?") if reading in strength else NO_LINK for reading in readings)
    return cause.ljust(width) + "".join(f"  {mark}" for mark in marks)
