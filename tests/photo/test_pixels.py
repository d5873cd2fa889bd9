"""Pixels in linear light and parts on them: coordinates to the pixel, formulas to the last digit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plugread.colour import srgb_decode
from plugread.pixels import apply_white, clip_box, clipped, crop_linear, decoded_box, grown_box, map_box, part_on, shrunk_codes
from plugread.records import PARTS, PartMap, Photo, White

NUMBER = st.integers(-300, 300)


def _photo(scale: int = 1, width: int = 120, height: int = 80) -> Photo:
    rgb = np.zeros((height, width, 3), np.uint8)
    rgb[..., 0], rgb[..., 1] = np.arange(width)[None] * 2, np.arange(height)[:, None] * 3
    return Photo("x", rgb, scale, (width * scale, height * scale), np.eye(3))


@given(st.tuples(NUMBER, NUMBER, st.integers(0, 300), st.integers(0, 300)))
@settings(deadline=None)
def test_a_clipped_box_lies_inside_the_photo(box: tuple[int, int, int, int]) -> None:
    """For any box."""
    x, y, w, h = clip_box(box, (120, 80))
    assert 0 <= x <= x + w <= 120
    assert 0 <= y <= y + h <= 80


def test_a_grown_box_gains_a_share_of_its_longer_side() -> None:
    """40 x 20 by a tenth: 4 px on every side."""
    assert grown_box((30, 30, 40, 20), 0.1, (120, 80)) == (26, 26, 48, 28)


@pytest.mark.parametrize("scale", [1, 2, 4])
def test_a_decoded_box_covers_the_full_size_box(scale: int) -> None:
    """Whole decoded pixels, none of the box left out."""
    x, y, w, h = decoded_box(_photo(scale), (33, 21, 30, 17))
    assert x * scale <= 33 < 33 + 30 <= (x + w) * scale
    assert y * scale <= 21 < 21 + 17 <= (y + h) * scale


def test_a_crop_is_the_decoded_codes() -> None:
    """Linear value of code 2 * x in red, 3 * y in green."""
    linear = crop_linear(_photo(), (10, 5, 3, 2))
    assert linear[1, 2] == pytest.approx(srgb_decode(np.array([24, 18, 0]) / 255), abs=1e-6)


@pytest.mark.parametrize("scale", [1, 2, 4])
@pytest.mark.parametrize("step", [1.0, 3.0, 8.0])
def test_a_part_lies_where_its_map_says(scale: int, step: float) -> None:
    """The centre of a square of the map falls on the same full-size place in the decoded picture, to half a cell."""
    plane = np.zeros((len(PARTS), 30, 40), np.float32)
    plane[1, 8:20, 12:26] = 1
    parts = PartMap(plane, 16.0, 24.0, step)
    photo = _photo(scale, 480 // scale, 320 // scale)
    rows, columns = np.nonzero(part_on(photo, parts, "nose", (0, 0, 480, 320)) > 0.5)
    middle = ((columns.mean() + 0.5) * scale, (rows.mean() + 0.5) * scale)
    assert middle == pytest.approx((16 + 19 * step, 24 + 14 * step), abs=max(0.5 * step, scale))


def test_outside_its_map_a_part_is_not_there() -> None:
    """Probability 0 beyond the map."""
    parts = PartMap(np.ones((len(PARTS), 4, 4), np.float32), 40.0, 40.0, 2.0)
    seen = part_on(_photo(), parts, "nose", (0, 0, 120, 80))
    assert seen[:38].max() == 0
    assert seen[:, 50:].max() == 0
    assert map_box(parts) == (40, 40, 8, 8)


def test_the_correction_is_matrix_times_gained_power() -> None:
    """matrix @ (gains * rgb) ** power, worked by hand: (2 * 0.2) ** 0.5 = 0.63246 and so on, then red and blue exchanged."""
    swap = np.array([[0.0, 0, 1], [0, 1, 0], [1, 0, 0]])
    white = White("card", "", np.array([2.0, 1, 3]), np.array([0.5, 1, 2]), swap, True, (1, 1, 1))
    assert apply_white(white, np.array([0.2, 0.3, 0.1])) == pytest.approx([0.09, 0.3, 0.632456], abs=1e-6)


def test_black_below_zero_is_not_raised_to_a_power() -> None:
    """Colours outside sRGB have negative channels; the correction gives 0 for them, not nan."""
    white = White("paper", "", np.ones(3), np.full(3, 0.8), np.eye(3), True, (1, 1, 1))
    assert apply_white(white, np.array([-0.01, 0.5, 0.5]))[0] == 0


def test_one_channel_at_its_limit_counts_as_clipped() -> None:
    """Code 250 and up, at 8 and at 16 bit."""
    rgb = np.full((4, 4, 3), 100, np.uint8)
    rgb[1, 2, 0] = 250
    for codes in (rgb, rgb.astype(np.uint16) * 257):
        photo = Photo("x", codes, 1, (4, 4), np.eye(3))
        assert np.argwhere(clipped(photo, (0, 0, 4, 4))).tolist() == [[1, 2]]


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_a_shrunk_picture_keeps_its_mean_and_kind(kind: type) -> None:
    """Averaged down, not sampled."""
    rgb = np.random.default_rng(0).integers(0, np.iinfo(kind).max, (80, 120, 3)).astype(kind)
    small = shrunk_codes(Photo("x", rgb, 1, (120, 80), np.eye(3)), 30)
    assert small.dtype == kind
    assert small.shape == (20, 30, 3)
    assert small.mean() == pytest.approx(rgb.mean(), rel=0.01)
