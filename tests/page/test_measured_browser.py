"""The page measured in a browser: accessibility, touch, width, outside requests, and its own share of the time.

Times hold for a two-core machine that may be busy: the limits are the floors agreed, the measured values are printed (-rP).
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from plugread.notebook import draft as drafts
from plugread.notebook.draft import Draft
from plugread.notebook.store import Store
from plugread.records import EngineSpec
from tests.page.conftest import Server, picture

pytestmark = pytest.mark.browser

SMALL = """() => {
  const inside = [...document.querySelectorAll('.stBidiComponent, [data-testid=stBidiComponent]')]
  const own = '.stMain button, .stMain a, .stMain summary, [data-testid=stBottom] button, [data-testid=stBottom] summary'
  const parts = inside.flatMap(e => [...(e.shadowRoot?.querySelectorAll('label.b, button') || [])])
  const streamlits = e => /Fullscreen|increment|decrement|StepUp|StepDown/i.test(e.ariaLabel + e.dataset.testid)
  return [...document.querySelectorAll(own), ...parts].filter(e => e.checkVisibility() && !streamlits(e))
    .map(e => [e.innerText || e.ariaLabel, ...(r => [Math.round(r.width), Math.round(r.height)])(e.getBoundingClientRect())])
    .filter(v => v[1] < 44 || v[2] < 44) }"""
WIDE = "() => Math.max(document.documentElement.scrollWidth, document.querySelector('.stMain').scrollWidth) - innerWidth"
SHIFT = """() => new Promise(done => { let sum = 0
  const add = list => list.getEntries().forEach(e => { if (!e.hadRecentInput) sum += e.value })
  new PerformanceObserver(add).observe({ type: 'layout-shift', buffered: true })
  setTimeout(() => done(sum), 300) })"""
PAINT = "() => performance.getEntriesByName('first-contentful-paint')[0].startTime"
LARGEST = """() => new Promise(done => { let last = 0
  const note = list => list.getEntries().forEach(e => { last = e.startTime })
  new PerformanceObserver(note).observe({ type: 'largest-contentful-paint', buffered: true })
  setTimeout(() => done(last), 300) })"""
FOCUS = """() => { let e = document.activeElement
  while (e?.shadowRoot?.activeElement) e = e.shadowRoot.activeElement
  return e?.className }"""
SHAPES = ("phone", "phone-dark", "desk")


def tell(text: str) -> None:
    """Print a measured value; pytest -rP shows it."""
    sys.stdout.write(f"measured: {text}\n")


def sampled(screen: Callable[..., Any], shape: str) -> Any:
    tab = screen(shape)
    tab.press("Four, one plug odd")
    tab.sees("Likely causes")
    tab.settle()
    return tab


@pytest.mark.parametrize("shape", SHAPES)
def test_accessible_in_every_state(screen: Callable[..., Any], axe: Callable[[Any], Any], tmp_path: Path, shape: str) -> None:
    """No serious or critical finding on the empty bench, while looking, with the answer, on checks, help, and in the dialog."""
    tab = screen(shape)
    assert axe(tab) == []
    tab.press("Engine")
    assert axe(tab) == []
    tab.page.keyboard.press("Escape")
    tab.take("pick", *(picture(tmp_path / f"{n}.jpg", dark=n == 3, seed=300 + n) for n in range(1, 6)))
    tab.sees("1 more photo than cylinders")
    tab.settle()
    assert axe(tab) == []
    tab.press("Show what the photos say")
    tab.sees("Likely causes")
    tab.unfold("Plots")
    tab.unfold("Less likely")
    tab.page.locator(".pr-verdict summary").click()
    assert axe(tab) == []
    for page in ("Checks", "Help"):
        tab.page.get_by_role("link", name=page).click()
        tab.settle()
        assert axe(tab) == []
    assert (tab.outside, tab.errors) == ([], [])


def test_targets_fit_a_glove(screen: Callable[..., Any]) -> None:
    """Everything to press on a phone is at least 44 by 44 pixels."""
    tab = screen("phone")
    assert tab.page.evaluate(SMALL) == []
    tab.press("Four, one plug odd")
    tab.sees("Likely causes")
    assert tab.page.evaluate(SMALL) == []


@pytest.mark.parametrize("layout", ["inline", "vee", "flat"])
def test_no_sideways_scroll_with_twelve_cylinders(
    screen: Callable[..., Any], server: Server, tmp_path: Path, layout: str
) -> None:
    """At 320 pixels, twelve cylinders with photos neither widen the page nor any page beside it."""
    engine = EngineSpec(layout, 12, tuple(range(1, 13)), "port_injection", "wasted_spark", True)
    store = Store(server.home / "notebook.sqlite")
    photos = [(store.keep_photo(Path(picture(tmp_path / f"{n}.jpg", seed=400 + n)).read_bytes()), f"{n}.jpg") for n in range(12)]
    store.start(
        f"twelve-{layout}", replace(drafts.place(Draft(engine), photos, 1), shown=True, sample="engine_of_a_test"), "test"
    )
    tab = screen("narrow", query=f"?visit=twelve-{layout}")
    tab.sees("Likely causes")
    tab.settle()
    assert tab.page.evaluate(WIDE) <= 0
    for page in ("Checks", "Help"):
        tab.page.get_by_role("link", name=page).click()
        tab.settle()
        assert tab.page.evaluate(WIDE) <= 0


def test_first_paint_and_shift(screen: Callable[..., Any]) -> None:
    """On loopback the first paint comes within 1.5 s and the page hardly shifts while it builds."""
    screen("phone").close()  # the first visitor warms the server
    tab = screen("phone")
    paint, shift = tab.page.evaluate(PAINT), tab.page.evaluate(SHIFT)
    tell(f"first paint {paint:.0f} ms, shift {shift:.3f}")
    assert paint <= 1500
    assert shift <= 0.25


@pytest.mark.slow
def test_largest_paint_on_a_phone_link(browser: Any, server: Server) -> None:
    """At 30/10 Mbit/s and a quarter of the processor the largest paint comes within 4 s, or five bare ones on a busy machine."""
    bare = _largest_paint(browser, server.url, slow=False)
    largest = _largest_paint(browser, server.url, slow=True)
    tell(f"largest paint {largest:.0f} ms on a phone link, {bare:.0f} ms on loopback")
    assert largest <= max(4000, 5 * bare)


def _largest_paint(browser: Any, url: str, *, slow: bool) -> float:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    if slow:
        link = context.new_cdp_session(page)
        link.send("Network.enable")
        rates = {"downloadThroughput": 30e6 / 8, "uploadThroughput": 10e6 / 8, "latency": 20}
        link.send("Network.emulateNetworkConditions", {"offline": False, **rates})
        link.send("Emulation.setCPUThrottlingRate", {"rate": 4})
    page.goto(url)
    page.get_by_text("Photograph plug 1").first.wait_for(timeout=30_000)
    largest = float(page.evaluate(LARGEST))
    context.close()
    return largest


def test_tick_to_new_ranking(screen: Callable[..., Any]) -> None:
    """From a tap to the new ranking takes at most half a second, or four bare round trips on a busy machine (95 % of taps)."""
    bare, tab = screen("desk"), sampled(screen, "desk")
    trips = []
    for k in range(8):
        other = bare.page.get_by_role("radio", name=str(2 + k % 2), exact=True)
        trips.append(_timed(bare.page, other, f"Photograph plug {2 + k % 2}"))
    stayed = tab.page.locator("[data-testid=stButtonGroup] button", has_text="The fault stayed").first
    times = [_timed(tab.page, stayed, "(72%)" if k % 2 == 0 else "(62%)") for k in range(20)]
    middle, slow, trip = (1000 * float(v) for v in (np.median(times), np.quantile(times, 0.95), np.median(trips)))
    tell(f"tick to ranking: median {middle:.0f} ms, 95 % {slow:.0f} ms, bare round trip {trip:.0f} ms")
    assert slow <= max(500, 4 * trip)


def _timed(page: Any, press: Any, until: str) -> float:
    start = time.perf_counter()
    press.click()
    page.get_by_text(until).first.wait_for()
    return time.perf_counter() - start


def test_large_photo_to_reading(screen: Callable[..., Any], tmp_path: Path) -> None:
    """A 12 megapixel photo is made smaller, sent and read within 2.5 s, the reading itself (a stand-in) not counted."""
    tab = screen("phone")
    photo = picture(tmp_path / "large.jpg", seed=500, size=(4032, 3024))
    start = time.perf_counter()
    tab.take("one", photo)
    tab.sees("Photograph plug 2")
    spent = time.perf_counter() - start
    tell(f"12 MP photo to reading: {spent:.2f} s")
    assert spent <= 2.5


def test_sample_to_verdict(screen: Callable[..., Any]) -> None:
    """One tap and at most 3 s from the open page to a verdict on the sample engine."""
    tab = screen("phone")
    start = time.perf_counter()
    tab.page.get_by_role("button", name="Four, one plug odd").click()
    tab.page.locator(".pr-verdict").wait_for()
    spent = time.perf_counter() - start
    tell(f"sample to verdict: {spent:.2f} s")
    assert spent <= 3


def test_camera_button_is_near_for_the_keyboard(screen: Callable[..., Any]) -> None:
    """From the start of the page's own part the camera button is three Tab presses at most behind the four pages' links."""
    tab = screen("desk")
    tab.page.locator("#stMain").focus()
    passed = []
    while "i-one" not in passed and len(passed) < 12:
        tab.page.keyboard.press("Tab")
        passed.append(tab.page.evaluate(FOCUS))
    assert len(passed) <= 4 + 3


@pytest.mark.slow
def test_memory_stays_flat(screen: Callable[..., Any], server: Server, tmp_path: Path) -> None:
    """After ten visits of eight photos the page's memory is no larger than after five, within 60 MB."""
    photos = [picture(tmp_path / f"{n}.jpg", seed=600 + n, size=(1600, 1200)) for n in range(4)]
    sizes = []
    for visit in range(10):
        tab = screen("phone")
        tab.take("pick", *photos)
        tab.sees("What do you see on plug")
        tab.close()
        if visit in (4, 9):
            sizes.append(server.memory_mb())
    tell(f"memory after 5 and 10 visits: {sizes[0]:.0f} MB, {sizes[1]:.0f} MB")
    assert sizes[1] <= sizes[0] + 60
