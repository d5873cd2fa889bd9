"""The next check as one card: what, why it splits the list, how, tools, minutes, cautions, and the box for its result."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import streamlit as st

from plugread.notebook import draft as drafts
from plugread.notebook.draft import Draft
from plugread.page import check_words, state, words
from plugread.page.parts.causes import finding_name
from plugread.page.parts.check_result import result
from plugread.page.parts.folded import folded
from plugread.page.parts.moved import moved
from plugread.page.parts.verdict import NEXT
from plugread.page.reads import View
from plugread.records import CheckAdvice, Diagnosis
from plugread.rules.tables import Check, Rules

OTHERS = 3


def next_check(draft: Draft, view: View, diagnosis: Diagnosis, rules: Rules) -> None:
    """Draw the card of the check to do next, what the last result moved, and the results entered so far."""
    st.subheader(check_words.TITLE_SPARE if diagnosis.verdict.action == "carry_on" else check_words.TITLE, anchor=False)
    advised = [advice for advice in diagnosis.next_checks if advice.id in rules.checks]
    if not advised:
        st.text(check_words.NONE)
    else:
        advice = _chosen(advised)
        with st.container(border=True):
            st.html(f'<div id="{NEXT}" tabindex="-1"></div>' + _card(advice, rules.checks[advice.id], rules))
            result(rules.checks[advice.id], advice.cylinders or draft.cylinders, draft, "next")
        _others([other for other in advised[: OTHERS + 1] if other != advice], rules)
    moved(draft, view, diagnosis, rules)  # below the card, whose boxes then stay under the finger
    _done(draft, rules)


def _chosen(advised: list[CheckAdvice]) -> CheckAdvice:
    """Return the check shown: the best one, unless the user asked to see one of the others."""
    wanted = st.session_state.get(state.box("other_check"))
    return next((advice for advice in advised if _key(advice) == wanted), advised[0])


def _others(others: list[CheckAdvice], rules: Rules) -> None:
    """Offer the other checks worth doing in the place of the one shown."""
    names = {_key(a): f"{rules.checks[a.id].name}{_at(a)} ({a.minutes:.0f} min)" for a in others}
    if names:
        key = state.box(f"others{'.'.join(names)}")
        st.pills(
            check_words.OTHERS, list(names), key=key, format_func=names.__getitem__, wrap=True, on_change=_other, args=(key,)
        )


def _other(key: str) -> None:
    st.session_state[state.box("other_check")] = st.session_state[key]


def _key(advice: CheckAdvice) -> str:
    return f"{advice.id}{list(advice.cylinders)}"


def _at(advice: CheckAdvice) -> str:
    where = words.about_cylinders(advice.cylinders)
    return f", {where}" if where else ""


def _card(advice: CheckAdvice, check: Check, rules: Rules) -> str:
    minutes = check_words.MINUTES.format(minutes=advice.minutes)
    facts = {
        check_words.WHY: _tells(advice),
        check_words.FIRST: escape(check_words.RUNNING) if check.engine == "running" else "",
        check_words.HOW: escape(words.sentence(check.how)),
        check_words.TOOLS: escape(f"{check.tools}; {minutes}" if check.tools else minutes),
    }
    rows = "".join(f"<dt>{escape(label)}</dt><dd>{text}</dd>" for label, text in facts.items() if text)
    head = f'<p class="head">{escape(check.name + _at(advice))}</p>'
    return f'<div class="pr-check">{head}<dl>{rows}</dl>{cautions(advice.cautions, rules)}</div>'


def _tells(advice: CheckAdvice) -> str:
    """Return what each outcome would point to, one a line."""
    said = check_words.points(advice.why, advice.cylinders)
    return "".join(f"<p>{f'<b>{escape(seen)}:</b> ' if seen else ''}{escape(means)}</p>" for seen, means in said)


def cautions(ids: Sequence[str], rules: Rules) -> str:
    """Return the cautions beside a step as HTML; "" if there are none."""
    items = "".join(f"<li>{escape(words.sentence(rules.cautions.get(i, i)))}</li>" for i in ids)
    return f'<ul class="pr-caution">{items}</ul>' if items else ""


def _done(draft: Draft, rules: Rules) -> None:
    done = [entry for entry in draft.checks if drafts.told(entry)]
    if not done:
        return
    with folded(check_words.DONE, "done_box") as is_open:
        for entry in done if is_open else ():
            name = finding_name(f"{entry.id}.{entry.outcome}" if entry.outcome else entry.id, rules)
            where = f" ({words.about_cylinders([entry.cylinder])})" if entry.cylinder else ""
            numbers = ", ".join(f"{n}: {v:g}" for n, v in entry.values.items()) or (
                f"{entry.value:g}" if entry.value is not None else ""
            )
            st.text(f"{name}{where} {numbers} {check_words.unit(entry.unit) if numbers and entry.unit else ''}")
            st.button(
                check_words.UNDO.format(name=name),
                key=state.box(f"undo.{entry.id}.{entry.cylinder}"),
                on_click=_undo,
                args=(entry.id, entry.cylinder),
                icon=":material/undo:",
            )


def _undo(check_id: str, cylinder: int | None) -> None:
    state.change(lambda d: drafts.without_check(d, check_id, cylinder))
    state.fresh_boxes()
