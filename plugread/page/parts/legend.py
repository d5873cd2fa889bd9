"""What the lines on a photo stand for: each with its colour and its dashes, and only those that show."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

import streamlit as st

from plugread.page import words
from plugread.page.parts.spot import Window
from plugread.records import Line

DASH_PX = 1.6
"""A dash on a swatch is so many pixels for each line width."""


def legend(lines: Iterable[Line], size: tuple[int, int], window: Window, *, spot: bool) -> None:
    """Draw the key to the lines that show in the window; `spot` = the ring round the measured spot is there too."""
    items = [_item(_swatch(line), words.LINES[line.name]) for line in showing(lines, size, window)]
    items += [_item('<i class="ring"></i>', words.LINE_SPOT)] if spot else []
    if items:
        st.html(f'<ul class="pr-lines" aria-label="{escape(words.LINES_LABEL)}">{"".join(items)}</ul>')


def showing(lines: Iterable[Line], size: tuple[int, int], window: Window) -> list[Line]:
    """Return the first line of each name that crosses the window; a frame all round it is out of sight."""
    x0, x1, y0, y1 = window[0] * size[0], window[2] * size[0], window[1] * size[1], window[3] * size[1]
    found: dict[str, Line] = {}
    for line in lines:
        x, y, w, h = line.box
        meets = x < x1 and x + w > x0 and y < y1 and y + h > y0
        round_it = x < x0 and x + w > x1 and y < y0 and y + h > y1
        if meets and not round_it:
            found.setdefault(line.name, line)
    return list(found.values())


def _swatch(line: Line) -> str:
    """Return a piece of the line as it is drawn, on the dark seam it has on the photo."""
    ink = "#{:02x}{:02x}{:02x}".format(*line.ink)
    stops, at = [], 0.0
    for number, length in enumerate(line.dash or (1,)):
        colour, start = ("transparent" if number % 2 else ink), at
        at += DASH_PX * length
        stops.append(f"{colour} {start:g}px {at:g}px")
    return f'<i class="is-{escape(line.name)}" style="--ink:{ink};--dash:repeating-linear-gradient(90deg,{",".join(stops)})"></i>'


def _item(swatch: str, name: str) -> str:
    return f"<li>{swatch}{escape(name)}</li>"
