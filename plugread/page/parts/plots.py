"""Plots people would rather look at: colours in the a*b* plane, gap by cylinder, probabilities with their range."""

from __future__ import annotations

from typing import Any

import altair as alt
import pandas as pd
import streamlit as st

from plugread.notebook.draft import Draft
from plugread.page import state, words
from plugread.page.parts.causes import cause_name
from plugread.page.reads import View, colour_of
from plugread.records import Diagnosis
from plugread.rules.tables import Rules

HEIGHT = 300
CAUSES_SHOWN = 6
INK = {"light": "#2f2d2b", "dark": "#edebe8"}


def plots(draft: Draft, view: View, diagnosis: Diagnosis, rules: Rules) -> None:
    """Draw the plot chosen."""
    with st.expander(words.PLOTS_TITLE, key=state.fold("plots")):
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


def _show(chart: Any, description: str) -> None:
    ink = INK[st.context.theme.type or "light"]
    chart = chart.properties(height=HEIGHT).configure(aria=False)
    chart = chart.configure_rule(color=ink).configure_text(color=ink).configure_point(color=ink)
    st.altair_chart(chart, alt=description, width="stretch")


def _colours(view: View) -> None:
    rows = [
        {
            "cylinder": str(n),
            "a": m.a.value,
            "b": m.b.value,
            "a0": m.a.value - m.a.spread,
            "a1": m.a.value + m.a.spread,
            "b0": m.b.value - m.b.spread,
            "b1": m.b.value + m.b.spread,
            "colour": colour_of(p),
        }
        for n, p in sorted(view.plugs.items())
        if (m := p.measures).a is not None and m.b is not None
    ]
    if not rows:
        st.text(words.PLOT_COLOURS_NONE)
        return
    base = alt.Chart(pd.DataFrame(rows))
    x = alt.X("a:Q", title=words.PLOT_AXES["a"], scale=alt.Scale(zero=False, padding=24))
    y = alt.Y("b:Q", title=words.PLOT_AXES["b"], scale=alt.Scale(zero=False, padding=24))
    spread = base.mark_rule(opacity=0.3, aria=False).encode(x=alt.X("a0:Q", title=words.PLOT_AXES["a"]), x2="a1:Q", y=y)
    spread += base.mark_rule(opacity=0.3, aria=False).encode(x=x, y=alt.Y("b0:Q", title=words.PLOT_AXES["b"]), y2="b1:Q")
    dots = base.mark_circle(size=260, opacity=1, stroke="#666", strokeWidth=1, aria=False).encode(
        x=x, y=y, color=alt.Color("colour:N", scale=None)
    )
    labels = base.mark_text(dx=17, dy=-13, fontSize=14, fontWeight="bold", aria=False).encode(x=x, y=y, text="cylinder:N")
    said = "; ".join(f"{r['cylinder']}: a* {r['a']:.0f}, b* {r['b']:.0f}" for r in rows)
    _show(spread + dots + labels, words.PLOT_COLOURS_ALT.format(points=said))


def _gaps(draft: Draft, view: View) -> None:
    rows: list[dict[str, Any]] = []
    for n in draft.cylinders:
        gauge, plug = draft.entry(n).gap_mm, view.plugs.get(n)
        if gauge is not None:
            rows.append({"cylinder": str(n), "gap": gauge, "low": gauge, "high": gauge})
        elif plug is not None and plug.measures.gap_mm is not None:
            gap = plug.measures.gap_mm
            rows.append({"cylinder": str(n), "gap": gap.value, "low": gap.value - gap.spread, "high": gap.value + gap.spread})
    if not rows:
        st.text(words.PLOT_GAPS_NONE)
        return
    base = alt.Chart(pd.DataFrame(rows)).encode(
        x=alt.X("cylinder:N", title=words.PLOT_AXES["cylinder"], axis=alt.Axis(labelAngle=0))
    )
    y = alt.Y("gap:Q", title=words.PLOT_AXES["gap"], scale=alt.Scale(zero=False, padding=20))
    chart = base.mark_rule(strokeWidth=2, aria=False).encode(
        y=alt.Y("low:Q", title=words.PLOT_AXES["gap"], scale=alt.Scale(zero=False)), y2="high:Q"
    ) + base.mark_point(filled=True, size=110, aria=False).encode(y=y)
    if draft.engine.plug.gap_mm is not None:
        chart += alt.Chart(pd.DataFrame([{"gap": draft.engine.plug.gap_mm}])).mark_rule(strokeDash=[6, 4], aria=False).encode(y=y)
    _show(chart, words.PLOT_GAPS_ALT.format(points="; ".join(f"{r['cylinder']}: {r['gap']:.2f} mm" for r in rows)))


def _causes(diagnosis: Diagnosis, rules: Rules) -> None:
    rows = [
        {
            "cause": cause_name(c, rules),
            "p": c.probability,
            "low": c.band[0] if c.band else c.probability,
            "high": c.band[1] if c.band else c.probability,
        }
        for c in diagnosis.causes[:CAUSES_SHOWN]
    ]
    rows.append(
        {"cause": words.CAUSES_NONE, "p": diagnosis.none_listed, "low": diagnosis.none_listed, "high": diagnosis.none_listed}
    )
    base = alt.Chart(pd.DataFrame(rows)).encode(y=alt.Y("cause:N", sort=None, title=None, axis=alt.Axis(labelLimit=190)))
    x = alt.X("p:Q", title=words.PLOT_AXES["probability"], scale=alt.Scale(domain=[0, 1]), axis=alt.Axis(format="%"))
    chart = base.mark_rule(strokeWidth=2, aria=False).encode(
        x=alt.X("low:Q", title=words.PLOT_AXES["probability"]), x2="high:Q"
    ) + base.mark_point(filled=True, size=110, aria=False).encode(x=x)
    _show(chart, words.PLOT_CAUSES_ALT.format(points="; ".join(f"{r['cause']}: {r['p']:.0%}" for r in rows)))
