"""Who reads the photos: the model taught on this machine if it is in use, else the shipped one if it helps, else the rules."""

from __future__ import annotations

from typing import Any

import streamlit as st

from plugread import pipeline
from plugread.errors import PlugreadError
from plugread.notebook.taught import Taught
from plugread.page import state, teach_words, words

RULES = "rules"


def taught() -> Taught:
    """Return the lessons and models of this machine."""
    return Taught(state.store().path.parent)


def reader() -> tuple[str, Any]:
    """Return what stands for the reader, equal only for equal readers, and its model; None is the colour rules alone."""
    try:
        stamp = taught().in_use()
        model = _loaded(stamp) if stamp else pipeline.default_model()
    except PlugreadError as problem:
        state.remark(teach_words.BAD_MODEL.format(why=words.sentence(str(problem)).rstrip(".")))
        return RULES, None
    return (stamp or "shipped", model) if model is not None else (RULES, None)


@st.cache_resource(max_entries=2, show_spinner=False)
def _loaded(stamp: str) -> Any:
    return pipeline.taught_model(taught().used)
