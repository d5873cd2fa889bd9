"""Close-ups that the surface net learns from: readings by turns, amounts known, and squares cut as the program cuts them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plugread.colour import srgb_decode, srgb_encode
from plugread.reading.surface import READINGS, SIDE_PX, crop, square_about
from plugread.records import PARTS, FiringEnd, PartMap, Photo, White
from sample_images.render.close_ups import FIRE, MIXED, plug_of
from sample_images.render.plug.spec import FIRING_END

PLAIN = White("paper", "white paper", np.ones(3), np.ones(3), np.eye(3), True, (2.0, 1.0, 1.0))


def plugs(count: int = 440) -> list[dict[str, float]]:
    return [dict(plug_of(seed, np.random.default_rng([seed, 93])).readings) for seed in range(count)]


def test_every_reading_is_shown_equally_often_and_is_the_strongest() -> None:
    """By turns, 0.4 to 1; a second reading has half of that at most, and never stands beside a normal plug."""
    for seed, readings in enumerate(plugs()):
        first = FIRING_END[seed % len(FIRING_END)]
        assert max(readings, key=lambda name: readings[name]) == first
        assert 0.4 <= readings[first] <= 1.0
        assert all(amount <= 0.5 * readings[first] for name, amount in readings.items() if name != first)
        assert first != "normal" or len(readings) == 1


def test_some_plugs_show_a_second_reading() -> None:
    """A quarter of the plugs that are not normal, give or take what chance allows in 420 (four standard deviations)."""
    mixed = np.mean(
        [len(readings) > 1 for seed, readings in enumerate(plugs()) if FIRING_END[seed % len(FIRING_END)] != "normal"]
    )
    assert mixed == pytest.approx(MIXED * 20 / 21, abs=4 * math.sqrt(MIXED * (1 - MIXED) / 420))


def test_no_plug_has_strange_colours() -> None:
    """Odd proportions teach, odd colours would contradict the reading."""
    assert all(plug_of(seed, np.random.default_rng([seed, 93])).odd is None for seed in range(60))


def test_readings_stand_in_the_order_of_the_net() -> None:
    """What the generator counts as seen on a firing end is what the net answers for."""
    assert FIRING_END == READINGS


def test_a_crop_for_learning_is_the_crop_for_reading() -> None:
    """The same picture and firing end, cut by the trainer and by the program: equal light to 2 %, each encoding undone."""
    pytest.importorskip("torch", reason="torch is not installed")
    import torch

    from models.surface.train.crops import PAPER, CloseUps, plain_crops, square_of

    y, x = np.mgrid[:288, :384] / 384
    light = np.stack([0.1 + 0.8 * x, 0.1 + 0.8 * y, 0.5 + 0.2 * np.sin(9 * x)], -1)
    fire = np.hypot(x - 0.45, y - 0.4) < 0.16
    ours = CloseUps(
        torch.from_numpy(light.astype(np.float16)).permute(2, 0, 1)[None],
        torch.tensor([square_of(fire)], dtype=torch.float32),
        torch.full((1, 3), PAPER),
        torch.ones((1, len(READINGS))),
    )
    learned = plain_crops(ours)[0].permute(1, 2, 0).numpy() ** 2.2
    cells = np.zeros((len(PARTS), 288, 384), np.float32)
    cells[PARTS.index(FIRE[0])] = fire
    photo = Photo("ramps.png", np.round(255 * srgb_encode(light)).astype(np.uint8), 1, (384, 288), np.eye(3))
    end = FiringEnd((0, 0, 9, 9), "side", {"side": 1.0}, PartMap(cells, 0.0, 0.0, 1.0), {}, 0.9, 0.9)
    box = square_about(end)
    assert box is not None
    read = srgb_decode(crop(photo, box, PLAIN))
    assert learned.shape == read.shape == (SIDE_PX, SIDE_PX, 3)
    np.testing.assert_allclose(read, learned, atol=0.02)


@pytest.mark.render
def test_a_close_up_shows_a_firing_end() -> None:
    """A rendered close-up holds its arrays, a firing end that fills a share of the picture, and the light that fell on it."""
    pytest.importorskip("mitsuba", reason="the path tracer is not installed")
    from sample_images.render.close_ups import one_picture

    shown = one_picture(2001, (192, 144), 4, 0.4)
    assert shown["image"].shape == (144, 192, 3) and shown["image"].dtype == np.float16
    assert 0.02 < shown["fire"].mean() < 0.7
    assert (shown["white"] > 0).all()
    assert shown["split"] == "train" and shown["amounts"].shape == (len(READINGS),)
