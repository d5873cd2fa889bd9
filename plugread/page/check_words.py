"""All wording of checks: the next one, the boxes for a result, what a result moved, and the checks page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from plugread.page.words import about_cylinders, sentence

# ---- the next check ----------------------------------------------------------------------------------------

TITLE = "Next check"
TITLE_SPARE = "A check, if you want to be surer"
NONE = "No further check is worth its time."
WHY = "Tells"
FIRST = "First"
RUNNING = "Fit plugs and leads again, to the book's torque. Let the engine run only as long as the check takes."
HOW = "How"
TOOLS = "Tools"
MINUTES = "about {minutes:.0f} min"
RESULT = "What came out?"
REST = "{outcome}: {where}"
RESULT_AT = "Cylinder {n}"
OTHERS = "Or one of these"
DONE = "Checks done"
UNDO = "Take back: {name}"
UNIT = "Unit"
VALUE = "Measured"
SPEC, SPEC_TO = "By the book", "up to, if a range"
LEAD_LENGTH, LEAD_METRES = "Length of lead {n}, m", "length, m"
LEAD_HELP = "The length of each lead tells a long good lead from a short bad one. Without it the leads are only compared."
LEAK_WHERE, LEAK_NOWHERE = "Air heard at", "not heard"
LEAKS_TO = {
    "intake": "Intake",
    "exhaust": "Exhaust",
    "crankcase": "Oil filler",
    "coolant": "Coolant",
    "next_cylinder": "Next cylinder",
}
UNITS = {
    "percent": "%",
    "kohm": "kΩ",
    "ohm": "Ω",
    "Mohm": "MΩ",
    "deg": "° before top dead centre",
    "litre_per_1000_km": "l per 1000 km",
}

# ---- what a result moved ----------------------------------------------------------------------------------

MOVED_UNKNOWN = "How far the last result moved the list cannot be told. {why}"
MOVED_TITLE = "What the last result moved"
MOVED_FIRST = "now first"
MOVED_UP, MOVED_DOWN, MOVED_TO = "Likelier", "Less likely", "to"

# ---- checks page -------------------------------------------------------------------------------------------

PAGE_TITLE = "Checks"
PAGE_TEXT = "Results you have, in any order. Each number re-ranks the causes on the bench at once."
PAGE_PICK = "Check"
PAGE_ANSWER = "With this: {verdict} First on the list: {cause}"
PAGE_NONE = "no cause stands out"


def unit(name: str) -> str:
    """Return a unit as people write it."""
    return UNITS.get(name, name)


def came_out(check: str, outcomes: Iterable[tuple[str, Sequence[int]]]) -> str:
    """Return what came out of a check, e.g. "Compression, dry: low (cylinder 3)"; outcomes are a name and its cylinders."""
    said = [name[:1].lower() + name[1:] + (f" ({about_cylinders(where)})" if where else "") for name, where in outcomes]
    return f"{check}: {'; '.join(said)}"


def points(text: str, cylinders: Sequence[int]) -> list[tuple[str, str]]:
    """Return a remark like "a points to b; c points to d" as pairs (a, b), without the `cylinders` its heading names.

    A part of another form stands alone, with "" before it.
    """
    if len(cylinders) == 1:
        text = text.replace(f" (cylinder {cylinders[0]})", "")
    parts = [part.partition(" points to ") for part in text.removesuffix(".").split("; ") if part.strip()]
    return [(sentence(a).removesuffix("."), sentence(b)) if found else ("", sentence(a)) for a, found, b in parts]
