"""The bench in a browser, with stand-ins behind it: from photos to a next check, and every state on the way."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.page.conftest import picture

pytestmark = pytest.mark.browser


def test_sample_engine_gives_a_verdict_in_one_tap(screen: Any) -> None:
    """One tap on a sample engine shows verdict, odd plug, causes and next check."""
    tab = screen()
    tab.press("Four, one plug odd")
    assert tab.verdict() == "Check before driving on it"
    for text in ("Odd one: cylinder 3", "Likely causes", "None of these", "Next check", "Swap the plug"):
        tab.sees(text)
    assert (tab.outside, tab.errors) == ([], [])


def test_four_chosen_photos_give_a_next_check(screen: Any, tmp_path: Path) -> None:
    """Four photos in one pick go to cylinders 1 to 4; one press shows what they say."""
    tab = screen()
    tab.take("pick", *(picture(tmp_path / f"{n}.jpg", dark=n == 2, seed=50 + n) for n in range(1, 5)))
    tab.sees("What do you see on plug")
    for hidden in (tab.page.get_by_text("Looks like"), tab.page.get_by_text("Likely causes"), tab.page.locator(".pr-verdict")):
        assert hidden.count() == 0
    tab.press("Show what the photos say")
    tab.sees("Odd one: cylinder 2")
    tab.sees("Swap the plug")


def test_readings_stay_hidden_until_every_plug_was_looked_at(screen: Any, tmp_path: Path) -> None:
    """The photo's own reading appears by itself once each plug with a photo was looked at, and the ticks count in full."""
    tab = screen(query="?visit=look-first")
    tab.take("pick", *(picture(tmp_path / f"{n}.jpg", seed=60 + n) for n in range(1, 5)))
    tab.sees("What do you see on plug 1?")
    tab.choose(1)
    for n in (1, 2, 3, 4):
        tab.sees(f"What do you see on plug {n}?")
        assert tab.page.get_by_text("Likely causes").count() == 0
        tab.press("Looked, nothing on it")
    tab.sees("Looks like")
    assert tab.page.get_by_text("counts for less").count() == 0


def test_a_tick_after_the_reading_counts_for_less(screen: Any) -> None:
    """A tick given once the reading was shown says so."""
    tab = screen()
    tab.press("Four, one plug odd")
    tab.unfold("What do you see on plug 1?")
    tab.tick("Sooty")
    tab.sees("counts for less")


def test_row_photo_fills_all_cylinders_and_can_be_turned(screen: Any, tmp_path: Path) -> None:
    """One photo of four plugs reads all; turning the row puts the leftmost plug at the last cylinder."""
    tab = screen()
    tab.take("all", picture(tmp_path / "row4.jpg", seed=70, size=(1600, 500)))
    tab.sees("What do you see on plug 1")
    tab.press("Show what the photos say")
    tab.sees("No plug stands out")
    tab.unfold("Photos: take again")
    tab.unfold("How the row lies")
    tab.press("It lies the other way round")
    tab.page.locator("input[aria-label='Place 1'][value='4']").wait_for()


def test_row_with_a_plug_too_few_says_so(screen: Any, tmp_path: Path) -> None:
    """Three firing ends for four cylinders is told, nothing is guessed; once one is said to be missing the others are used."""
    tab = screen()
    tab.take("all", picture(tmp_path / "row3.jpg", seed=71, size=(1600, 500)))
    tab.sees("3 firing ends found in the row, but the engine has 4")
    tab.settle()
    tab.page.locator("[class*=st-key-left_out] button", has_text="2").click()
    tab.page.locator(".well.is-read").nth(2).wait_for()
    assert tab.page.locator(".well.is-empty").get_attribute("data-cylinder") == "2"


def test_camera_moves_on_to_the_next_plug(screen: Any, tmp_path: Path) -> None:
    """After a photo of plug 1 the button offers plug 2."""
    tab = screen()
    tab.take("one", picture(tmp_path / "a.jpg", seed=80))
    tab.sees("Photograph plug 2")
    tab.take("one", picture(tmp_path / "b.jpg", seed=81))
    tab.sees("Photograph plug 3")


def test_same_photo_twice_is_told(screen: Any, tmp_path: Path) -> None:
    """The same picture for another cylinder is not taken, and the page says whose it is."""
    tab = screen()
    photo = picture(tmp_path / "twin.jpg", seed=82)
    tab.take("one", photo)
    tab.sees("Photograph plug 2")
    tab.take("one", photo)
    tab.sees("is the same picture as the one of plug 1")


def test_more_photos_than_cylinders(screen: Any, tmp_path: Path) -> None:
    """Six photos for four cylinders: four are placed, two wait and the page asks."""
    tab = screen()
    tab.take("pick", *(picture(tmp_path / f"{n}.jpg", seed=90 + n) for n in range(6)))
    tab.sees("2 more photos than cylinders")


def test_any_visit_in_the_address_has_its_camera_button(screen: Any, tmp_path: Path) -> None:
    """An id with "__", which Streamlit keeps for itself in keys, took camera button and photo away."""
    tab = screen(query="?visit=kept__before")
    tab.take("one", picture(tmp_path / "one.jpg", seed=900))
    tab.sees("Photograph plug 2")
    tab.choose(1)
    tab.page.locator(".w img").first.wait_for()


