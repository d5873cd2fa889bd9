"""A box drawn by the user around the nose."""

from __future__ import annotations

import numpy as np
import pytest

from plugread.colour import delta_e_2000
from plugread.errors import PhotoError
from plugread.measure import nose_colour
from plugread.photo.by_hand import end_from_box
from plugread.photo.decode import open_photo
from plugread.pixels import part_on
from tests.measure.noses import BOX, PERFECT, Nose
from tests.photo import files

TAN = (62.0, 9.0, 21.0)


def _with_electrode() -> Nose:
    """A tan nose seen from the end: grey electrode in its middle, dark bore at its corners."""
    nose = Nose(TAN)
    x, y, w, h = BOX
    yy, xx = np.mgrid[: nose.linear.shape[0], : nose.linear.shape[1]]
    nose.linear[np.hypot(xx - x - w / 2, yy - y - h / 2) > w / 2] = 0.015
    return nose.disc(2.5, 2.5, 2.0, 0.32)


def test_the_ceramic_is_found_among_electrode_and_bore() -> None:
    """The nose colour comes from the ceramic: within 2 dE00."""
    photo = _with_electrode().photo()
    found = nose_colour.measure(photo, end_from_box(photo, BOX), PERFECT)
    assert found.lightness is not None
    assert delta_e_2000([found.lightness.value, found.a.value, found.b.value], TAN) < 2


def test_what_is_called_nose_is_nose() -> None:
    """At least 98 % of the sure pixels are ceramic: precision before recall."""
    photo = _with_electrode().photo()
    sure = part_on(photo, end_from_box(photo, BOX).parts, "nose", BOX) > 0.8
    h, w = sure.shape
    yy, xx = np.mgrid[:h, :w]
    far = np.hypot(xx - w / 2, yy - h / 2)
    ceramic = (far < w / 2) & (far > 30)
    assert sure.sum() > 0.3 * ceramic.sum()
    assert (sure & ceramic).sum() > 0.98 * sure.sum()


def test_light_and_shaded_ceramic_are_one_nose() -> None:
    """Half in shadow, the lit half still decides and the colour stays within 3 dE00."""
    photo = Nose(TAN, shade=0.6).photo()
    found = nose_colour.measure(photo, end_from_box(photo, BOX), PERFECT)
    assert delta_e_2000([found.lightness.value, found.a.value, found.b.value], TAN) < 3


def test_the_end_is_marked_as_drawn_by_hand() -> None:
    """Nothing is claimed about view or key points."""
    end = end_from_box(Nose(TAN).photo(), BOX)
    assert (end.by_hand, end.view, dict(end.key_points)) == (True, "unknown", {})


def test_the_same_box_gives_the_same_map() -> None:
    """Clustering is seeded."""
    photo = _with_electrode().photo()
    assert np.array_equal(end_from_box(photo, BOX).parts.probability, end_from_box(photo, BOX).parts.probability)


def test_a_box_in_a_reduced_decode_is_in_full_size_pixels() -> None:
    """The map lies where the box says, in full-size coordinates."""
    photo = open_photo(files.encoded("JPEG", files.picture(768, 512)), at_least_px=190)
    parts = end_from_box(photo, (500, 320, 200, 150)).parts
    assert (parts.x0, parts.y0) == (500, 320)
    assert parts.probability.shape[2] * parts.step == pytest.approx(200, abs=parts.step)


@pytest.mark.parametrize("box", [(1000, 1000, 50, 50), (0, 0, 3, 3), (-50, -50, 52, 52)])
def test_a_box_that_holds_no_nose_is_refused(box: tuple[int, int, int, int]) -> None:
    """Outside or too small, with the box and what to do."""
    with pytest.raises(PhotoError, match="draw it around the nose"):
        end_from_box(Nose(TAN).photo(), box)
