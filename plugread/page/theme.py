"""The look of the page: a few rules on top of the theme. The colours of the verdict stand here, once."""

from __future__ import annotations

import json
import time

import streamlit as st

from plugread.page import web, words

INK = {"carry_on": "#1b6ca8", "investigate": "#855900", "do_not_run": "#6b1020", "cannot_tell": "#5c5c5c"}
PAPER = {"carry_on": "#e3f0fb", "investigate": "#fff1cf", "do_not_run": "#fbe3e3", "cannot_tell": "#efefef"}
"""Smallest CIELAB distance among the inks under simulated colour blindness (Machado 2009): 29 or more; see the verdict test."""

DRESSING_S = 0.15
"""How long a browser takes to load the piece that puts a style sheet in place (loopback, two cores)."""

_VERDICTS = "".join(f".pr-verdict.{name.replace('_', '-')}{{--ink:{INK[name]};--paper:{PAPER[name]}}}" for name in INK)


def apply() -> None:
    """Put the page's own look on top of the theme; a new tab waits for it a moment, or the page would jump under the eye."""
    look = web.text("theme.css")
    st.html(f"<style>:root{{--pr-lost:{json.dumps(words.LINK_LOST)}}}{look}{_VERDICTS}</style>")
    if not st.session_state.get("dressed"):
        st.session_state.dressed = True
        time.sleep(DRESSING_S)
