"""Puts the engine drawing on the page: a tap on a cylinder, or its number key, picks it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

import streamlit as st

from plugread.engine import Engine
from plugread.page import web
from plugread.page.parts.drawing import Place, describe, draw, proportion


@cache
def _plan() -> Any:
    return st.components.v2.component(
        "plugread_plan", html='<div class="plan" role="img"></div>', css=web.text("plan.css"), js=web.text("plan.js")
    )


def plan(engine: Engine, places: Sequence[Place], picked: int, *, key: str, pick: Callable[[int], None]) -> None:
    """Draw the engine; `pick` is called with the cylinder tapped, or whose number key was pressed."""
    data = {
        "svg": draw(engine, places, picked),
        "alt": describe(engine, places),
        "count": engine.spec.cylinders,
        "picked": picked,
    }

    def told() -> None:
        number = st.session_state[key].get("pick")
        if number in engine.cylinders:
            pick(int(number))

    st.html(f"<style>.st-key-{key}{{--plan:{proportion(engine):.3f}}}</style>")  # keeps its room while the drawing loads
    _plan()(key=key, data=data, on_pick_change=told)
