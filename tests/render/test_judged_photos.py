"""The judged photos: every reading, every fault and every way to have no firing end, in equal measure."""

from __future__ import annotations

from collections import Counter

import pytest

from sample_images.render.families import family_of
from sample_images.render.judged_photos import NEAR, Wanted, request_of, wanted
from sample_images.render.phone import FAULTS
from sample_images.render.plug.spec import FIRING_END
from sample_images.render.scene import compose
from sample_images.render.truth import tilt_deg


@pytest.fixture(scope="module")
def listed() -> list[Wanted]:
    """The list of a judging run."""
    return wanted("test", 176, 4, 80, 80)


def test_singles_show_every_reading_equally_often(listed: list[Wanted]) -> None:
    """Eight pictures each of 22 readings, each reading in every view."""
    single = [w for w in listed if w.name.startswith("one")]
    assert set(Counter(w.reading for w in single).values()) == {8}
    assert {w.reading for w in single} == set(FIRING_END)
    assert len({(w.reading, w.view) for w in single}) == 3 * len(FIRING_END)


def test_every_fault_spoils_every_view(listed: list[Wanted]) -> None:
    """No fault goes with one view only."""
    assert len({(w.fault, w.view) for w in listed if w.fault}) == 3 * len(FAULTS)


def test_pictures_without_a_firing_end_are_of_every_sort(listed: list[Wanted]) -> None:
    """Near-plugs all stand in the middle of a picture; a quarter of the pictures show the wrong end of a plug."""
    none = [w for w in listed if w.name.startswith("none")]
    assert {w.things[0] for w in none if w.things} == set(NEAR)
    assert sum(w.view == "back" for w in none) == len(none) / 4


def test_no_picture_has_a_twin(listed: list[Wanted]) -> None:
    """Names and seeds stand once, and the family is the one kept for testing."""
    assert len({w.name for w in listed}) == len({w.seed for w in listed}) == len(listed)
    assert {family_of(w.seed).name for w in listed} == {"test"}


@pytest.mark.parametrize("k", range(4))
def test_a_plug_from_behind_shows_no_firing_end(listed: list[Wanted], k: int) -> None:
    """Seen from its wrong end, the plug's strap and tip fall outside the picture or point away from the lens."""
    want = [w for w in listed if w.view == "back"][k]
    scene = compose(request_of(want, (64, 48)))
    plug = scene.plugs[0]
    x, y = scene.camera.project(plug.world(plug.model.key_points["axis_front"]))[:2]
    assert not (0 <= x < 64 and 0 <= y < 48) or tilt_deg(plug, scene.camera) < -20


def test_a_known_reading_stands_on_the_plug_with_its_amount(listed: list[Wanted]) -> None:
    """The plug of a picture carries the reading the list names, between 0.4 and 1."""
    want = next(w for w in listed if w.reading == "oil_fouled")
    plug = compose(request_of(want, (64, 48))).plugs[0]
    assert 0.4 <= plug.model.readings["oil_fouled"] <= 1.0
