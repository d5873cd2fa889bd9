"""All plugs side by side: close-up, measured colour, what each looks like, gap, how far off the rest; the odd one named."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from html import escape

import streamlit as st

from plugread.page import words
from plugread.page.reads import View, colour_of
from plugread.records import Comparison, PlugRead
from plugread.rules.tables import Rules


def compare(found: Comparison, view: View, cylinders: tuple[int, ...], gauges: Mapping[int, float], rules: Rules) -> None:
    """Draw the compare row and say in words which plug differs."""
    st.subheader(words.COMPARE_TITLE, anchor=False)
    odd = words.odd_ones(found.odd)
    fits = "".join(f"<li>{escape(part)}</li>" for part in words.alternatives(found.pattern))
    cards = "".join(_card(n, found, view, gauges.get(n), rules) for n in cylinders)
    against = words.COMPARE_RULES_OUT.format(what=words.sentence(found.rules_out)) if found.rules_out else ""
    row = f'<ul class="pr-row" aria-label="{escape(words.COMPARE_LABEL)}">{cards}</ul>'
    below = f'<ul class="pr-fits">{fits}</ul><p class="pr-small">{escape(against)}</p>'
    st.html(f'<p class="pr-said"><b>{escape(odd)}</b></p>{row}{below}')
    if found.delta_e:
        st.caption(words.COMPARE_DELTA_HELP)


def _card(number: int, found: Comparison, view: View, gauge: float | None, rules: Rules) -> str:
    plug = view.plugs.get(number)
    colour = colour_of(plug)
    patch = f'<span class="patch" style="background:{colour}"></span>' if colour else '<span class="patch none"></span>'
    lines = [_looks(plug, rules)] if plug is not None and plug.reading.probability else []
    lines += [words.COMPARE_DELTA.format(delta=found.delta_e[number])] if number in found.delta_e else [words.COMPARE_NO_COLOUR]
    gap = gauge if gauge is not None else (plug.measures.gap_mm.value if plug and plug.measures.gap_mm else None)
    if gap is not None:
        lines.append(words.COMPARE_GAP.format(gap=gap))
    tag = f'<span class="pr-tag">{escape(words.ODD_TAG)}</span>' if number in found.odd else ""
    body = "<br>".join(escape(line) for line in lines)
    return f'<li class="{"odd" if number in found.odd else ""}">{_picture(number, view)}{patch}<b>{number} {tag}</b>{body}</li>'


def _looks(plug: PlugRead, rules: Rules) -> str:
    """Return what the photo shows in a word or two, with a question mark where that is unsure."""
    likeliest = max(plug.reading.probability, key=lambda name: plug.reading.probability[name])
    name = rules.findings[likeliest].name if likeliest in rules.findings else words.plain(likeliest)
    return name.partition(" (")[0] + ("" if plug.reading.top else " ?")


def _picture(number: int, view: View) -> str:
    if number not in view.seen:
        return ""
    seen, k = view.seen[number]
    data = seen.close_ups[k] if 0 <= k < len(seen.close_ups) else b""
    if not data:
        return ""
    alt = escape(words.CLOSE_UP_ALT.format(n=number))
    return f'<img alt="{alt}" src="data:image/jpeg;base64,{base64.b64encode(data).decode()}">'
