"""The plug's photo, cut to the firing end, with the spot that was measured; a tap moves the spot."""

from __future__ import annotations

import base64
from collections.abc import Callable
from functools import cache
from typing import Any

import streamlit as st

from plugread.page import web, words

Window = tuple[float, float, float, float]
"""x0, y0, x1, y1 of the part shown, as shares of the whole picture."""
WHOLE: Window = (0.0, 0.0, 1.0, 1.0)


@cache
def _photo() -> Any:
    return st.components.v2.component(
        "plugread_spot", html=web.text("spot.html"), css=web.text("spot.css"), js=web.text("spot.js")
    )


def spot(
    picture: bytes,
    *,
    number: int,
    size: tuple[int, int],
    window: Window,
    at: tuple[float, float] | None,
    key: str,
    tapped: Callable[[tuple[float, float]], None],
) -> None:
    """Draw the photo; `tapped` is called with the place of a tap, as shares of the whole picture's width and height."""
    data = {
        "src": "data:image/jpeg;base64," + base64.b64encode(picture).decode(),
        "ratio": size[0] / size[1],
        "window": window,
        "spot": at,
        "alt": words.SPOT_ALT.format(n=number),
    }

    def told() -> None:
        tap = st.session_state[key].get("tap")
        if tap:
            tapped((float(tap["x"]), float(tap["y"])))

    _photo()(key=key, data=data, on_tap_change=told)
