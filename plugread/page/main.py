"""The page's frame: settings, who may enter, the row of pages, the page asked for."""

from __future__ import annotations

import hmac
import os

import streamlit as st
from PIL import Image, ImageDraw

from plugread.page import bench, checks, front, help, state, teach, teach_words, theme, words

KEY_VARIABLE = "PLUGREAD_PAGE_KEY"


def run() -> None:
    """Draw the page the address asks for."""
    st.set_page_config(page_title=words.TITLE, page_icon=_icon(), layout="wide", initial_sidebar_state="collapsed")
    if not front.in_place():
        st.html(f"<style>{theme.look()}</style>")
    pages = [
        st.Page(bench.page, title=words.PAGES["bench"], url_path="bench", default=True),
        st.Page(checks.page, title=words.PAGES["checks"], url_path="checks"),
        st.Page(teach.page, title=teach_words.PAGE, url_path="teach"),
        st.Page(help.page, title=words.PAGES["help"], url_path="help"),
    ]
    here = st.navigation(pages, position="hidden")
    if not _may_enter():
        st.header(words.DOOR_TITLE, anchor=False)
        st.text(words.DOOR_TEXT)
        return
    kept = state.current()
    address = {"visit": kept.id} | ({"key": st.session_state.key} if "key" in st.session_state else {})
    with st.container(horizontal=True, key="nav", gap="small"):
        for page in pages:
            st.page_link(page, query_params=address)
    here.run()
    state.look_again()


def _may_enter() -> bool:
    """Ask for the one-time key where the page was opened to the network."""
    wanted = os.environ.get(KEY_VARIABLE)
    if not wanted:
        return True
    given = str(st.query_params.get("key") or st.session_state.get("key") or "")
    if not hmac.compare_digest(given.encode(), wanted.encode()):
        return False
    st.session_state.key = given
    st.query_params["key"] = given
    return True


@st.cache_resource(max_entries=1, show_spinner=False)
def _icon() -> Image.Image:
    """Draw the page's icon: a plug's nose, seen end-on."""
    icon = Image.new("RGBA", (64, 64), (0, 0, 0, 0))
    pen = ImageDraw.Draw(icon)
    for radius, colour in ((31, "#1f6fb2"), (23, "#22282d"), (15, "#d8c7a8"), (4, "#6d7479")):
        pen.ellipse((32 - radius, 32 - radius, 32 + radius, 32 + radius), fill=colour)
    return icon
