"""The look of the page: a few rules on top of the theme. The colours of the verdict stand here, once."""

from __future__ import annotations

import json

from plugread.page import web, words

INK = {"carry_on": "#1b6ca8", "investigate": "#855900", "do_not_run": "#6b1020", "cannot_tell": "#5c5c5c"}
PAPER = {"carry_on": "#e3f0fb", "investigate": "#fff1cf", "do_not_run": "#fbe3e3", "cannot_tell": "#efefef"}
"""Smallest CIELAB distance among the inks under simulated colour blindness (Machado 2009): 29 or more; see the verdict test."""


def look() -> str:
    """Return the page's own style sheet; it is part of the start page, so that the first view comes dressed."""
    verdicts = "".join(f".pr-verdict.{name.replace('_', '-')}{{--ink:{INK[name]};--paper:{PAPER[name]}}}" for name in INK)
    return f":root{{--pr-lost:{json.dumps(words.LINK_LOST)}}}{web.text('theme.css')}{verdicts}"
