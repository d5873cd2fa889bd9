"""Small charts as drawings (SVG text): dots with their range over two axes, and bars of chances.

Colours are classes and theme variables, so a chart follows light and dark by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from math import ceil, floor, log10

WIDTH, HEIGHT = 380, 270
LEFT, RIGHT, TOP, BOTTOM = 46, 14, 14, 44
STEPS = (1.0, 2.0, 5.0, 10.0)
ROW, ROW_TOP = 40, 6
LINES_WANTED = 5


@dataclass(frozen=True)
class Dot:
    """One dot: place, half-ranges (0 = none drawn), the text beside it, its fill as #rrggbb (None = the page's own)."""

    x: float
    y: float
    x_spread: float = 0.0
    y_spread: float = 0.0
    label: str = ""
    fill: str | None = None


@dataclass(frozen=True)
class Bar:
    """One chance (0 to 1) with its range and name."""

    name: str
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Axis:
    """One axis: what it shows, the least range it spans, and its marks where they are names (one at each whole number)."""

    title: str
    least: float = 1.0
    names: Sequence[str] = ()


@dataclass(frozen=True)
class Scale:
    """From values to the drawing, with the marks along the axis."""

    low: float
    high: float
    start: float
    end: float
    marks: Sequence[tuple[float, str]]

    def __call__(self, value: float) -> float:
        """Return where a value lies on the drawing."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


def dots(points: Sequence[Dot], x: Axis, y: Axis, line: tuple[float, str] | None = None) -> str:
    """Return dots over two axes; `line` is a level drawn across, with its name."""
    across = _scale(x, [p.x - p.x_spread for p in points], [p.x + p.x_spread for p in points], LEFT, WIDTH - RIGHT)
    level = [line[0]] if line else []
    lows, highs = [p.y - p.y_spread for p in points] + level, [p.y + p.y_spread for p in points] + level
    up = _scale(y, lows, highs, HEIGHT - BOTTOM, TOP)
    parts = [*_axes(across, up, x.title, y.title), *(_dot(p, across, up) for p in points)]
    if line:
        at = up(line[0])
        parts.append(f'<path class="level" d="M{LEFT} {at:.1f}H{WIDTH - RIGHT}"/>')
        parts.append(f'<text class="small end" x="{WIDTH - RIGHT}" y="{at - 5:.1f}">{escape(line[1])}</text>')
    return _frame(HEIGHT, parts)


def bars(rows: Sequence[Bar]) -> str:
    """Return chances one below the other, each with its range."""
    foot = ROW_TOP + ROW * len(rows)
    across = Scale(0.0, 1.0, 8, WIDTH - 22, [(k / 4, f"{k / 4:.0%}") for k in range(5)])
    parts = []
    for value, name in across.marks:
        parts.append(f'<path class="grid" d="M{across(value):.1f} {ROW_TOP}V{foot}"/>')
        parts.append(f'<text class="small mid" x="{across(value):.1f}" y="{foot + 17}">{name}</text>')
    for k, row in enumerate(rows):
        y = ROW_TOP + ROW * k + 28
        parts.append(f'<text x="8" y="{y - 12}">{escape(row.name)}</text>')
        parts.append(f'<path class="range" d="M{across(row.low):.1f} {y}H{across(row.high):.1f}"/>')
        parts.append(f'<circle class="dot" cx="{across(row.value):.1f}" cy="{y}" r="5.5"/>')
    return _frame(foot + 24, parts)


# ---- axes --------------------------------------------------------------------------------------------------


def _scale(axis: Axis, lows: Sequence[float], highs: Sequence[float], start: float, end: float) -> Scale:
    """Span the values with a margin, at least `axis.least`, and put round numbers along it."""
    if axis.names:
        return Scale(-0.5, len(axis.names) - 0.5, start, end, list(enumerate(axis.names)))
    low, high = min(lows), max(highs)
    wide = max(1.2 * (high - low), axis.least)
    low, high = (low + high - wide) / 2, (low + high + wide) / 2
    step = round_step(wide / LINES_WANTED)
    places = max(0, ceil(-log10(step) - 1e-9))
    marks = [(k * step, f"{k * step:.{places}f}") for k in range(ceil(low / step), floor(high / step) + 1)]
    return Scale(low, high, start, end, marks)


def round_step(about: float) -> float:
    """Return 1, 2 or 5 times a power of ten, no smaller than `about`."""
    power = float(10.0 ** floor(log10(about)))
    return next(step * power for step in STEPS if step * power >= about * (1 - 1e-9))


def _axes(across: Scale, up: Scale, x_title: str, y_title: str) -> Iterator[str]:
    foot, middle = HEIGHT - BOTTOM, (HEIGHT - BOTTOM + TOP) / 2
    for value, name in across.marks:
        yield f'<text class="small mid" x="{across(value):.1f}" y="{foot + 17}">{escape(name)}</text>'
    for value, name in up.marks:
        yield f'<path class="grid" d="M{LEFT} {up(value):.1f}H{WIDTH - RIGHT}"/>'
        yield f'<text class="small end" x="{LEFT - 6}" y="{up(value) + 4:.1f}">{escape(name)}</text>'
    yield f'<text class="small mid" x="{(LEFT + WIDTH - RIGHT) / 2:.0f}" y="{HEIGHT - 6}">{escape(x_title)}</text>'
    yield f'<text class="small mid" transform="translate(11 {middle:.0f}) rotate(-90)">{escape(y_title)}</text>'


def _dot(point: Dot, across: Scale, up: Scale) -> str:
    x, y = across(point.x), up(point.y)
    ranges = ""
    if point.x_spread:
        ranges += f"M{across(point.x - point.x_spread):.1f} {y:.1f}H{across(point.x + point.x_spread):.1f}"
    if point.y_spread:
        ranges += f"M{x:.1f} {up(point.y - point.y_spread):.1f}V{up(point.y + point.y_spread):.1f}"
    fill = f' style="fill:{point.fill}"' if point.fill else ""
    radius = 9 if point.fill else 5.5
    label = f'<text class="label" x="{x + 11:.1f}" y="{y - 9:.1f}">{escape(point.label)}</text>' if point.label else ""
    return f'<path class="range" d="{ranges}"/><circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="{radius}"{fill}/>{label}'


def _frame(height: float, parts: Sequence[str]) -> str:
    space = 'xmlns="http://www.w3.org/2000/svg"'
    return f'<svg {space} viewBox="0 0 {WIDTH} {height:.0f}" aria-hidden="true">{"".join(parts)}</svg>'
