"""Draws the engine from above: the head, one plug in its well for each cylinder, the banks, and what cylinders share.

The drawing is text (SVG); its colours are classes and theme variables, so it follows light and dark by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Literal

from plugread.engine import Engine
from plugread.page import words

State = Literal["empty", "ticked", "read", "unsure", "refused"]

PITCH, EDGE, HEAD_HEIGHT = 100, 8, 124
FRONT = 34
"""Room at the left for the pulley."""
SHELL, BORE, NOSE, TIP = 33, 27, 19, 4.5
LEVEL = 22
"""From one bracket to the next."""
STAGGER = 30
"""Along the crank, the second bank sits this far behind the first, for two rods share one crank pin."""


@dataclass(frozen=True)
class Place:
    """One cylinder on the drawing; `colour` is the measured nose colour as #rrggbb, None if not measured."""

    number: int
    state: State
    colour: str | None = None
    odd: bool = False


@dataclass(frozen=True)
class Spot:
    """Where a well lies on the drawing."""

    x: float
    y: float
    bank: int


def draw(engine: Engine, places: Sequence[Place], picked: int | None) -> str:
    """Return the drawing as SVG text."""
    spots, width, height = _layout(engine)
    by_number = {place.number: place for place in places}
    parts = [
        _heads(engine, spots, width),
        *_all_shared(engine, spots),
        *(_well(by_number.get(n, Place(n, "empty")), spot, n == picked) for n, spot in spots.items()),
        _front(spots),
    ]
    frame = f'xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}"'
    return f'<svg {frame} aria-hidden="true">{"".join(parts)}</svg>'


def proportion(engine: Engine) -> float:
    """Return width to height of the drawing."""
    _, width, height = _layout(engine)
    return width / height


def describe(engine: Engine, places: Iterable[Place]) -> str:
    """Return the drawing in words, for those who do not see it."""
    return words.drawing_alt(engine.spec.layout, [(place.number, words.PLACE[place.state], place.odd) for place in places])


# ---- where things lie --------------------------------------------------------------------------------------


def _layout(engine: Engine) -> tuple[dict[int, Spot], float, float]:
    """Place each well; banks lie one above the other, seen from above with the front of the engine at the left."""
    spots: dict[int, Spot] = {}
    valley = {"inline": 0, "vee": 46, "flat": 92}[engine.spec.layout]
    for k, bank in enumerate(engine.banks):
        y = EDGE + HEAD_HEIGHT / 2 + 4 + k * (HEAD_HEIGHT + valley)
        for j, number in enumerate(bank):
            spots[number] = Spot(EDGE + FRONT + 6 + PITCH / 2 + j * PITCH + k * STAGGER, y, k)
    width = max(spot.x for spot in spots.values()) + PITCH / 2 + 6 + EDGE
    brackets = sum(_depths(engine).values()) if len(engine.banks) == 1 else 0
    lower = 12 + LEVEL * brackets
    height = max(spot.y for spot in spots.values()) + HEAD_HEIGHT / 2 + lower + 8
    return spots, width, height


def _groups(engine: Engine) -> dict[str, Sequence[tuple[int, ...]]]:
    """Return what some, but not all, cylinders share: coils and carburettors."""
    n = engine.spec.cylinders
    found = {words.COIL: engine.coils, words.FEED: engine.feeds}
    return {label: groups for label, groups in found.items() if any(1 < len(group) < n for group in groups)}


def _depths(engine: Engine) -> dict[str, int]:
    """Return how many levels of brackets each kind of sharing takes."""
    n = engine.spec.cylinders
    return {label: 1 + max(_levels(groups, n).values()) for label, groups in _groups(engine).items()}


def _all_shared(engine: Engine, spots: Mapping[int, Spot]) -> list[str]:
    depth, drawn = 0, []
    for label, groups in _groups(engine).items():
        drawn.append(_shared(label, groups, spots, depth))
        depth += _depths(engine)[label]
    return drawn


# ---- the pieces --------------------------------------------------------------------------------------------


def _heads(engine: Engine, spots: Mapping[int, Spot], width: float) -> str:
    banks = [[spots[n] for n in bank] for bank in engine.banks]
    drawn = "".join(_head(bank, k) for k, bank in enumerate(banks))
    if len(banks) == 1:
        return drawn
    top, bottom = banks[0][0].y + HEAD_HEIGHT / 2 - 4, banks[1][0].y - HEAD_HEIGHT / 2 - 4
    middle = (top + bottom) / 2
    long, high = width - 2 * EDGE - FRONT, bottom - top + 24
    crankcase = f'<rect class="block" x="{EDGE + FRONT}" y="{top - 12:.0f}" width="{long:.0f}" height="{high:.0f}" rx="8"/>'
    axis = f'<path class="axis" d="M{EDGE} {middle:.0f}H{width:.0f}"/>'
    return crankcase + axis + drawn


def _head(bank: Sequence[Spot], k: int) -> str:
    """Draw one head with its bolts between the wells."""
    x, y = bank[0].x - PITCH / 2 - 6, bank[0].y - HEAD_HEIGHT / 2 - 4
    width = len(bank) * PITCH + 12
    bolts = "".join(
        f'<circle class="bolt" cx="{x + 6 + j * PITCH:.0f}" cy="{at:.0f}" r="4"/>'
        for j in range(len(bank) + 1)
        for at in (y + 13, y + HEAD_HEIGHT - 13)
    )
    casting = f'<rect class="head" x="{x:.0f}" y="{y:.0f}" width="{width:.0f}" height="{HEAD_HEIGHT}" rx="14"/>'
    return f'<g data-bank="{k}">{casting}{bolts}</g>'


