"""What a change does to a draft, and what it leaves alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from plugread.engine import Engine
from plugread.notebook import draft as drafts
from plugread.notebook.draft import Draft, Shot
from plugread.notebook.engines import presets, usual
from plugread.records import CheckEntry, PlugEntry

FOUR = Draft(usual())
PHOTOS = [("d1", "1.jpg"), ("d2", "2.jpg"), ("d3", "3.jpg"), ("d4", "4.jpg"), ("d5", "5.jpg"), ("d6", "6.jpg")]


def places(draft: Draft) -> dict[str, int | None]:
    return {shot.digest: shot.cylinder for shot in draft.shots}


@pytest.mark.parametrize("name", list(presets()))
def test_every_preset_is_an_engine(name: str) -> None:
    """Each engine to start from passes the engine's own checks."""
    Engine(presets()[name])


def test_several_photos_go_in_order() -> None:
    """Photos chosen together go to the cylinders in the order chosen, from the picked one on."""
    assert places(drafts.place(FOUR, PHOTOS[:3], 2)) == {"d1": 2, "d2": 3, "d3": 4}


def test_more_photos_than_cylinders_wait() -> None:
    """Photos beyond the free cylinders stay, unplaced."""
    assert places(drafts.place(FOUR, PHOTOS, 1)) == {"d1": 1, "d2": 2, "d3": 3, "d4": 4, "d5": None, "d6": None}


def test_one_photo_replaces_the_earlier_one() -> None:
    """A single photo for a cylinder takes the place of the one there."""
    once = drafts.place(FOUR, PHOTOS[:1], 3)
    assert places(drafts.place(once, PHOTOS[1:2], 3)) == {"d2": 3}


def test_the_same_photo_is_not_taken_twice() -> None:
    """A photo already in the draft changes nothing and is reported."""
    once = drafts.place(FOUR, PHOTOS[:1], 3)
    assert drafts.place(once, PHOTOS[:1], 1) == once
    assert [shot.cylinder for shot in drafts.repeated(once, ["d1", "d9"])] == [3]


def test_moving_a_photo_swaps() -> None:
    """A photo moved to an occupied cylinder changes places with the one there."""
    draft = drafts.place(FOUR, PHOTOS[:4], 1)
    assert places(drafts.move(draft, draft.shots[0], 4)) == {"d1": 4, "d2": 2, "d3": 3, "d4": 1}


def test_a_smaller_engine_keeps_the_photos() -> None:
    """Changing to fewer cylinders leaves the photos of the missing ones unplaced and drops their ticks."""
    draft = drafts.tick(drafts.place(FOUR, PHOTOS[:4], 1), 4, ["worn"], ["worn"])
    small = drafts.with_engine(draft, presets()["Inline three, injection, coil on each plug"])
    assert places(small) == {"d1": 1, "d2": 2, "d3": 3, "d4": None}
    assert small.plugs == ()


def test_row_order_can_be_turned_and_swapped() -> None:
    """A row lies 1 to n until told otherwise; swapping two places leaves the rest."""
    row = drafts.with_row(FOUR, "r", "row.jpg")
    assert row.row is not None and row.row.cylinders == (1, 2, 3, 4)
    swapped = drafts.swap_in_row(row, 0, 3)
    assert swapped.row is not None and swapped.row.cylinders == (3, 2, 1, 4)


def test_a_spot_in_the_row_belongs_to_one_plug() -> None:
    """Pointing at a nose in the row photo overrides that plug only, and can be taken back."""
    row = drafts.with_row(FOUR, "r", "row.jpg")
    pointed = drafts.point(row, 2, (0.3, 0.4))
    assert pointed.shots == (Shot("r", "row.jpg", 2, (0.3, 0.4)),)
    assert drafts.point(pointed, 2, None) == row


def test_three_states_of_a_tick() -> None:
    """Not looked at, present, and looked for but absent stay apart."""
    asked = ["carbon_fouled", "worn", "glazed"]
    ticked = drafts.tick(FOUR, 1, ["worn"], asked)
    assert (ticked.entry(1).seen, ticked.entry(1).not_seen) == (("worn",), ())
    done = drafts.nothing_else(ticked, 1, asked)
    assert (done.entry(1).seen, done.entry(1).not_seen) == (("worn",), ("carbon_fouled", "glazed"))
    assert done.entry(2) == PlugEntry(2)


