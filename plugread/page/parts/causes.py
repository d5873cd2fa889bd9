"""The ranked causes: how likely, how sure, what speaks for and against each; "none of these" always among them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from plugread.chances import in_words
from plugread.page import words
from plugread.page.parts.folded import folded
from plugread.records import CauseRank, Reason
from plugread.rules.tables import Rules

SHOWN, MORE, REASONS = 3, 9, 4
WORTH_NAMING = 0.01
"""A cause below this probability is left out of the further list."""
SPEAKS = 0.1
"""A reason that moves the log-odds by less than this is not told."""


def causes(ranked: Sequence[CauseRank], none_listed: float, rules: Rules) -> DeltaGenerator:
    """Draw the first few causes, the likeliest first, and return their place on the page."""
    st.subheader(words.CAUSES_TITLE, anchor=False)
    return st.html(causes_html(ranked, none_listed, rules))


def causes_html(ranked: Sequence[CauseRank], none_listed: float, rules: Rules) -> str:
    """Return the first few causes, the first with its reasons on show, and the chance that it is none of those listed."""
    shown = [_cause(cause, rules, is_open=number == 0) for number, cause in enumerate(ranked[:SHOWN])]
    empty = [] if ranked else [_small(words.CAUSES_EMPTY)]
    return "".join([*empty, *shown, _card(_head(words.CAUSES_NONE, none_listed, None), _small(words.CAUSES_NONE_HELP))])


def less_likely(ranked: Sequence[CauseRank], rules: Rules) -> None:
    """Draw the causes that are worth naming after the first few, folded away."""
    rest = [cause for cause in ranked[SHOWN : SHOWN + MORE] if cause.probability >= WORTH_NAMING]
    if rest:
        with folded(words.CAUSES_MORE, "causes_more") as is_open:
            if is_open:
                st.html("".join(_cause(cause, rules) for cause in rest))


def cause_name(cause: CauseRank, rules: Rules) -> str:
    """Return the cause in words with the cylinders it sits at."""
    name = rules.causes[cause.id].name if cause.id in rules.causes else words.plain(cause.id)
    where = words.about_cylinders(cause.cylinders)
    return f"{name}, {where}" if where else name


def _cause(cause: CauseRank, rules: Rules, *, is_open: bool = False) -> str:
    known = rules.causes.get(cause.id)
    sure = words.CAUSES_BAND.format(low=cause.band[0], high=cause.band[1]) if cause.band else words.CAUSES_BAND_WAITS
    lines = [_small(sure), _reasons(cause.because, rules)]
    if cause.stays_first is not None:
        lines.append(_small(words.CAUSES_STAYS.format(share=cause.stays_first)))
    if cause.group:
        others = ", ".join(rules.causes[i].name if i in rules.causes else words.plain(i) for i in cause.group)
        lines.append(_small(words.CAUSES_GROUP.format(others=others)))
    if known and known.remedy:
        lines.append(_small(words.CAUSES_REMEDY.format(remedy=words.sentence(known.remedy))))
    return _card(_head(cause_name(cause, rules), cause.probability, cause.band), "".join(lines), is_open=is_open)


def _head(name: str, probability: float, band: tuple[float, float] | None) -> str:
    """Return a cause's name and chance, with a bar and the range on it."""
    whisker = f'<u style="left:{100 * band[0]:.1f}%;width:{100 * (band[1] - band[0]):.1f}%"></u>' if band else ""
    head = f"<b>{escape(name)}</b><span>{escape(in_words(probability))} ({probability:.0%})</span>"
    bar = f'<span class="pr-bar" aria-hidden="true"><i style="width:{100 * probability:.1f}%"></i>{whisker}</span>'
    return f'<span class="head">{head}</span>{bar}'


def _card(head: str, inside: str, *, is_open: bool = False) -> str:
    """Return one cause as a card whose reasons fold away."""
    return f'<details class="pr-cause"{" open" if is_open else ""}><summary>{head}</summary>{inside}</details>'


def _reasons(because: Iterable[Reason], rules: Rules) -> str:
    """List what speaks for and against; one finding on several cylinders is one line."""
    weights: dict[tuple[str, bool], list[Reason]] = {}
    for reason in because:
        if abs(reason.weight) > SPEAKS:
            weights.setdefault((reason.finding, reason.weight > 0), []).append(reason)
    ranked = sorted(weights.values(), key=lambda reasons: -abs(sum(reason.weight for reason in reasons)))
    pros = [_item(reasons, "for", words.CAUSES_FOR, rules) for reasons in ranked if reasons[0].weight > 0]
    cons = [_item(reasons, "against", words.CAUSES_AGAINST, rules) for reasons in ranked if reasons[0].weight < 0]
    items = pros[:REASONS] + cons[:REASONS]
    return f'<ul class="pr-reasons">{"".join(items)}</ul>' if items else ""


def _item(reasons: Sequence[Reason], kind: str, label: str, rules: Rules) -> str:
    where = words.about_cylinders(sorted({reason.cylinder for reason in reasons if reason.cylinder is not None}))
    text = escape(finding_name(reasons[0].finding, rules) + (f", {where}" if where else ""))
    return f'<li class="{kind}"><span class="pr-hide">{escape(label)}: </span>{text}</li>'


def finding_name(finding: str, rules: Rules) -> str:
    """Return a finding, a sign, or a check's outcome written "check.outcome", in words."""
    if finding in rules.findings:
        return rules.findings[finding].name
    check, _, outcome = finding.replace("/", ".").partition(".")
    if check in rules.checks:
        known = {o.id: o.name for o in rules.checks[check].outcomes}
        return f"{rules.checks[check].name}: {known.get(outcome, words.plain(outcome))}" if outcome else rules.checks[check].name
    return words.plain(finding)


def _small(text: str) -> str:
    return f'<p class="pr-small">{escape(text)}</p>'
