"""What a result moved, in a browser: said beside the result, there after a reload, gone with the result and the visit."""

from __future__ import annotations

from typing import Any

import pytest

from plugread.page import check_words

pytestmark = pytest.mark.browser
NOTE = ".pr-moved"


def entered(screen: Any, shape: str = "phone") -> Any:
    """The bench after the fault stayed with its cylinder."""
    tab = screen(shape)
    tab.press("Four, one plug odd")
    assert tab.page.locator(NOTE).count() == 0
    tab.tick("The fault stayed")
    tab.page.locator(NOTE).wait_for()
    return tab


@pytest.mark.parametrize("shape", ["phone", "narrow", "desk"])
def test_a_result_says_what_it_moved(screen: Any, shape: str) -> None:
    """The check, what came out, and the chance before and after stand on the page, in its width, as the ranking words them."""
    tab = entered(screen, shape)
    said = " ".join(tab.page.locator(NOTE).inner_text().split())
    assert "the fault stayed with the cylinder (cylinder 3)" in said
    assert "about 3 in 5 (62%)" in said and "about 7 in 10 (72%)" in said
    assert said.index("62%") < said.index("72%")
    assert tab.page.evaluate("document.querySelector('.stMain').scrollWidth - innerWidth") <= 0
    assert (tab.outside, tab.errors) == ([], [])


def test_it_is_near_the_box_on_a_phone(screen: Any) -> None:
    """What moved is in sight after the tap that entered the result, without a scroll."""
    note = entered(screen).page.locator(NOTE)
    assert note.evaluate("e => { const r = e.getBoundingClientRect(); return r.bottom > 0 && r.top < innerHeight }")


def test_it_survives_a_reload_and_goes_with_the_result(screen: Any) -> None:
    """A reload says it again; taking the result back takes it away; a new visit starts without it."""
    tab = entered(screen)
    tab.page.reload()
    tab.settle()
    tab.page.locator(NOTE).wait_for()
    tab.unfold("Checks done")
    tab.press("Take back")
    tab.page.locator(NOTE).wait_for(state="detached")
    tab.sees("(62%)")


def test_a_new_visit_starts_without_it(screen: Any) -> None:
    """Another visit has no last result."""
    tab = entered(screen)
    tab.press("New")
    tab.page.locator(NOTE).wait_for(state="detached")


def test_the_next_result_takes_its_place(screen: Any) -> None:
    """Of two results the later one is told, against the ranking that the earlier one left."""
    tab = entered(screen)
    tab.page.get_by_role("link", name="Checks").click()
    tab.settle()
    box = tab.page.get_by_label("Cylinder 3, psi")
    box.fill("90")
    box.press("Enter")
    tab.page.locator(NOTE, has_text="82%").wait_for()
    said = tab.page.locator(NOTE).inner_text()
    assert "(72%)" in said and "(62%)" not in said and "Swap the plug" not in said


def test_a_result_that_moves_nothing_is_passed_over(screen: Any) -> None:
    """On an engine whose ranking the result leaves alone nothing is said."""
    tab = screen()
    tab.press("Six, a shared fault")
    tab.page.get_by_role("link", name="Checks").click()
    tab.settle()
    box = tab.page.get_by_label("Cylinder 3, psi")
    box.fill("90")
    box.press("Enter")
    tab.settle()
    tab.page.get_by_role("link", name="Bench").click()
    tab.sees(check_words.DONE)
    tab.settle()
    assert tab.page.locator(NOTE).count() == 0
