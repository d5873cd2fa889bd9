"""Plots people would rather look at: colours in the a*b* plane, gap by cylinder, chances with their range."""

from __future__ import annotations

from functools import cache
from typing import Any

import streamlit as st

from plugread.notebook.draft import Draft
from plugread.page import state, web, words
from plugread.page.parts.causes import cause_name
from plugread.page.parts.charts import Axis, Bar, Dot, bars, dots
from plugread.page.parts.folded import folded
from plugread.page.reads import View, colour_of
from plugread.records import Diagnosis
from plugread.rules.tables import Rules

CAUSES_SHOWN = 6
LEAST_COLOURS, LEAST_GAPS_MM = 20.0, 0.3
"""The least that the axes span, so that small differences do not look large."""


def plots(draft: Draft, view: View, diagnosis: Diagnosis, rules: Rules) -> None:
    """Draw the plot chosen."""
    with folded(words.PLOTS_TITLE, "plots") as is_open:
        if not is_open:
            return
        names = [words.PLOT_COLOURS, words.PLOT_GAPS, words.PLOT_CAUSES]
        chosen = st.segmented_control(
            words.PLOT_PICK, names, default=names[0], required=True, key=state.box("plot"), label_visibility="collapsed"
        )
        if chosen == words.PLOT_COLOURS:
            _colours(view)
        elif chosen == words.PLOT_GAPS:
            _gaps(draft, view)
        else:
            _causes(diagnosis, rules)


@cache
def _chart() -> Any:
    return st.components.v2.component(
        "plugread_chart", html='<div class="chart" role="img"></div>', css=web.text("chart.css"), js=web.text("chart.js")
    )


def _show(svg: str, description: str) -> None:
    _chart()(key="chart", data={"svg": svg, "alt": description})


def _colours(view: View) -> None:
    plugs = [(n, p, p.measures.a, p.measures.b) for n, p in sorted(view.plugs.items())]
    points = [Dot(a.value, b.value, a.spread, b.spread, str(n), colour_of(p)) for n, p, a, b in plugs if a and b]
    if not points:
        st.text(words.PLOT_COLOURS_NONE)
        return
    said = "; ".join(f"{p.label}: a* {p.x:.0f}, b* {p.y:.0f}" for p in points)
    x, y = Axis(words.PLOT_AXES["a"], LEAST_COLOURS), Axis(words.PLOT_AXES["b"], LEAST_COLOURS)
    _show(dots(points, x, y), words.PLOT_COLOURS_ALT.format(points=said))


def _gaps(draft: Draft, view: View) -> None:
    found = {n: p.measures.gap_mm for n, p in view.plugs.items()}
    points = []
    for place, n in enumerate(draft.cylinders):
        gauge, gap = draft.entry(n).gap_mm, found.get(n)
        if gauge is not None:
            points.append(Dot(place, gauge))
        elif gap is not None:
            points.append(Dot(place, gap.value, 0.0, gap.spread))
    if not points:
        st.text(words.PLOT_GAPS_NONE)
        return
    book = draft.engine.plug.gap_mm
    names = [str(n) for n in draft.cylinders]
    said = "; ".join(f"{names[int(p.x)]}: {p.y:.2f} mm" for p in points)
    x, y = Axis(words.PLOT_AXES["cylinder"], names=names), Axis(words.PLOT_AXES["gap"], LEAST_GAPS_MM)
    line = (book, words.PLOT_BOOK) if book is not None else None
    _show(dots(points, x, y, line), words.PLOT_GAPS_ALT.format(points=said))


def _causes(diagnosis: Diagnosis, rules: Rules) -> None:
    rows = [
        Bar(cause_name(c, rules), c.probability, *(c.band or (c.probability, c.probability)))
        for c in diagnosis.causes[:CAUSES_SHOWN]
    ]
    none = diagnosis.none_listed
    rows.append(Bar(words.CAUSES_NONE, none, none, none))
    said = "; ".join(f"{row.name}: {row.value:.0%}" for row in rows)
    _show(bars(rows), words.PLOT_CAUSES_ALT.format(points=said))
