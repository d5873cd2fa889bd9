"""Teaching on the page: keep confirmed plugs with one tap, learn with a bar, see whether to trust it, use it, take it back."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.page.conftest import HERE, Running, Server, picture

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def learner(tmp_path_factory: pytest.TempPathFactory, samples: Path) -> Iterator[Server]:
    """The page with stand-ins that can learn behind it."""
    running = Running(HERE / "app_that_learns.py", tmp_path_factory.mktemp("learner"), samples)
    yield running.start()
    running.stop()


@pytest.fixture
def page(screen: Callable[..., Any], learner: Server) -> Callable[..., Any]:
    """Open that page with no lessons and no models."""
    for folder in ("taught", "models"):
        shutil.rmtree(learner.home / folder, ignore_errors=True)
    return lambda shape="phone", query="": screen(shape, query, url=learner.url)


def with_photos(page: Callable[..., Any], tmp_path: Path, dark: int, light: int, seed: int = 500) -> Any:
    """A visit of a four whose photos are read: so many dark, so many light."""
    tab = page()
    files = [picture(tmp_path / f"{seed}_{k}.jpg", dark=k < dark, seed=seed + k) for k in range(dark + light)]
    tab.take("pick", *files)
    tab.sees("Show what the photos say")
    tab.settle()
    tab.press("Show what the photos say")
    tab.sees("Likely causes")
    tab.settle()
    return tab


def to_teach(tab: Any) -> None:
    tab.page.locator("[class*=st-key-nav]").get_by_role("link", name="Teach").click()
    tab.sees("Teach it your own plugs")
    tab.settle()


def lessons_of(learner: Server) -> dict[str, int]:
    return {folder.name: len(list(folder.glob("*.jpg"))) for folder in sorted((learner.home / "taught").glob("*"))}


def test_one_tap_keeps_a_confirmed_plug(page: Callable[..., Any], learner: Server, tmp_path: Path) -> None:
    """What the photo shows is kept with one tap, said, and taken back with one more."""
    tab = with_photos(page, tmp_path, dark=1, light=3)
    tab.press("It is sooty")
    tab.sees("Kept as a lesson")
    assert lessons_of(learner) == {"carbon_fouled": 1}
    tab.press("Take this lesson back")
    tab.sees("keep as a lesson")
    assert lessons_of(learner) == {"carbon_fouled": 0}
    assert tab.errors == [] and tab.outside == []


def test_the_users_own_tick_decides(page: Callable[..., Any], learner: Server, tmp_path: Path) -> None:
    """Where the user ticked something else than the photo shows, the tick is what is kept; ticking anew moves it."""
    tab = with_photos(page, tmp_path, dark=1, light=3, seed=520)
    tab.press("It is sooty")
    tab.sees("Kept as a lesson")
    tab.unfold("What do you see")
    tab.tick("Oily")
    tab.press("Keep as a lesson: oily")
    tab.sees("Kept as a lesson: oily")
    assert lessons_of(learner) == {"carbon_fouled": 0, "oil_fouled": 1}


def test_a_photo_that_cannot_be_read_teaches_nothing(page: Callable[..., Any], tmp_path: Path) -> None:
    """A refused photo and a sample engine offer no lesson."""
    tab = page()
    tab.take("one", picture(tmp_path / "refuse.jpg", seed=540))
    tab.sees("fill the frame with the plug")
    tab.settle()
    assert tab.page.get_by_text("as a lesson").count() == 0
    sample = page("desk")
    sample.press("Four, one plug odd")
    sample.sees("Likely causes")
    sample.settle()
    assert sample.page.get_by_text("as a lesson").count() == 0


def keep_all(page: Callable[..., Any], tmp_path: Path, seed: int) -> Any:
    """Two sooty and two tan plugs of one visit kept as lessons."""
    tab = with_photos(page, tmp_path, dark=2, light=2, seed=seed)
    for number in range(1, 5):
        tab.choose(number)
        tab.press("keep as a lesson")
        tab.sees("Kept as a lesson")
    return tab


def test_too_few_lessons_are_refused_with_the_reason(page: Callable[..., Any], learner: Server, tmp_path: Path) -> None:
    """Two plugs of each reading teach nothing: one line says how many are there and how many are needed, no model is made."""
    tab = keep_all(page, tmp_path, seed=560)
    to_teach(tab)
    tab.press("Learn from these")
    tab.sees("No reading has enough plugs; too few: sooty (carbon fouled) (2), normal (2)")
    assert tab.page.get_by_text("What it learned").count() == 0
    assert not (learner.home / "models" / "learned" / "card.json").exists()


def test_from_lessons_to_a_model_that_reads(
    page: Callable[..., Any], learner: Server, tmp_path: Path, axe: Callable[[Any], Any]
) -> None:
    """Learned from eight plugs, the report tells on one screen whether to trust it; used, it reads the photos; and back."""
    keep_all(page, tmp_path, seed=580)
    tab = keep_all(page, tmp_path, seed=600)
    to_teach(tab)
    assert axe(tab) == []
    tab.press("Learn from these")
    tab.sees("What it learned")
    tab.sees("Right, mean over readings")
    tab.sees("It is not used yet")
    tab.settle()
    assert axe(tab) == []
    tab.press("Read with it")
    tab.sees("This model reads your photos now")
    tab.page.locator("[class*=st-key-nav]").get_by_role("link", name="Bench").click()
    tab.sees("Read by the taught model")
    to_teach(tab)
    tab.press("Back to the colour rules")
    tab.sees("It is not used yet")
    assert tab.errors == [] and tab.outside == []


def test_no_lessons_yet(page: Callable[..., Any]) -> None:
    """Without lessons the page says how to make some, on a narrow phone too without sideways scroll."""
    tab = page("narrow")
    to_teach(tab)
    tab.sees("No lessons yet")
    assert tab.page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


def test_a_damaged_model_leaves_the_rules_reading(page: Callable[..., Any], learner: Server, tmp_path: Path) -> None:
    """A model in use that is damaged is told in one line, and the photos are read all the same."""
    used = learner.home / "models" / "used"
    used.mkdir(parents=True)
    (used / "card.json").write_text("{")
    tab = with_photos(page, tmp_path, dark=1, light=3, seed=620)
    tab.sees("The colour rules read instead")
    assert tab.verdict()
