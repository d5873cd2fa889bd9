"""Nothing entered is lost: reload, back button, server restart, dropped link, two tabs, full disk."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import pytest

from tests.page.conftest import HERE, Running, picture

pytestmark = pytest.mark.browser


def test_reload_brings_everything_back(screen: Any) -> None:
    """Ticks, check results and photos are there again after a reload."""
    tab = screen()
    tab.press("Four, one plug odd")
    tab.tick("The fault stayed")
    tab.sees("(72%)")
    tab.page.reload()
    tab.settle()
    tab.sees("(72%)")
    assert tab.page.locator(".well.is-read").count() == 4


def test_back_from_checks_keeps_the_visit(screen: Any) -> None:
    """Going to another page and back with the browser's button shows the same visit."""
    tab = screen()
    tab.press("Four, one plug odd")
    tab.page.get_by_role("link", name="Checks").click()
    tab.sees("Results you have")
    tab.page.go_back()
    tab.sees("Likely causes")


def test_server_restart_loses_nothing(screen: Any, samples: Path, tmp_path: Path) -> None:
    """A tab that stays open through a restart of the server shows the same visit again after a reload."""
    running = Running(HERE / "app_with_stand_ins.py", tmp_path, samples)
    tab = screen(url=running.start().url)
    try:
        tab.press("Four, one plug odd")
        tab.tick("The fault stayed")
        tab.sees("(72%)")
        running.stop()
        running.start()
        start = time.monotonic()
        tab.page.reload()
        tab.sees("(72%)")
        assert time.monotonic() - start < 8
    finally:
        tab.close()
        running.stop()


def test_photo_taken_while_the_link_is_down_arrives(screen: Any, relay: Any, tmp_path: Path) -> None:
    """A picture chosen while the link is down for 20 s arrives at most 15 s after it is back."""
    tab = screen(url=relay.url)
    tab.page.locator(".i-one").wait_for(state="attached")  # a button that has not come yet cannot keep a photo
    relay.cut()
    tab.page.wait_for_timeout(2000)
    tab.take("one", picture(tmp_path / "late.jpg", seed=200))
    tab.page.wait_for_timeout(12_000)
    assert "No link" in tab.page.evaluate("getComputedStyle(document.querySelector('.stApp'), '::before').content")
    tab.page.wait_for_timeout(6_000)
    relay.mend()
    start = time.monotonic()
    tab.page.get_by_text("Photograph plug 2").first.wait_for(timeout=30_000)
    assert time.monotonic() - start < 15


def test_two_tabs_on_one_visit_are_both_told(screen: Any) -> None:
    """A change in one tab shows in the other at its next step, which says so; both changes are kept."""
    first = screen()
    first.press("Four, one plug odd")
    second = screen(url=first.page.url)
    second.sees("Likely causes")
    first.tick("The fault stayed")
    first.sees("(72%)")
    second.choose(2)
    second.sees("Another tab or phone changed this visit")
    second.sees("(72%)")
    first.choose(4)
    first.sees("Another tab or phone changed this visit")


def test_photos_of_the_phone_show_on_the_screen_beside_it(screen: Any, tmp_path: Path) -> None:
    """A tab nobody touches shows within ten seconds what another one took in."""
    desk = screen("desk", query="?visit=shared")
    phone = screen("phone", query="?visit=shared")
    phone.take("one", picture(tmp_path / "a.jpg", seed=220))
    desk.page.locator(".well.is-read[data-cylinder='1']").wait_for(timeout=10_000)
    desk.sees("Another tab or phone changed this visit")


def test_full_disk_is_told_and_work_stays(screen: Any, samples: Path, tmp_path: Path) -> None:
    """When the notebook cannot be written the page says so in place, and what was entered stays on it."""
    running = Running(HERE / "app_with_stand_ins.py", tmp_path, samples, {"PLUGREAD_TEST_FULL_DISK": "1"})
    tab = screen(url=running.start().url)
    try:
        tab.take("one", picture(tmp_path / "a.jpg", seed=210))
        tab.sees("Not kept on disk")
        tab.sees("Photograph plug 2")
        tab.choose(1)
        tab.press("Show what the photos say")
        tab.sees("Looks like")
    finally:
        tab.close()
        running.stop()


def test_a_visit_nobody_kept_starts_empty(screen: Any) -> None:
    """An address with an unknown visit opens an empty bench under that name."""
    tab = screen(query="?visit=nobody-kept-this")
    tab.sees("Pulled the plugs?")


def test_the_address_can_name_a_sample(screen: Any) -> None:
    """?sample=NAME opens that engine; a name that is none is told and opens nothing from elsewhere."""
    tab = screen(query="?sample=engine_one_odd")
    tab.sees("Likely causes")
    assert "sample=" not in tab.page.url and "visit=" in tab.page.url
    screen(query="?sample=../engine_one_odd").sees("There is no sample engine")


def test_the_key_guards_the_door(screen: Any, samples: Path, tmp_path: Path) -> None:
    """With a one-time key nothing is shown without it, and with it the page works and keeps it over page changes."""
    running = Running(HERE / "app_with_stand_ins.py", tmp_path, samples, {"PLUGREAD_PAGE_KEY": "open-sesame"})
    url = running.start().url
    try:
        for query in ("", "?key=wrong", "?visit=x"):
            tab = screen(url=url, query=query)
            tab.sees("This page is for those with its address")
            assert tab.page.get_by_role("button", name="Four").count() == 0
            tab.close()
        tab = screen(url=url, query="?key=open-sesame")
        tab.press("Four, one plug odd")
        tab.page.get_by_role("link", name="Help").click()
        tab.sees("What the words mean")
        assert "key=open-sesame" in tab.page.url
    finally:
        running.stop()
