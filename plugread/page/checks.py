"""The checks page: results of compression, leak-down, leads and the rest, one row a cylinder; each re-ranks the causes."""

from __future__ import annotations

import streamlit as st

from plugread.engine import Engine
from plugread.errors import PlugreadError
from plugread.notebook.draft import Draft
from plugread.page import check_words, reads, state, words
from plugread.page.parts.causes import cause_name
from plugread.page.parts.check_result import MEASURES, done, result
from plugread.page.parts.moved import moved
from plugread.page.parts.next_check import cautions
from plugread.page.parts.strip import strip
from plugread.page.parts.verdict import verdict
from plugread.page.reads import View
from plugread.records import Diagnosis
from plugread.rules.tables import Check, Rules


def page() -> None:
    """Draw the checks page."""
    draft = state.current().draft
    strip(draft)
    st.header(check_words.PAGE_TITLE, anchor=False)
    st.text(check_words.PAGE_TEXT)
    for remark in state.remarks():
        st.warning(remark, icon=":material/info:")
    rules = reads.rules()
    check = _pick(draft, rules)
    if check is not None:
        _one(check, draft)
    if not draft.answer_may_show:
        st.info(words.SHOW_FIRST, icon=":material/visibility_off:")
        return
    view = reads.read_all(draft)
    diagnosis = _answer(draft, view)
    if diagnosis is not None:
        moved(draft, view, diagnosis, rules)
        first = cause_name(diagnosis.causes[0], rules) if diagnosis.causes else check_words.PAGE_NONE
        st.text(
            check_words.PAGE_ANSWER.format(
                verdict=words.sentence(words.VERDICT[diagnosis.verdict.action]), cause=words.sentence(first)
            )
        )
    verdict(diagnosis, words.VERDICT_START)


def _pick(draft: Draft, rules: Rules) -> Check | None:
    """Ask which check; only those the engine can have are offered, measured ones first."""
    engine = Engine(draft.engine)
    offered = sorted((c for c in rules.checks.values() if engine.has(c.needs)), key=lambda c: c.id not in MEASURES)
    if not offered:
        return None
    names = {check.id: f"{check.name} ✓" if done(draft, check.id) else check.name for check in offered}
    chosen = st.selectbox(
        check_words.PAGE_PICK, list(names), key="check_pick", format_func=lambda i: names[i], persist_state="session"
    )
    return rules.checks.get(chosen)


def _one(check: Check, draft: Draft) -> None:
    with st.container(border=True):
        if check.how:
            st.text(words.sentence(check.how))
        st.html(cautions(check.cautions, reads.rules()))
        result(check, draft.cylinders, draft, "page")


def _answer(draft: Draft, view: View) -> Diagnosis | None:
    if draft.empty:
        return None
    try:
        return reads.answer(draft, view)
    except PlugreadError as problem:
        st.error(words.sentence(str(problem)), icon=":material/error:")
        return None
