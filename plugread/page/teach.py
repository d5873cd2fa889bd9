"""The page that learns: the lessons there are, learning with a bar, and on one screen whether to trust what came of it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import streamlit as st

from plugread import pipeline
from plugread.errors import PlugreadError
from plugread.notebook.taught import Kept, Taught
from plugread.page import state, teach_words, words
from plugread.page.reader import taught
from plugread.rules.tables import Rules

ID = r"\b[a-z]+(?:_[a-z]+)+\b"


def page() -> None:
    """Draw the page."""
    st.header(teach_words.TITLE, anchor=False)
    st.text(teach_words.INTRO)
    for remark in state.remarks():
        st.warning(remark, icon=":material/info:")
    lessons, rules = taught(), pipeline.default_rules()
    try:
        counts = lessons.counts()
    except PlugreadError as problem:
        st.error(words.sentence(str(problem)), icon=":material/error:")
        return
    if counts:
        _lessons(counts, lessons, rules)
    else:
        st.info(teach_words.NONE, icon=":material/school:")
    if lessons.is_learned():
        _learned(lessons, rules)


def _lessons(counts: Mapping[str, Kept], lessons: Taught, rules: Rules) -> None:
    _table(teach_words.TABLE, [(_name(reading, rules), kept.photos, kept.plugs) for reading, kept in counts.items()])
    if st.button(teach_words.LEARN, key="learn", type="primary", icon=":material/school:"):
        _learn(lessons, rules)
    st.caption(teach_words.WHERE.format(folder=lessons.photos))


def _learn(lessons: Taught, rules: Rules) -> None:
    """Learn with a bar; say in one line why, where it cannot be done."""
    bar = st.progress(0.0, text=teach_words.THINKING)

    def progress(done: int, of: int) -> None:
        text = teach_words.MEASURING.format(done=done, of=of) if done < of else teach_words.THINKING
        bar.progress(done / of, text=text)

    try:
        pipeline.teach(lessons.photos, lessons.learned, progress)
    except PlugreadError as problem:
        named = re.sub(ID, lambda found: _name(found[0], rules).lower(), str(problem))
        st.error(words.sentence(named), icon=":material/error:")
    bar.empty()


# ---- what came of it ---------------------------------------------------------------------------------------


def _learned(lessons: Taught, rules: Rules) -> None:
    st.subheader(teach_words.REPORT, anchor=False)
    try:
        card = pipeline.taught_model(lessons.learned).card
        used = lessons.in_use()
        same = bool(used) and pipeline.taught_model(lessons.used).card == card
    except PlugreadError as problem:
        st.error(words.sentence(str(problem)), icon=":material/error:")
        return
    verdict, figures, pictures = pipeline.taught_report(card)
    st.info(verdict, icon=":material/rule:")
    st.text(teach_words.LEARNED.format(photos=card["photos"], plugs=card["plugs"]))
    st.caption(teach_words.USED if same else teach_words.USED_OTHER if used else teach_words.NOT_USED)
    _choice(lessons, same=same, used=bool(used))
    _details(card, figures, rules)
    with st.expander(teach_words.PICTURES, key="teach_pictures"):
        for picture, alt in zip(pictures, (teach_words.CONFUSION_ALT, teach_words.CURVE_ALT), strict=True):
            st.image(picture, alt=alt)


def _choice(lessons: Taught, *, same: bool, used: bool) -> None:
    with st.container(horizontal=True, key="teach_choice"):
        if not same:
            st.button(teach_words.USE, key="use", on_click=_changed, args=(lessons, True), icon=":material/check:")
        if used:
            st.button(teach_words.STOP, key="stop", on_click=_changed, args=(lessons, False), icon=":material/undo:")


def _changed(lessons: Taught, use: bool) -> None:
    try:
        lessons.use_learned() if use else lessons.stop_using()
    except PlugreadError as problem:
        state.remark(words.sentence(str(problem)))


def _details(card: Mapping[str, Any], figures: Mapping[str, str], rules: Rules) -> None:
    st.markdown("\n".join(f"- **{name}**: {text}" for name, text in figures.items()))
    _table(teach_words.RIGHT, [(_name(i, rules), row["plugs"], _share(row)) for i, row in card["readings"].items()])
    mixed = [
        teach_words.MIXED_ROW.format(truth=_name(truth, rules), said=_name(said, rules), photos=photos)
        for truth, said, photos in card["mixed_up"]
    ]
    st.text(teach_words.MIXED.format(rows="; ".join(mixed)) if mixed else teach_words.MIXED_NONE)
    if card["not_evaluable"]:
        st.text(teach_words.TOO_FEW.format(names=", ".join(_name(i, rules) for i in card["not_evaluable"])))
    if card["passed_over"]:
        with st.expander(teach_words.PASSED_OVER.format(n=len(card["passed_over"])), key="teach_passed"):
            for line in card["passed_over"]:
                st.text(line)


def _share(row: Mapping[str, float]) -> str:
    return teach_words.SHARE.format(**{name: 100 * row[name] for name in ("right", "low", "high")})


def _name(reading: str, rules: Rules) -> str:
    return rules.findings[reading].name if reading in rules.findings else words.plain(reading)


def _table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    lines = [head, ["---"] + ["---:"] * (len(head) - 1), *rows]
    st.markdown("\n".join("| " + " | ".join(map(str, line)) + " |" for line in lines))
