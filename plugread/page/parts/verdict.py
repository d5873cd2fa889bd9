"""The verdict bar: a word, a shape and a colour, pinned to the foot of the page."""

from __future__ import annotations

from html import escape

import streamlit as st

from plugread.page import words
from plugread.records import Diagnosis
from plugread.rules.tables import Rules

NEXT = "next-check"
"""Where on the bench the next check stands."""


def bar(action: str, why: str, check: str = "") -> str:
    """Return the verdict bar as HTML, the reason folded under it; `action` is one of `words.VERDICT`, `check` what to do next."""
    kind, label = action.replace("_", "-"), escape(words.VERDICT_LABEL)
    head = f'<summary><i class="shape" aria-hidden="true"></i><b>{escape(words.VERDICT[action])}</b></summary>'
    said = words.VERDICT_SPARE if action == "carry_on" else words.VERDICT_NEXT
    link = f'<a href="#{NEXT}">{escape(said.format(check=check))}</a>' if check else ""
    body = f'<details class="pr-verdict {kind}">{head}<p>{escape(why)}</p></details>{link}'
    return f'<section class="pr-foot" aria-label="{label}">{body}</section>'


def verdict(diagnosis: Diagnosis | None, waiting: str, rules: Rules | None = None) -> None:
    """Draw the verdict at the foot of the page; `waiting` says what is missing while there is none.

    With the `rules` it also names the next check and leads to its card.
    """
    if diagnosis is None:
        st.bottom.html(bar("cannot_tell", waiting))
        return
    found = diagnosis.verdict
    close = f"{words.VERDICT_CLOSE} " if found.close_call else ""
    advice = next((a for a in diagnosis.next_checks if rules is not None and a.id in rules.checks), None)
    where = words.about_cylinders(advice.cylinders) if advice else ""
    check = f"{rules.checks[advice.id].name}{f', {where}' if where else ''}" if rules and advice else ""
    st.bottom.html(bar(found.action, close + words.sentence(found.why), check))
