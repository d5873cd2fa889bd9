"""Plugs side by side in a browser: a card picks its plug on the bench, by finger and by keyboard, and shows that it is picked."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from plugread.page import words
from tests.page.conftest import picture

pytestmark = pytest.mark.browser
PRESSED = """() => [...document.querySelectorAll('*')].flatMap(e => [...(e.shadowRoot?.querySelectorAll('button') || [])])
  .filter(e => e.ariaPressed === 'true' && e.dataset.cylinder).map(e => e.dataset.cylinder)"""
IN_SIGHT = "e => { const r = e.getBoundingClientRect(); return r.bottom > 0 && r.top < innerHeight }"


def card(tab: Any, number: int) -> Any:
    """The card of one plug."""
    return tab.page.locator(f"button[data-cylinder='{number}']")


def sampled(screen: Any, shape: str) -> Any:
    tab = screen(shape)
    tab.press("Four, one plug odd")
    card(tab, 4).wait_for()
    tab.settle()
    return tab


@pytest.mark.parametrize("shape", ["phone", "narrow", "desk"])
def test_a_card_picks_its_plug(screen: Any, shape: str) -> None:
    """A tap has the effect of a tap on the drawing, and on a phone the bench comes back into sight."""
    tab = sampled(screen, shape)
    card(tab, 2).click()
    tab.page.locator(".well.is-picked[data-cylinder='2']").wait_for()
    tab.sees("What do you see on plug 2?")
    tab.page.wait_for_timeout(800)  # the way up is smooth
    assert tab.page.locator(".well.is-picked").evaluate(IN_SIGHT)
    assert tab.page.evaluate(PRESSED) == ["2"]
    assert (tab.outside, tab.errors) == ([], [])


def test_the_picked_card_is_marked_by_more_than_colour(screen: Any) -> None:
    """The picked card, and no other, carries the word; it follows a pick on the drawing, by a number key too."""
    tab = sampled(screen, "desk")
    for number in (1, 3):
        tab.page.keyboard.press(str(number))
        tab.page.locator(f".well.is-picked[data-cylinder='{number}']").wait_for()
        tab.settle()
        shown = [n for n in range(1, 5) if card(tab, n).get_by_text(words.COMPARE_PICKED).is_visible()]
        assert shown == [number]
        assert tab.page.evaluate(PRESSED) == [str(number)]


def test_cards_by_keyboard(screen: Any) -> None:
    """Tab goes from card to card, the one in focus is outlined, Enter and the space bar pick, and focus and page stay put."""
    tab = sampled(screen, "desk")
    card(tab, 1).focus()
    for number, key in ((2, "Enter"), (3, "Space")):
        tab.page.keyboard.press("Tab")
        outline = card(tab, number).evaluate("e => [getComputedStyle(e).outlineStyle, getComputedStyle(e).outlineWidth]")
        assert outline == ["solid", "3px"]
        tab.page.keyboard.press(key)
        tab.page.locator(f".well.is-picked[data-cylinder='{number}']").wait_for()
        tab.settle()
        assert card(tab, number).evaluate("e => e.getRootNode().activeElement === e")


def test_the_keyboard_does_not_move_the_page(screen: Any) -> None:
    """On a phone with a keyboard, or a reader's touch, the page stays at the cards."""
    tab = sampled(screen, "phone")
    card(tab, 2).focus()
    tab.page.keyboard.press("Enter")
    tab.page.locator(".well.is-picked[data-cylinder='2']").wait_for()
    tab.page.wait_for_timeout(800)
    assert card(tab, 2).evaluate(IN_SIGHT)


def test_cards_can_be_read_aloud(screen: Any) -> None:
    """Each card is a button in a named list; its name says the number, whether it is odd, and what the plug looks like."""
    tab = sampled(screen, "phone")
    assert tab.page.get_by_role("list", name=words.COMPARE_LABEL).get_by_role("button").count() == 4
    odd = tab.page.get_by_role("button", name="Firing end of plug 3")
    said = " ".join(odd.inner_text().split())
    assert said.startswith("3 odd") and "off 30" in said
    assert odd.get_attribute("aria-pressed") == "false"


def test_the_plug_led_to_is_marked(screen: Any, tmp_path: Path) -> None:
    """When the photos are let speak and the page leads to the odd plug, its card is the marked one at once."""
    tab = screen()
    tab.take("pick", *(picture(tmp_path / f"{n}.jpg", dark=n == 3, seed=800 + n) for n in range(1, 5)))
    tab.sees("What do you see on plug 1?")
    tab.press("Show what the photos say")
    tab.sees("What do you see on plug 3?")
    card(tab, 3).wait_for()
    tab.settle()
    assert tab.page.evaluate(PRESSED) == ["3"]
