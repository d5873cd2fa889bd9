"""The page as shipped, with the real reading and reasoning behind it, on the sample engines."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Any

import pytest

from plugread import casefile, pipeline
from plugread.notebook.samples import sample_names
from plugread.page import words
from plugread.resources import samples_dir
from tests.page.conftest import Server

pytestmark = pytest.mark.browser
NAMES = sample_names(samples_dir())


def reading_s(name: str) -> float:
    """Seconds that reading the engine's photos takes here and now, one after the other."""
    case = casefile.load_case(samples_dir() / name / "case.toml")
    photos: list[tuple[str, int | None]] = [(plug.photo, None) for plug in case.plugs if plug.photo]
    photos += [(case.lineup.photo, len(case.lineup.cylinders))] if case.lineup else []
    pipeline.warm_up()
    start = time.perf_counter()
    for photo, expected in photos:
        pipeline.read_photo(Path(case.base_dir) / photo, expected=expected)
    return time.perf_counter() - start


@pytest.mark.parametrize("name", NAMES)
def test_sample_engine_from_tap_to_verdict(screen: Any, shipped: Server, name: str) -> None:
    """One tap on each sample engine ends in a verdict and a colour for most plugs, in 3 s or twice the time of reading."""
    tab = screen(url=shipped.url)
    alone = reading_s(name)
    start = time.perf_counter()
    tab.page.get_by_role("button", name=words.SAMPLES[name]).click()
    tab.page.locator(".pr-verdict").wait_for(timeout=60_000)
    spent = time.perf_counter() - start
    sys.stdout.write(f"measured: {name}: tap to verdict {spent:.2f} s, reading its photos one by one {alone:.2f} s\n")
    tab.settle()
    assert tab.verdict() in words.VERDICT.values()
    cylinders = casefile.load_case(samples_dir() / name / "case.toml").engine.cylinders
    assert tab.page.locator(".well.is-read, .well.is-unsure").count() >= cylinders / 2
    assert spent <= max(3.0, 2 * alone + 2.5)  # the second part for a machine that is busy
    assert (tab.outside, tab.errors) == ([], [])


def test_row_photo_of_a_sample_engine(screen: Any, shipped: Server) -> None:
    """The row photo of a sample engine ends in four plugs read, or in words that say how many were found."""
    tab = screen(url=shipped.url)
    tab.take("all", str(samples_dir() / "engine_healthy" / "row.jpg"))
    tab.page.locator(".well.is-read, .well.is-unsure, [data-testid=stAlert]").first.wait_for(timeout=60_000)
    tab.settle()
    read = tab.page.locator(".well.is-read, .well.is-unsure").count()
    assert read == 4 or tab.page.get_by_text("firing ends found in the row").count() == 1


def test_a_picture_without_a_plug(screen: Any, shipped: Server) -> None:
    """A photo that shows no plug is refused in words, and the place stays without a colour."""
    tab = screen(url=shipped.url)
    tab.take("one", str(samples_dir() / "no_plug" / "coins.jpg"))
    tab.page.get_by_text("The photo of plug 1 cannot be read").wait_for(timeout=60_000)
    assert tab.page.locator(".well.is-read").count() == 0