def _well(place: Place, spot: Spot, picked: bool) -> str:
    marks = " ".join(["well", f"is-{place.state}", *(["is-odd"] if place.odd else []), *(["is-picked"] if picked else [])])
    body = _plug(place) if place.state in ("read", "unsure") or place.colour else _hole(place)
    ring = '<circle class="pick" r="43"/>' if picked else ""
    tag = f'<g class="odd"><rect x="-24" y="35" width="48" height="20" rx="10"/><text y="50">{escape(words.ODD_TAG)}</text></g>'
    number = f'<text class="number" x="-42" y="-35">{place.number}</text>'
    touch = '<rect class="touch" x="-50" y="-62" width="100" height="120"/>'
    inside = f"{touch}{ring}{body}{tag if place.odd else ''}{number}"
    return f'<g class="{marks}" data-cylinder="{place.number}" transform="translate({spot.x:.0f} {spot.y:.0f})">{inside}</g>'


def _plug(place: Place) -> str:
    """Draw a firing end seen end-on: shell, bore, nose in its measured colour, centre electrode, strap."""
    nose = f'class="nose" style="fill:{place.colour}"' if place.colour else 'class="nose unmeasured"'
    doubt = '<circle class="doubt" r="38"/>' if place.state == "unsure" else ""
    return (
        f'<circle class="shell" r="{SHELL}"/><circle class="bore" r="{BORE}"/><circle r="{NOSE}" {nose}/>'
        f'<circle class="tip" r="{TIP}"/><rect class="strap" x="-4.5" y="-{SHELL}" width="9" height="{SHELL - 6}" rx="3"/>{doubt}'
    )


def _hole(place: Place) -> str:
    """Draw a well with nothing measured: dashed while empty, a sign inside if the photo was refused or the plug only ticked."""
    sign = {
        "empty": "",
        "ticked": '<path class="sign" d="M-12 1l9 9 15-19"/>',
        "refused": '<path class="sign" d="M-10-10l20 20m0-20l-20 20"/>',
    }.get(place.state, "")
    return f'<circle class="hole" r="{SHELL}"/>{sign}'


def _shared(label: str, groups: Sequence[tuple[int, ...]], spots: Mapping[int, Spot], first_level: int) -> str:
    """Draw what cylinders share: brackets under an inline head, lines across the valley of a two-bank engine."""
    parts: list[str] = []
    inline = len({spot.bank for spot in spots.values()}) == 1
    for group, level in _levels(groups, len(spots)).items():
        members = sorted((spots[number] for number in group), key=lambda spot: (spot.bank, spot.x))
        name = f"{label} {chr(ord('A') + groups.index(group))}"
        parts.append(_bracket(members, first_level + level, name) if inline else _across(members, level, name))
    return f'<g class="shared">{"".join(parts)}</g>'


def _levels(groups: Sequence[tuple[int, ...]], n: int) -> dict[tuple[int, ...], int]:
    """Return how far down each bracket lies: the narrow ones first, no two that overlap on one level."""
    levels: dict[tuple[int, ...], int] = {}
    for group in sorted((g for g in groups if 1 < len(g) < n), key=lambda g: max(g) - min(g)):
        taken = {level for other, level in levels.items() if min(other) <= max(group) and min(group) <= max(other)}
        levels[group] = next(level for level in range(n) if level not in taken)
    return levels


def _bracket(members: Sequence[Spot], level: int, name: str) -> str:
    foot = members[0].y + HEAD_HEIGHT / 2 - 4
    y = foot + 12 + LEVEL * level
    left, right = members[0].x, members[-1].x
    stems = "".join(f"M{spot.x:.0f} {foot:.0f}V{y:.0f}" for spot in members)
    label = f'<text x="{(left + right) / 2:.0f}" y="{y + 15:.0f}">{escape(name)}</text>'
    return f'<path d="{stems}M{left:.0f} {y:.0f}H{right:.0f}"/>{label}'


def _across(members: Sequence[Spot], k: int, name: str) -> str:
    """Link wells across the valley by straight lines; two on the same bank by a bow beside their head."""
    at = [(spot.x + 3 * k, spot.y + (34 if spot.bank == 0 else -34)) for spot in members]
    line = f"M{at[0][0]:.0f} {at[0][1]:.0f}"
    for one, other, (x0, y0), (x1, y1) in zip(members, members[1:], at, at[1:], strict=False):
        bow = (52 if one.bank == 0 else -52) if one.bank == other.bank else 0
        line += f"Q{(x0 + x1) / 2:.0f} {(y0 + y1) / 2 + bow:.0f} {x1:.0f} {y1:.0f}"
    x, y = members[0].x + 3 * k, members[0].y + HEAD_HEIGHT / 2 + 12
    return f'<path d="{line}"/><text x="{x:.0f}" y="{y:.0f}">{escape(name)}</text>'


def _front(spots: Mapping[int, Spot]) -> str:
    """Draw the pulley at the front end of the crank."""
    ys = sorted({spot.y for spot in spots.values()})
    y = sum(ys) / len(ys) - 4
    return (
        f'<g class="front" transform="translate({EDGE + FRONT - 12} {y:.0f})"><rect x="0" y="-32" width="11" height="64" rx="3"/>'
        f'<text transform="translate(-9 0) rotate(-90)">{escape(words.FRONT)}</text></g>'
    )