def test_not_a_picture_is_refused_in_place(screen: Any, tmp_path: Path) -> None:
    """A text file named .jpg is refused by the camera button, in words, and earlier photos stay."""
    tab = screen()
    tab.take("one", picture(tmp_path / "good.jpg", seed=100))
    tab.sees("Photograph plug 2")
    (tmp_path / "x.jpg").write_bytes(b"not a picture" * 50)
    tab.take("one", str(tmp_path / "x.jpg"))
    tab.sees("could not open that file as a picture")
    assert tab.page.locator(".well.is-read").count() == 1


def test_full_size_file_that_is_no_picture(screen: Any, tmp_path: Path) -> None:
    """The full-size door takes any bytes; the reading says what is wrong."""
    tab = screen()
    (tmp_path / "x.jpg").write_bytes(b"not a picture" * 50)
    tab.unfold("Full-size files")
    tab.page.locator("[data-testid=stFileUploader] input[type=file]").set_input_files(str(tmp_path / "x.jpg"))
    tab.sees("The photo of plug 1 cannot be read")


def test_refused_and_unsure_photos(screen: Any, tmp_path: Path) -> None:
    """A refused photo says what to do; an unsure one says why."""
    tab = screen()
    tab.take("one", picture(tmp_path / "refuse.jpg", seed=101))
    tab.sees("Photograph plug 2")
    tab.take("one", picture(tmp_path / "unsure.jpg", seed=102))
    tab.sees("Photograph plug 3")
    tab.choose(1)
    tab.sees("no firing end found; fill the frame")
    tab.choose(2)
    tab.press("Show what the photos say")
    tab.sees("too dark to tell soot from oil")


def test_a_tap_moves_the_spot(screen: Any) -> None:
    """A tap on the photo measures there, and can be taken back."""
    tab = screen()
    tab.press("Four, one plug odd")
    photo = tab.page.get_by_role("button", name="Photo of plug 1")
    photo.scroll_into_view_if_needed()
    shape = photo.bounding_box()
    photo.click(position={"x": shape["width"] * 0.2, "y": shape["height"] * 0.3})
    tab.sees("Back to the spot found")
    tab.press("Back to the spot found")
    tab.page.get_by_text("Back to the spot found").wait_for(state="detached")


def test_photos_change_places(screen: Any, tmp_path: Path) -> None:
    """Saying that a photo shows plug 4 swaps it with the one there."""
    tab = screen()
    tab.take("pick", *(picture(tmp_path / f"s{n}.jpg", dark=n == 1, seed=110 + n) for n in range(1, 5)))
    tab.sees("What do you see on plug")
    tab.press("Show what the photos say")
    tab.sees("Odd one: cylinder 1")
    tab.unfold("Photos: take again")
    tab.unfold("Which photo is which cylinder?")
    tab.page.get_by_role("radiogroup", name="s1.jpg shows plug").get_by_text("4").click()
    tab.sees("Odd one: cylinder 4")


def test_result_of_a_check_ranks_again_at_once(screen: Any) -> None:
    """Entering what came out of the next check changes the first cause's probability."""
    tab = screen()
    tab.press("Four, one plug odd")
    tab.sees("(62%)")
    tab.tick("The fault stayed")
    tab.sees("(72%)")
    tab.sees("Checks done")


def test_number_keys_pick_the_cylinder(screen: Any) -> None:
    """Key 3 picks cylinder 3, key n the next one."""
    tab = screen("desk")
    tab.press("Four, one plug odd")
    tab.page.keyboard.press("3")
    tab.page.locator(".well.is-picked[data-cylinder='3']").wait_for()
    tab.page.keyboard.press("n")
    tab.page.locator(".well.is-picked[data-cylinder='4']").wait_for()


def test_the_odd_plug_is_on_show_once_the_photos_speak(screen: Any, tmp_path: Path) -> None:
    """Of four photos the third is dark: no colour is drawn until the user lets the photos speak, then the page leads to it."""
    photos = [picture(tmp_path / f"{n}.jpg", dark=n == 3, seed=700 + n) for n in range(1, 5)]
    tab = screen("phone")
    tab.take("pick", *photos)
    tab.sees("What do you see on plug 1?")
    tab.settle()
    assert tab.page.locator(".well [style*=fill]").count() == 0
    tab.press("Show what the photos say")
    tab.sees("What do you see on plug 3?")
    assert tab.page.locator(".well [style*=fill]").count() >= 4


def test_the_thread_of_the_plugs_is_kept(screen: Any) -> None:
    """Told once in the dialog, it stands there again when the dialog is opened afresh."""
    tab = screen("phone")
    tab.press("Engine")
    tab.select("Plug thread", "M12")
    tab.press("Use this engine")
    tab.press("Engine")
    box = tab.page.get_by_role("combobox", name="Plug thread").first
    box.wait_for()
    assert box.input_value() == "M12"


def test_engine_can_be_changed(screen: Any) -> None:
    """The dialog takes another engine, and says what is wrong with a firing order that misses a cylinder."""
    tab = screen("desk")
    tab.press("Engine")
    order = tab.page.get_by_role("textbox", name="Firing order")
    order.fill("1-3-4")
    order.press("Enter")
    tab.settle()
    tab.press("Use this engine")
    tab.sees("does not fit 4 cylinders")
    tab.select("Start from", "Vee eight, injection, coil on each plug")
    tab.press("Use this engine")
    tab.page.locator(".well").nth(7).wait_for()
