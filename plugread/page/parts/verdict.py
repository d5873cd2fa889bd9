"""The verdict bar: a word, a shape and a colour, pinned to the foot of the page."""

from __future__ import annotations

from html import escape

import streamlit as st

from plugread.page import words
from plugread.records import Diagnosis


def bar(action: str, why: str) -> str:
    """Return the verdict bar as HTML, the reason folded under it; `action` is one of `words.VERDICT`."""
    kind, label = action.replace("_", "-"), escape(words.VERDICT_LABEL)
    head = f'<summary><i class="shape" aria-hidden="true"></i><b>{escape(words.VERDICT[action])}</b></summary>'
    return f'<section aria-label="{label}"><details class="pr-verdict {kind}">{head}<p>{escape(why)}</p></details></section>'


def verdict(diagnosis: Diagnosis | None, waiting: str) -> None:
    """Draw the verdict at the foot of the page; `waiting` says what is missing while there is none."""
    if diagnosis is None:
        st.bottom.html(bar("cannot_tell", waiting))
        return
    found = diagnosis.verdict
    close = f"{words.VERDICT_CLOSE} " if found.close_call else ""
    st.bottom.html(bar(found.action, close + words.sentence(found.why)))
