"""Close-ups that the surface net learns from: readings by turns, amounts known, and squares cut as the program cuts them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plugread.colour import srgb_decode, srgb_encode
from plugread.reading.surface import ANSWERS, NOTHING, READINGS, SIDE_PX, crop, square_about
from plugread.records import PARTS, FiringEnd, PartMap, Photo, White
from sample_images.render.close_ups import DISC, FIRE, MIXED, disc, plug_of, readings_of
from sample_images.render.plug.spec import FIRING_END

PLAIN = White("paper", "white paper", np.ones(3), np.ones(3), np.eye(3), True, (2.0, 1.0, 1.0))


def plugs(count: int = 440) -> list[dict[str, float]]:
    return [readings_of(seed, np.random.default_rng([seed, 93])) for seed in range(count)]


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
    for seed, readings in enumerate(plugs(60)):
        plug = plug_of(seed, np.random.default_rng([seed, 93]), readings)
        assert plug.odd is None and plug.readings == readings


def test_where_there_is_no_firing_end_a_disc_is_looked_at() -> None:
    """Within the picture's middle, of a share of its height; no two alike."""
    found = [disc(np.random.default_rng(seed), (96, 72)) for seed in range(40)]
    for one in found:
        rows, columns = np.nonzero(one)
        assert 0.2 * 72 < rows.mean() < 0.8 * 72 and 0.2 * 96 < columns.mean() < 0.8 * 96
        assert np.sqrt(one.sum() / np.pi) == pytest.approx(72 * np.mean(DISC), abs=72 * np.ptp(DISC) / 2 + 1)
    assert len({one.tobytes() for one in found}) == len(found)


def test_readings_stand_in_the_order_of_the_net() -> None:
    """What the generator counts as seen on a firing end is what the net answers for."""
    assert FIRING_END == READINGS


def test_a_crop_for_learning_is_the_crop_for_reading() -> None:
    """The same picture and firing end, cut by the trainer and by the program: equal light to 2 %, each encoding undone."""
    pytest.importorskip("torch", reason="torch is not installed")
    from models.surface.train.crops import PAPER, close_ups_of, plain_crops

    y, x = np.mgrid[:288, :384] / 384
    light = np.stack([0.1 + 0.8 * x, 0.1 + 0.8 * y, 0.5 + 0.2 * np.sin(9 * x)], -1)
    fire = np.hypot(x - 0.45, y - 0.4) < 0.16
    amounts = np.ones((1, len(READINGS)), np.float32)
    shard = {"image": light[None].astype(np.float16), "fire": fire[None], "amounts": amounts}
    shard["white"] = np.full((1, 3), PAPER, np.float32)
    ours, kept = close_ups_of(shard, np.arange(1))
    assert kept.tolist() == [0]
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


def test_a_close_up_of_hardly_anything_is_left_out() -> None:
    """A firing end of a hundred pixels is hidden by something; the other picture of the shard stays."""
    pytest.importorskip("torch", reason="torch is not installed")
    from models.surface.train.crops import close_ups_of

    fire = np.zeros((2, 60, 80), bool)
    fire[0, :10, :10] = fire[1, 10:40, 10:40] = True
    shard = {"image": np.zeros((2, 60, 80, 3), np.float16), "fire": fire, "white": np.ones((2, 3), np.float32)}
    ours, kept = close_ups_of({**shard, "amounts": np.eye(2, len(READINGS), dtype=np.float32)}, np.arange(2))
    assert kept.tolist() == [1] and ours.amounts.tolist() == [np.eye(2, len(READINGS))[1].tolist()]


def test_a_close_up_without_a_firing_end_is_taught_as_nothing() -> None:
    """No amounts: the last answer; else shares follow the amounts."""
    torch = pytest.importorskip("torch", reason="torch is not installed")
    from models.surface.train.fit import SMOOTHING, targets

    wanted = targets(torch.tensor([[0.0] * len(READINGS), [0.5, *[0.0] * (len(READINGS) - 2), 0.25]]))
    assert wanted.shape == (2, len(ANSWERS)) and wanted.sum(1).tolist() == pytest.approx([1, 1])
    assert wanted[0].argmax() == ANSWERS.index(NOTHING)
    assert ((wanted[1] - SMOOTHING / len(ANSWERS)) / (1 - SMOOTHING))[[0, -2, -1]].tolist() == pytest.approx(
        [2 / 3, 1 / 3, 0], abs=1e-6
    )


def test_rounding_moves_no_weight_further_than_the_noise_it_learned_with() -> None:
    """Large weights move by `NOISE` of themselves at most, take few values, and noise leaves nothing behind."""
    torch = pytest.importorskip("torch", reason="torch is not installed")
    from models.locator.train.export import folded
    from models.surface.train.net import SurfaceNet
    from models.surface.train.rounded import KEPT_BITS, NOISE, coarsened, noisy

    net = SurfaceNet().eval()
    before = {name: value.clone() for name, value in net.state_dict().items()}
    with noisy(net):
        shares = [(a / before[name] - 1).abs().max() for name, a in net.named_parameters() if a.ndim > 1]
    assert 0.9 * NOISE < max(shares) <= NOISE * 1.001
    assert all(torch.equal(value, before[name]) for name, value in net.state_dict().items())
    for exact, rounded in zip(folded(net).parameters(), coarsened(net).parameters(), strict=True):
        if exact.ndim > 1:
            assert ((rounded - exact).abs() <= NOISE * exact.abs() + 1e-7).all()
            assert len(torch.frexp(rounded)[0].abs().unique()) <= 2**KEPT_BITS + 1


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