def test_nothing_on_it_is_normal() -> None:
    """Looking and finding nothing names the plug normal."""
    done = drafts.nothing_else(FOUR, 1, ["normal", "worn"])
    assert (done.entry(1).seen, done.entry(1).not_seen) == (("normal",), ("worn",))


def test_a_tick_taken_back_after_looking_is_absent() -> None:
    """Once the whole plug was looked at, unticking a finding means it is not there."""
    done = drafts.nothing_else(drafts.tick(FOUR, 1, ["worn"], ["worn"]), 1, ["worn", "glazed"])
    back = drafts.tick(done, 1, [], ["worn", "glazed"])
    assert set(back.entry(1).not_seen) == {"worn", "glazed"} and back.entry(1).seen == ("normal",)


def test_a_tick_after_the_reading_says_so() -> None:
    """Only a tick on a plug with a photo, given once readings were shown, counts as after the photo."""
    draft = replace(drafts.place(FOUR, PHOTOS[:1], 1), shown=True)
    assert drafts.tick(draft, 1, ["worn"], ["worn"]).entry(1).tick_after_photo
    assert not drafts.tick(draft, 2, ["worn"], ["worn"]).entry(2).tick_after_photo


def test_readings_show_once_all_were_looked_at() -> None:
    """The photos' readings are shown as soon as every plug with a photo was looked at, not before."""
    draft = drafts.place(FOUR, PHOTOS[:2], 1)
    one = drafts.show_if_all_looked(drafts.nothing_else(draft, 1, ["worn"]))
    assert not one.shown
    assert drafts.show_if_all_looked(drafts.nothing_else(one, 2, ["worn"])).shown


def test_looking_moves_on_to_the_next_plug() -> None:
    """After one plug was looked at, the next one with a photo is picked, until none is left."""
    draft = drafts.place(FOUR, PHOTOS[:3], 1)
    second = drafts.on_to_the_next(drafts.nothing_else(replace(draft, picked=1), 1, ["worn"]))
    assert (second.picked, second.answer_may_show) == (2, False)


def test_a_photo_leads_to_the_next_gap_then_to_the_first_look() -> None:
    """After a photo comes the next plug without one; the last gap filled, the first not looked at; a retake stays where it is."""
    draft = Draft(usual())
    for n in range(1, 5):
        draft = drafts.on_from_photo(draft, drafts.place(draft, [(f"d{n}", f"{n}.jpg")], n))
        assert draft.picked == n % 4 + 1
    again = replace(draft, picked=3)
    assert drafts.on_from_photo(again, drafts.place(again, [("d9", "9.jpg")], 3)).picked == 3


def test_a_check_is_recorded_once() -> None:
    """A second result of the same check at the same cylinder replaces the first."""
    draft = drafts.record(FOUR, CheckEntry("swap_plug", 3, "moved"))
    again = drafts.record(draft, CheckEntry("swap_plug", 3, "stayed"))
    assert [entry.outcome for entry in again.checks] == ["stayed"]


def test_text_and_back() -> None:
    """A draft written and read again is the same draft."""
    draft = drafts.point(drafts.with_row(drafts.place(FOUR, PHOTOS, 1), "r", "row.jpg"), 1, (0.25, 0.5))
    draft = drafts.nothing_else(drafts.tick(draft, 1, ["worn"], ["worn"]), 1, ["glazed"])
    draft = drafts.record(draft, CheckEntry("leak_down", unit="percent", values={1: 5.0, 2: 40.0}, where={2: "exhaust"}))
    draft = drafts.took(drafts.gauge(drafts.sign(draft, ["knock"], ["blue_smoke_load"]), 2, 0.9), "token")
    assert drafts.from_text(drafts.to_text(draft)) == draft


def test_box_stays_in_the_picture() -> None:
    """A spot near the corner gives a box inside the picture."""
    x, y, w, h = drafts.box_at((0.99, 0.01), (1000, 800), (0, 0, 100, 60))
    assert (x + w <= 1000, y >= 0, w, h) == (True, True, 100, 60)


def test_window_stays_in_the_picture() -> None:
    """The cut round a nose at the edge stays inside, with the shape asked for."""
    x0, y0, x1, y1 = drafts.window_round((0, 0, 50, 50), (1000, 800))
    assert min(x0, y0) >= 0 and max(x1, y1) <= 1
    assert (x1 - x0) * 1000 / ((y1 - y0) * 800) == pytest.approx(1.5)
