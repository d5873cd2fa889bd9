"""The key to the lines on a photo: only what shows, told apart without colour."""

from __future__ import annotations

import re
from typing import Any

import pytest

from plugread.page import words
from plugread.page.parts.legend import showing
from plugread.page.parts.spot import WHOLE
from plugread.photo.outlines import STYLES
from plugread.records import Box, Line

SIZE = (1000, 800)
KEY = ".pr-lines li"
SWATCHES = """() => [...document.querySelectorAll('.pr-lines i')].map(e => { const s = getComputedStyle(e, '::before')
  return [s.backgroundImage, s.width, s.height, s.borderWidth, s.borderRadius].join(' ') })"""


def line(name: str, box: Box) -> Line:
    return Line(name, (255, 176, 0), (), box)


@pytest.mark.parametrize(
    ("box", "shows"),
    [
        ((450, 350, 100, 100), True),
        ((100, 350, 300, 100), True),
        ((10, 10, 100, 100), False),
        ((50, 50, 900, 700), False),
        ((50, 350, 900, 100), True),
    ],
)
def test_only_lines_that_cross_the_window_show(box: Box, shows: bool) -> None:
    """Inside or across the edge shows; elsewhere, or a frame all round the window, does not."""
    assert bool(showing([line("nose", box)], SIZE, (0.3, 0.3, 0.7, 0.7))) == shows


def test_each_name_stands_once_in_the_order_given() -> None:
    """Two noses in a row are one line of the key."""
    lines = [line("nose", (10, 10, 50, 50)), line("nose", (300, 10, 50, 50)), line("strap", (20, 20, 50, 50))]
    assert [one.name for one in showing(lines, SIZE, WHOLE)] == ["nose", "strap"]


def test_every_line_has_its_name() -> None:
    """The page has a word for each line that can be drawn, each its own."""
    assert set(words.LINES) == set(STYLES) and len(set(words.LINES.values())) == len(STYLES)


@pytest.mark.browser
@pytest.mark.parametrize("shape", ["phone", "phone-dark", "narrow", "desk"])
def test_key_stands_at_the_photo(screen: Any, shape: str) -> None:
    """Nose, strap and the spot are named beside the photo; the sheet in the far corner, out of the window, is not."""
    tab = screen(shape)
    tab.press("Four, one plug odd")
    tab.page.locator(KEY).first.wait_for()
    tab.settle()
    assert tab.page.locator(KEY).all_inner_texts() == [words.LINES["nose"], words.LINES["strap"], words.LINE_SPOT]
    assert tab.page.evaluate("document.querySelector('.stMain').scrollWidth - innerWidth") <= 0
    photo, key = tab.page.get_by_role("button", name="Photo of plug 1").bounding_box(), tab.page.locator(KEY).first.bounding_box()
    assert 0 <= key["y"] - photo["y"] - photo["height"] < 60


@pytest.mark.browser
def test_swatches_differ_without_colour(screen: Any, shipped: Any) -> None:
    """On a real photo with all its lines each swatch has dashes or a shape of its own, and stands on dark in light and dark."""
    grounds = []
    for shape in ("phone", "phone-dark"):
        tab = screen(shape, url=shipped.url)
        tab.press(words.SAMPLES["engine_healthy"])
        tab.page.locator(".pr-verdict").wait_for(timeout=60_000)
        tab.choose(3)
        assert {"nose", "strap", "rim", "gap measured", "paper or card"} <= set(tab.page.locator(KEY).all_inner_texts())
        plain = [
            re.sub(r"rgba?\([^)]*\)", lambda m: "off" if m[0] == "rgba(0, 0, 0, 0)" else "on", s)
            for s in tab.page.evaluate(SWATCHES)
        ]
        assert len(plain) >= 6 and len(set(plain)) == len(plain)
        grounds.append(tab.page.locator(".pr-lines i").first.evaluate("e => getComputedStyle(e).backgroundColor"))
    assert grounds == ["rgb(43, 47, 51)"] * 2
