"""The camera button: opens the phone's camera, makes the picture smaller, and keeps it until the page has taken it in.

A picture chosen while the link is down is dropped by an ordinary upload without a word. This one keeps every picture in the
browser and sends it again until its token comes back among those received.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import streamlit as st

from plugread.page import web, words

SIDE_PX, ROW_SIDE_PX = 1600, 3200
"""Longest side of a picture after it was made smaller: one plug, and a row of plugs."""


@dataclass(frozen=True)
class Picture:
    """One picture that came in: `kind` is "one" (for `cylinder`), "pick" (several, from `cylinder` on) or "row"."""

    token: str
    name: str
    kind: str
    cylinder: int
    data: bytes


@cache
def _button() -> Any:
    return st.components.v2.component(
        "plugread_camera", html=web.text("camera.html"), css=web.text("camera.css"), js=web.text("camera.js")
    )


def camera(
    visit: str,
    cylinder: int,
    received: Sequence[str],
    *,
    again: bool,
    wanted: bool,
    key: str,
    take: Callable[[list[Picture]], None],
) -> None:
    """Draw the camera button; `take` is called with the pictures that came in and are not among those received.

    `again` = there is a photo of this cylinder already; `wanted` = one is still needed, so the button is the first to press.
    """
    label = (words.CAMERA_AGAIN if again else words.CAMERA_ONE).format(n=cylinder)
    said = {
        "one": label, "all": words.CAMERA_ROW, "pick": words.CAMERA_PICK, "shrinking": words.CAMERA_SHRINKING,
        "sending": words.CAMERA_SENDING, "waiting": words.CAMERA_WAITING, "failed": words.CAMERA_FAILED,
    }  # fmt: skip
    data = {
        "visit": visit,
        "cylinder": cylinder,
        "received": list(received),
        "wanted": wanted,
        "words": said,
        "side": SIDE_PX,
        "rowSide": ROW_SIDE_PX,
    }

    def arrived() -> None:
        shots = st.session_state[key].get("shots") or []
        pictures = [picture for shot in shots if (picture := _picture(shot)) and picture.token not in received]
        if pictures:
            take(pictures)

    _button()(key=key, data=data, on_shots_change=arrived)


def _picture(shot: dict[str, Any]) -> Picture | None:
    """Return the picture a browser sent, or None if the message is not one."""
    try:
        data = base64.b64decode(str(shot["url"]).split(",", 1)[1], validate=True)
        return Picture(str(shot["token"]), str(shot["name"])[:120], str(shot["kind"]), int(shot["cylinder"]), data)
    except (KeyError, IndexError, ValueError, binascii.Error):
        return None
