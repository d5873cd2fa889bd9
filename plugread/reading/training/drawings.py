"""Two pictures of a model, as SVG text: what it takes for what, and how it grows with the plugs it is taught."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

_INK, _PALE, _LINE = "#22303c", "#6b7a88", "#d5dbe1"
_HIT, _MISS = (31, 94, 125), (176, 72, 38)
_FONT = 'font-family="system-ui, sans-serif" font-size="12"'
_CELL, _MARGIN, _TOP, _NARROWEST = 26, 150, 150, 340
_WIDTH, _HEIGHT, _LEFT, _FOOT = 520, 320, 60, 50


def confusion_svg(card: Mapping[str, Any]) -> str:
    """Return the confusion picture of a model card: rows the truth, columns the answer, share of each row's photos."""
    names = [name.replace("_", " ") for name in card["readings"]]
    counts = card["confusion"]
    parts = [_text(_MARGIN - 8, _TOP + k * _CELL + 17, name, anchor="end") for k, name in enumerate(names)]
    parts += [_text(0, 0, name, move=_slanted(k)) for k, name in enumerate(names)]
    parts += [_cell(i, j, counts) for i in range(len(names)) for j in range(len(names))]
    parts.append(_text(_MARGIN - 8, _TOP - 10, "true \u2193  read as \u2192", anchor="end", colour=_PALE))
    side = _CELL * len(names)
    return _picture(max(_MARGIN + side + 110, _NARROWEST), _TOP + side + 16, "What the taught model takes for what", parts)


def _slanted(column: int) -> str:
    return f"translate({_MARGIN + column * _CELL + 16} {_TOP - 8}) rotate(-45)"


def _cell(row: int, column: int, counts: Sequence[Sequence[int]]) -> str:
    share = counts[row][column] / max(sum(counts[row]), 1)
    x, y = _MARGIN + column * _CELL, _TOP + row * _CELL
    tone = _HIT if row == column else _MISS
    mixed = ",".join(str(round(255 + (c - 255) * math.sqrt(share))) for c in tone)
    box = f'<rect x="{x}" y="{y}" width="{_CELL}" height="{_CELL}" fill="rgb({mixed})" stroke="{_LINE}"/>'
    if counts[row][column] == 0:
        return box
    return box + _text(x + _CELL / 2, y + 17, str(counts[row][column]), anchor="middle", colour="#fff" if share > 0.35 else _INK)


def curve_svg(card: Mapping[str, Any]) -> str:
    """Return the learning curve of a model card: share right on plugs held out against plugs taught, logarithmic."""
    curve, floor = card["learning_curve"], card["rules_alone"]["balanced_accuracy"]
    sizes = [math.log10(size) for size, _ in curve]
    low, high = min(sizes) - 0.1, max(sizes) + 0.1
    points = [(_across(size, low, high), _up(share)) for size, (_, share) in zip(sizes, curve, strict=True)]
    parts = [part for tenth in range(0, 11, 2) for part in _gridline(tenth / 10)]
    parts.append(f'<path d="M{_LEFT} {_up(floor):.1f}H{_WIDTH - 20}" stroke="{_PALE}" stroke-dasharray="5 4"/>')
    parts.append(_text(_LEFT + 6, _up(floor) - 6, "colour rules alone", colour=_PALE))
    parts.append(
        f'<polyline points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in points)}" fill="none" stroke="rgb{_HIT}" stroke-width="2"/>'
    )
    for (x, y), (size, share) in zip(points, curve, strict=True):
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="rgb{_HIT}"/>')
        parts.append(_text(x, y - 10, f"{100 * share:.0f} %", anchor="middle"))
        parts.append(_text(x, _HEIGHT - _FOOT + 18, str(size), anchor="middle"))
    parts.append(_text((_LEFT + _WIDTH) / 2, _HEIGHT - 10, "plugs it was taught", anchor="middle", colour=_PALE))
    return _picture(_WIDTH, _HEIGHT, "Right on plugs held out, mean over readings", parts)


def _across(size: float, low: float, high: float) -> float:
    return _LEFT + (size - low) / (high - low) * (_WIDTH - 20 - _LEFT)


def _up(share: float) -> float:
    return _HEIGHT - _FOOT - share * (_HEIGHT - _FOOT - 50)


def _gridline(share: float) -> tuple[str, str]:
    y = _up(share)
    return f'<path d="M{_LEFT} {y:.1f}H{_WIDTH - 20}" stroke="{_LINE}"/>', _text(
        _LEFT - 8, y + 4, f"{100 * share:.0f} %", anchor="end", colour=_PALE
    )


def _text(x: float, y: float, words: str, *, anchor: str = "start", colour: str = _INK, move: str = "") -> str:
    turned = f' transform="{move}"' if move else ""
    return f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}" fill="{colour}"{turned}>{words}</text>'


def _picture(width: int, height: int, title: str, parts: Sequence[str]) -> str:
    head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}" {_FONT}>'
    back = f'<title>{title}</title><rect width="{width}" height="{height}" fill="#fff"/>'
    heading = f'<text x="16" y="24" font-size="14" font-weight="600" fill="{_INK}">{title}</text>'
    return "\n".join((head, back, heading, *parts, "</svg>\n"))
