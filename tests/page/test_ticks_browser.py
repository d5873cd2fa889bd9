"""How soon a tick shows in the ranking, with the real reasoning behind the page, however quickly one tick follows another."""

from __future__ import annotations

import sys
from typing import Any

import numpy as np
import pytest

from plugread.page import words
from tests.page.conftest import Server

pytestmark = pytest.mark.browser

TICKS, SIGNS = 12, 4
BAR_MS = 250
TO_RANKING = """(k) => new Promise(done => {
  const ranking = () => [...document.querySelectorAll('.pr-cause .head')].map(e => e.textContent).join('|')
  const before = ranking(), start = performance.now()
  const seen = new MutationObserver(() => { if (ranking() !== before) {
    seen.disconnect(); requestAnimationFrame(() => done(performance.now() - start)) } })
  seen.observe(document.body, { childList: true, subtree: true, characterData: true })
  const signs = [...document.querySelectorAll('details')].find(d => d.querySelector('summary').textContent.includes('NAME'))
  signs.querySelectorAll('[data-testid=stButtonGroup] button')[k].click()
  setTimeout(() => done(null), 3000) })""".replace("NAME", words.SIGNS_TITLE)
"""Milliseconds from a click on the k-th sign to the frame with another ranking; null where the sign changes none in 3 s."""


@pytest.mark.parametrize("engine", ["engine_one_odd", "engine_shared_eight"])
@pytest.mark.parametrize("pause_ms", [0, 1500])
def test_tick_shows_in_the_ranking(screen: Any, shipped: Server, engine: str, pause_ms: int) -> None:
    """A tick on how the engine runs shows in the ranking in half a second (median), while the last answer is unfinished too."""
    tab = screen("desk", url=shipped.url)
    tab.press(words.SAMPLES[engine])
    tab.page.locator(".pr-verdict").wait_for(timeout=60_000)
    tab.settle()
    tab.unfold(words.SIGNS_TITLE)
    taken = []
    for k in range(TICKS):
        taken.append(tab.page.evaluate(TO_RANKING, k % SIGNS))
        tab.page.wait_for_timeout(pause_ms)
    times = [ms for ms in taken if ms is not None]
    middle, slow = (float(np.quantile(times, q)) for q in (0.5, 0.95))
    sys.stdout.write(f"measured: {engine}, {pause_ms} ms between ticks: tick to ranking {middle:.0f} ms, 95 % {slow:.0f} ms\n")
    assert len(times) >= TICKS / 2
    assert middle <= 2 * BAR_MS
