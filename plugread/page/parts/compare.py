"""All plugs side by side: close-up, measured colour, what each looks like, gap, how far off the rest; the odd one named."""

from __future__ import annotations

import base64
from collections.abc import Callable
from functools import cache
from html import escape
from typing import Any

import streamlit as st

from plugread.notebook.draft import Draft
from plugread.page import web, words
from plugread.page.parts.causes import finding_name
from plugread.page.reads import View, colour_of
from plugread.records import Comparison, PlugEntry, PlugRead
from plugread.rules.tables import Rules


@cache
def _row() -> Any:
    return st.components.v2.component(
        "plugread_compare", html=web.text("compare.html"), css=web.text("compare.css"), js=web.text("compare.js")
    )


def compare(found: Comparison, view: View, draft: Draft, rules: Rules, *, key: str, pick: Callable[[int], None]) -> None:
    """Draw the compare row and say in words which plug differs; `pick` is called with the cylinder whose card was pressed."""
    st.subheader(words.COMPARE_TITLE, anchor=False)
    st.html(f'<p class="pr-said"><b>{escape(words.odd_ones(found.odd))}</b></p>')
    cards = "".join(_card(n, found, view, draft.entry(n), rules) for n in draft.cylinders)

    def told() -> None:
        number = st.session_state[key].get("pick")
        if number in draft.cylinders:
            pick(int(number))

    st.html(f"<style>.st-key-{key}{{--plugs:{len(draft.cylinders)}}}</style>")  # keeps its room while the row loads
    _row()(key=key, data={"cards": cards, "label": words.COMPARE_LABEL, "picked": draft.picked}, on_pick_change=told)
    fits = "".join(f"<li>{escape(part)}</li>" for part in words.alternatives(found.pattern))
    against = words.COMPARE_RULES_OUT.format(what=words.sentence(found.rules_out)) if found.rules_out else ""
    st.html(f'<ul class="pr-fits">{fits}</ul><p class="pr-small">{escape(against)}</p>')
    if found.delta_e:
        st.caption(words.COMPARE_DELTA_HELP)


def _card(number: int, found: Comparison, view: View, entry: PlugEntry, rules: Rules) -> str:
    """Return one plug's card as a button; the row itself marks the one that is picked."""
    plug = view.plugs.get(number)
    colour = colour_of(plug)
    patch = f'<span class="patch" style="background:{colour}"></span>' if colour else '<span class="patch none"></span>'
    odd = number in found.odd
    tag = f' <span class="tag">{escape(words.ODD_TAG)}</span>' if odd else ""
    lines = "".join(f'<span class="line">{escape(line)}</span>' for line in _lines(number, found, plug, entry, rules))
    shown = f'<span class="shown" aria-hidden="true">{escape(words.COMPARE_PICKED)}</span>'
    card = f"{_picture(number, view)}{shown}{patch}<b>{number}{tag}</b>{lines}"
    return f'<li><button type="button" class="{"odd" if odd else ""}" data-cylinder="{number}">{card}</button></li>'


def _lines(number: int, found: Comparison, plug: PlugRead | None, entry: PlugEntry, rules: Rules) -> list[str]:
    """Return what stands on a card: what the plug looks like, how far its colour is off, its gap."""
    looks = _looks(plug, entry, rules)
    lines = [looks] if looks else []
    lines += [words.COMPARE_DELTA.format(delta=found.delta_e[number])] if number in found.delta_e else [words.COMPARE_NO_COLOUR]
    gap = entry.gap_mm if entry.gap_mm is not None else (plug.measures.gap_mm.value if plug and plug.measures.gap_mm else None)
    return lines if gap is None else [*lines, words.COMPARE_GAP.format(gap=gap)]


def _looks(plug: PlugRead | None, entry: PlugEntry, rules: Rules) -> str:
    """Return in a word or two what the user saw, else what the photo shows ("?" where unsure); "" where nothing is known."""
    if entry.seen:
        return ", ".join(_short(name, rules) for name in entry.seen)
    open_to = {} if plug is None else {name: p for name, p in plug.reading.probability.items() if name not in entry.not_seen}
    if plug is None or not open_to:
        return ""
    likeliest = max(open_to, key=lambda name: open_to[name])
    return _short(likeliest, rules) + ("" if likeliest == plug.reading.top else " ?")


def _short(finding: str, rules: Rules) -> str:
    return finding_name(finding, rules).partition(" (")[0]


def _picture(number: int, view: View) -> str:
    if number not in view.seen:
        return ""
    seen, k = view.seen[number]
    data = seen.close_ups[k] if 0 <= k < len(seen.close_ups) else b""
    if not data:
        return ""
    alt = escape(words.CLOSE_UP_ALT.format(n=number))
    return f'<img alt="{alt}" src="data:image/jpeg;base64,{base64.b64encode(data).decode()}">'
