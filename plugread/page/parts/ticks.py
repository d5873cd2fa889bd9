"""What the user sees on a plug, ticked by hand, and how the engine runs: present, looked for and absent, or not looked at."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from plugread.notebook import draft as drafts
from plugread.notebook.draft import Draft
from plugread.page import state, words
from plugread.page.parts.folded import folded
from plugread.rules.tables import Finding, Rules


def ticks(draft: Draft, number: int, rules: Rules) -> None:
    """Draw the question what is seen on one plug; folded away before there is a photo, and once the readings are shown."""
    title = (words.LOOK_ONLY if draft.empty else words.LOOK_TITLE).format(n=number)
    if draft.shown or draft.empty:
        with folded(title, f"look{number}") as is_open:
            if is_open:
                _question(draft, number, rules)
        return
    st.subheader(title, anchor=False)
    if draft.pictured(number):
        st.caption(words.LOOK_WHY)
    _question(draft, number, rules)


def _question(draft: Draft, number: int, rules: Rules) -> None:
    """Ask in the order of the commonest answers: nothing on it in one tap, else what; then "nothing else" in one tap."""
    firing_end = [f for f in rules.findings.values() if f.level == "cylinder" and f.kind == "firing_end" and f.id != "normal"]
    asked, entry = [f.id for f in firing_end], draft.entry(number)
    if not entry.not_seen and entry.seen != ("normal",):  # stands in one place, so that no sign jumps under the finger
        _looked_button(words.LOOK_DONE if entry.seen else words.LOOK_CLEAN, number, asked)
    for title, ids in _groups(firing_end).items():
        _pills(title, ids, entry.seen, number, rules)
    if entry.seen or entry.not_seen:
        _told(draft, number, rules)
    with folded(words.LOOK_MORE, f"more{number}") as is_open:
        if not is_open:
            return
        outside = [f.id for f in rules.findings.values() if f.level == "cylinder" and f.kind in ("outside", "removal")]
        _pills(words.LOOK_MORE, outside, entry.seen, number, rules, hidden=True)
        _gauge(entry.gap_mm, number)


def _looked_button(label: str, number: int, asked: Sequence[str]) -> None:
    key = state.box(f"looked{number}")
    st.button(
        label, key=key, on_click=_nothing_else, args=(number, asked), type="primary", width="stretch", icon=":material/done_all:"
    )


def _gauge(gap_mm: float | None, number: int) -> None:
    key = state.number_box(f"gap{number}", gap_mm)
    st.number_input(
        words.GAP_GAUGE, min_value=0.1, max_value=5.0, value=None, step=0.05, format="%.2f", key=key, on_change=_gauged,
        args=(key, number), placeholder=words.ENGINE_UNKNOWN, help=words.GAP_GAUGE_HELP,
    )  # fmt: skip


def _gauged(key: str, number: int) -> None:
    gap = st.session_state[key]
    state.change(lambda d: drafts.gauge(d, number, gap))


def _groups(findings: Sequence[Finding]) -> dict[str, list[str]]:
    """Sort the findings under the page's headings; one the page does not know stands under the last."""
    known = {f.id for f in findings}
    groups = {title: [i for i in ids if i in known] for title, ids in words.TICK_GROUPS.items()}
    placed = {i for ids in groups.values() for i in ids}
    rest = [f.id for f in findings if f.id not in placed]
    return {title: ids for title, ids in {**groups, words.TICK_OTHER: rest}.items() if ids}


def _pills(title: str, ids: Sequence[str], seen: Sequence[str], number: int, rules: Rules, *, hidden: bool = False) -> None:
    key = state.box(f"seen{number}{title}")
    st.pills(
        title, ids, selection_mode="multi", default=[i for i in ids if i in seen], key=key, on_change=_ticked,
        args=(key, number, ids), format_func=lambda i: rules.findings[i].name, wrap=True,
        label_visibility="collapsed" if hidden else "visible",
    )  # fmt: skip


def _ticked(key: str, number: int, ids: Sequence[str]) -> None:
    seen = list(st.session_state[key])
    state.change(lambda d: drafts.tick(d, number, seen, ids))


def _nothing_else(number: int, asked: Sequence[str]) -> None:
    state.change(lambda d: drafts.on_to_the_next(drafts.nothing_else(d, number, asked)))


def _undo(number: int) -> None:
    state.change(lambda d: drafts.unlook(d, number))
    state.fresh_boxes()


def _told(draft: Draft, number: int, rules: Rules) -> None:
    """Say back what was ticked, what each tick must not be mixed up with, and offer to take it back."""
    entry = draft.entry(number)
    seen = [rules.findings[i] for i in entry.seen if i in rules.findings and i != "normal"]
    st.text(words.looked([finding.name for finding in seen], rest=bool(entry.not_seen)))
    if entry.tick_after_photo:
        st.caption(words.LOOK_AFTER)
    for finding in seen:
        st.caption(f"**{finding.name}.** {finding.seen} {words.mixup(finding.confused_with)}")
        if finding.stop:
            st.warning(finding.stop, icon=":material/warning:")
    st.button(words.LOOK_UNDO, key=state.box(f"undo{number}"), on_click=_undo, args=(number,), icon=":material/undo:")


# ---- the engine's signs ------------------------------------------------------------------------------------


def signs(draft: Draft, rules: Rules) -> None:
    """Draw the question how the engine runs."""
    ids = [f.id for f in rules.findings.values() if f.level == "engine"]
    told = words.signs_told(len(draft.signs_seen), len(draft.signs_not_seen))
    with folded(words.SIGNS_TITLE, "signs_box") as is_open:
        if not is_open:
            return
        st.caption(" ".join(part for part in (words.SIGNS_HELP, told) if part))
        key = state.box("signs")
        st.pills(
            words.SIGNS_LABEL, ids, selection_mode="multi", default=list(draft.signs_seen), key=key, on_change=_signs,
            args=(key,), format_func=lambda i: rules.findings[i].name, label_visibility="collapsed", wrap=True,
        )  # fmt: skip
        st.button(
            words.SIGNS_NONE, key=state.box("signs_none"), on_click=_no_other_signs, args=(ids,), icon=":material/done_all:"
        )


def _signs(key: str) -> None:
    seen = list(st.session_state[key])
    state.change(lambda d: drafts.sign(d, seen, d.signs_not_seen))


def _no_other_signs(ids: Sequence[str]) -> None:
    state.change(lambda d: drafts.sign(d, d.signs_seen, ids))
