"""A part that folds open. What is in it is drawn only while it is open, so that a folded part costs a rerun nothing."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import streamlit as st

from plugread.page import state


@contextmanager
def folded(title: str, name: str, *, start_open: bool = False) -> Iterator[bool]:
    """Draw a part that folds open; yields whether it is open. `name` is its own within the visit, and keeps it as it was left."""
    part = st.expander(title, expanded=start_open, key=state.fold(name), on_change="rerun")
    with part:
        yield bool(part.open)
