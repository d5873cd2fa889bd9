"""All plugs side by side: close-up, measured colour, what each looks like, gap, how far off the rest; the odd one named."""

from __future__ import annotations

import base64
from html import escape

import streamlit as st

from plugread.notebook.draft import Draft
from plugread.page import words
from plugread.page.parts.causes import finding_name
from plugread.page.reads import View, colour_of
from plugread.records import Comparison, PlugEntry, PlugRead
from plugread.rules.tables import Rules


def compare(found: Comparison, view: View, draft: Draft, rules: Rules) -> None:
    """Draw the compare row and say in words which plug differs."""
    st.subheader(words.COMPARE_TITLE, anchor=False)
    odd = words.odd_ones(found.odd)
    fits = "".join(f"<li>{escape(part)}</li>" for part in words.alternatives(found.pattern))
    cards = "".join(_card(n, found, view, draft.entry(n), rules) for n in draft.cylinders)
    against = words.COMPARE_RULES_OUT.format(what=words.sentence(found.rules_out)) if found.rules_out else ""
    row = f'<ul class="pr-row" aria-label="{escape(words.COMPARE_LABEL)}">{cards}</ul>'
    below = f'<ul class="pr-fits">{fits}</ul><p class="pr-small">{escape(against)}</p>'
    st.html(f'<p class="pr-said"><b>{escape(odd)}</b></p>{row}{below}')
    if found.delta_e:
        st.caption(words.COMPARE_DELTA_HELP)


def _card(number: int, found: Comparison, view: View, entry: PlugEntry, rules: Rules) -> str:
    plug = view.plugs.get(number)
    colour = colour_of(plug)
    patch = f'<span class="patch" style="background:{colour}"></span>' if colour else '<span class="patch none"></span>'
    looks = _looks(plug, entry, rules)
    lines = [looks] if looks else []
    lines += [words.COMPARE_DELTA.format(delta=found.delta_e[number])] if number in found.delta_e else [words.COMPARE_NO_COLOUR]
    gap = entry.gap_mm if entry.gap_mm is not None else (plug.measures.gap_mm.value if plug and plug.measures.gap_mm else None)
    if gap is not None:
        lines.append(words.COMPARE_GAP.format(gap=gap))
    tag = f'<span class="pr-tag">{escape(words.ODD_TAG)}</span>' if number in found.odd else ""
    body = "<br>".join(escape(line) for line in lines)
    return f'<li class="{"odd" if number in found.odd else ""}">{_picture(number, view)}{patch}<b>{number} {tag}</b>{body}</li>'


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
