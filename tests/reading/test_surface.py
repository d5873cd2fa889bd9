"""The surface net: it sees the square it was taught on, its weights are those of its card, it knows deposits it never saw."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from plugread.colour import srgb_decode, srgb_encode
from plugread.errors import ModelError
from plugread.photo.decode import open_photo
from plugread.pipeline import portrait
from plugread.reading.features import NAMES
from plugread.reading.looks import load_looks
from plugread.reading.surface import (
    ANSWERS,
    LEAST_SHARE,
    NOTHING,
    READINGS,
    SIDE_PX,
    crop,
    log_shares,
    looks,
    shipped_net,
    square_about,
)
from plugread.records import PARTS, FiringEnd, PartMap, Photo, White
from plugread.resources import models_dir, samples_dir

PLAIN = White("paper", "white paper", np.ones(3), np.ones(3), np.eye(3), True, (2.0, 1.0, 1.0))
CLEAR = ("additive_stain_2", "carbon_fouled_1", "carbon_fouled_2", "glazed_1", "loose_powder_1", "preignition_melt_2")
"""Sample pictures of deposits that cover the firing end: the net was not taught on them."""


def end_with(rows: slice, columns: slice, step: float = 4.0) -> FiringEnd:
    cells = np.zeros((len(PARTS), 100, 100), np.float32)
    cells[PARTS.index("nose"), rows, columns] = 1.0
    return FiringEnd((0, 0, 1, 1), "side", {"side": 1.0}, PartMap(cells, 8.0, 16.0, step), {}, 0.9, 0.9)


def ramps(width: int = 400, height: int = 300) -> Photo:
    """A picture whose red tells the column and whose green tells the row."""
    y, x = np.mgrid[:height, :width]
    picture = np.stack([x * 255 / (width - 1), y * 255 / (height - 1), np.full(x.shape, 90)], -1)
    return Photo("ramps.png", np.round(picture).astype(np.uint8), 1, (width, height), np.eye(3))


def test_the_square_is_twice_the_root_of_the_area_about_its_middle() -> None:
    """20 x 30 cells of 4 px, from (8, 16): side 2 sqrt(600) 4 = 196, middle (8 + 4 * 35, 16 + 4 * 50)."""
    x, y, width, height = square_about(end_with(slice(40, 60), slice(20, 50))) or (0, 0, 0, 0)
    assert (width, height) == (196, 196)
    assert (x + width / 2, y + height / 2) == pytest.approx((148, 216), abs=1)


def test_hardly_any_firing_end_is_not_looked_at() -> None:
    """Eleven sure steps of two cells are too few."""
    end = end_with(slice(0, 1), slice(0, 22))
    assert square_about(end) is None
    assert log_shares(ramps(), end, PLAIN) == {}


@pytest.mark.parametrize(
    "box", [(100, 80, 80, 80), (37, 21, 225, 225), (10, 5, 290, 290)], ids=["enlarged", "as it is", "shrunk"]
)
def test_a_crop_shows_its_box(box: tuple[int, int, int, int]) -> None:
    """Each pixel of a crop is the picture at the middle of its share of the box, to 1 %."""
    seen = crop(ramps(), box, PLAIN)
    at = (np.arange(SIDE_PX) + 0.5) / SIDE_PX
    assert seen.shape == (SIDE_PX, SIDE_PX, 3)
    inside = slice(3, -3)
    np.testing.assert_allclose(seen[112, inside, 0], ((box[0] + at * box[2] - 0.5) / 399)[inside], atol=0.01)
    np.testing.assert_allclose(seen[inside, 112, 1], ((box[1] + at * box[3] - 0.5) / 299)[inside], atol=0.01)


def test_beyond_the_photo_its_edge_goes_on() -> None:
    """A square that reaches left of and above the photo shows the edge's colours there."""
    seen = crop(ramps(), (-80, -80, 160, 160), PLAIN)
    beyond = slice(SIDE_PX // 2 - 3)
    assert np.ptp(seen[beyond, beyond, 0]) < 0.01 and np.ptp(seen[beyond, beyond, 1]) < 0.01


def test_four_looks_turn_and_come_nearer() -> None:
    """Turned back, the third is the first; the second and fourth are the middle of it, 1.2 times as large."""
    whole, near, half_turned, other = looks(ramps(), (40, 20, 240, 240), PLAIN)
    np.testing.assert_array_equal(np.rot90(half_turned, 2), whole)
    np.testing.assert_array_equal(np.rot90(near, -1), np.rot90(other, -3))
    upright = np.rot90(near, -1)
    assert np.ptp(upright[112, :, 0]) == pytest.approx(np.ptp(whole[112, :, 0]) / 1.2, rel=0.02)
    assert upright[112, 112, :2] == pytest.approx(whole[112, 112, :2], abs=0.01)


def test_light_is_taken_out() -> None:
    """Half the light with a white that says so gives the same crop."""
    photo = ramps()
    dark = np.round(255 * srgb_encode(srgb_decode(photo.rgb / 255.0) / 2)).astype(np.uint8)
    other = crop(replace(photo, rgb=dark), (60, 60, 160, 160), replace(PLAIN, gains=np.full(3, 2.0)))
    np.testing.assert_allclose(other, crop(photo, (60, 60, 160, 160), PLAIN), atol=0.02)


@pytest.mark.parametrize("name", CLEAR)
def test_deposits_it_was_not_shown_are_known(name: str) -> None:
    """The likeliest look of a sample picture is the one it was rendered with."""
    shares = surface_of(name)
    assert max(shares, key=lambda one: shares[one]) == name.rpartition("_")[0]


@pytest.mark.parametrize("name", sorted(path.stem for path in (samples_dir() / "no_plug").glob("*.jpg")))
def test_what_is_no_firing_end_is_told(name: str) -> None:
    """Where a user marks something else in a picture without a plug, no firing end is the likeliest answer."""
    photo = open_photo(samples_dir() / "no_plug" / f"{name}.jpg", name=name)
    w, h = photo.size
    end = replace(end_with(slice(0, 1), slice(0, 1)), nose_box=(w * 2 // 5, h * 2 // 5, w // 5, h // 5), by_hand=True)
    shares = log_shares(photo, end, PLAIN)
    assert max(shares, key=lambda one: shares[one]) == NOTHING


def surface_of(name: str) -> dict[str, float]:
    vector = portrait(samples_dir() / "readings" / f"{name}.jpg").vector
    assert vector is not None
    found = dict(zip(NAMES, vector.tolist(), strict=True))
    return {one: found[f"surface_{one}"] for one in ANSWERS}


def test_shares_add_up_to_one_and_none_is_nothing() -> None:
    """Any picture gives shares; as features none is smaller than the least."""
    noise = np.random.default_rng(1).random((SIDE_PX, SIDE_PX, 3))
    shares = shipped_net(models_dir() / "surface").shares(noise)
    assert shares.shape == (len(ANSWERS),) and shares.sum() == pytest.approx(1)
    logs = log_shares(ramps(), end_with(slice(10, 40), slice(10, 40)), PLAIN)
    assert min(logs.values()) >= np.log(LEAST_SHARE)


def test_it_answers_for_every_look_of_the_firing_end() -> None:
    """The net's readings are those of the table of looks."""
    assert set(READINGS) == set(load_looks().look)


def damaged(folder: Path, **entries: object) -> Path:
    """Return a copy of the shipped net whose card says otherwise."""
    for name in ("card.json", "surface.onnx"):
        shutil.copy(models_dir() / "surface" / name, folder / name)
    card = json.loads((folder / "card.json").read_text()) | entries
    (folder / "card.json").write_text(json.dumps(card))
    return folder


def test_other_weights_than_the_card_names_are_refused(tmp_path: Path) -> None:
    """A hash that does not fit is told in one line."""
    with pytest.raises(ModelError, match="not those of its card"):
        shipped_net(damaged(tmp_path, sha256="0" * 64))


def test_other_readings_are_refused(tmp_path: Path) -> None:
    """A net that tells other readings apart is refused."""
    with pytest.raises(ModelError, match="other readings"):
        shipped_net(damaged(tmp_path, answers=["normal"]))


@pytest.mark.parametrize("card", ["", "[]", "{}", '{"file": "x.onnx", "sha256": "", "answers": []}'])
def test_a_card_that_cannot_be_read_is_told(tmp_path: Path, card: str) -> None:
    """No card, no object, nothing in it, no such file: one line each."""
    (tmp_path / "card.json").write_text(card)
    with pytest.raises(ModelError, match="could not be read"):
        shipped_net(tmp_path)


def test_a_box_drawn_by_hand_gives_a_square_about_it() -> None:
    """A nose of 40 x 90 px at (100, 50): side 3 sqrt(3600) = 180 about (120, 95), whatever the part map says."""
    end = replace(end_with(slice(0, 1), slice(0, 1)), nose_box=(100, 50, 40, 90), by_hand=True)
    assert square_about(end) == (30, 5, 180, 180)
