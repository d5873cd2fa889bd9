"""The corrections on a real photo: mean codes of the 24 patches of a chart, and what the chart should have been.

Sources stand in the data files. What is asserted about the worth of the corrections was published for phones in general:
direct conversion is more than 10 dE00 off, a chart about halves it (mobile-phone colour measurement study, abstract); here
both are computed.
"""

from __future__ import annotations

import numpy as np
import pytest

from plugread.colour import delta_e_2000, linear_srgb_to_lab, srgb_decode
from plugread.photo.chart import fit_chart
from plugread.photo.references import load_references
from plugread.photo.sheet import Sheet
from plugread.photo.white import from_sheets
from plugread.pixels import apply_white
from plugread.records import Photo, White
from tests.published.test_colour_published import _rows

CODES = np.array([row[1:] for row in _rows("real_chart_photo.csv")], float)
NAMES = [row[0] for row in _rows("real_chart_photo.csv")]
TRUE_LAB = linear_srgb_to_lab(load_references().chart_rgb)
WHITE, GREY = NAMES.index("white 9.5"), NAMES.index("neutral 5")
SKIN_AND_GREYS = [0, 1, *range(18, 24)]
PHOTO = Photo("chart.jpg", np.zeros((8, 8, 3), np.uint8), 1, (8, 8), np.eye(3))


def _differences(white: White | None) -> np.ndarray:
    linear = srgb_decode(CODES / 255)
    corrected = linear if white is None else apply_white(white, linear)
    return np.asarray(delta_e_2000(linear_srgb_to_lab(corrected), TRUE_LAB))


def _sheet(row: int, kind: str) -> Sheet:
    return Sheet("paper" if kind == "paper" else "card", (0, 0, 1, 1), srgb_decode(CODES[row] / 255), 0.0)


def _two_point() -> White:
    """White and grey patch used as paper and card, their own reflectances put in."""
    known = load_references().chart_rgb
    return from_sheets(_sheet(WHITE, "paper"), _sheet(GREY, "card"), (float(known[WHITE, 1]), float(known[GREY, 1])))


def _one_point(row: int, kind: str) -> White:
    level = float(load_references().chart_rgb[row, 1])
    sheet = _sheet(row, kind)
    return from_sheets(sheet if kind == "paper" else None, sheet if kind == "card" else None, (level, level))


def test_the_shipped_chart_values_are_the_published_ones() -> None:
    """The product's chart table, adapted to D65, agrees with the D65 column of the test's own table to 0.02."""
    published = np.array([row[4:7] for row in _rows("chart_24_patches.csv")], float)
    assert np.abs(TRUE_LAB - published).max() < 0.02


def test_uncorrected_the_photo_is_more_than_10_off() -> None:
    """As papers report for phones: mean over the 24 patches."""
    assert _differences(None).mean() > 10


def test_a_chart_at_least_halves_the_error() -> None:
    """Grey curve and 3x3 fitted to the chart, mean over the 24 patches."""
    assert _differences(fit_chart(PHOTO, CODES, None)).mean() < 0.5 * _differences(None).mean()


def test_a_chart_helps_patches_it_was_not_fitted_to() -> None:
    """Each of the 18 coloured patches left out in turn: mean error still under two thirds of the uncorrected."""
    left_out = []
    for row in range(18):
        codes = CODES.copy()
        codes[row] = 255.0  # a clipped patch is not used
        left_out.append(_differences(fit_chart(PHOTO, codes, None))[row])
    assert np.mean(left_out) < 0.67 * _differences(None)[:18].mean()


def test_two_greys_halve_the_error_of_skin_and_greys() -> None:
    """Power law through white and mid grey, on the patches nearest to plugs (skin tones, greys)."""
    assert _differences(_two_point())[SKIN_AND_GREYS].mean() < 0.5 * _differences(None)[SKIN_AND_GREYS].mean()


@pytest.mark.parametrize(("row", "kind"), [(WHITE, "paper"), (GREY, "card")])
def test_one_grey_alone_is_worse_than_two(row: int, kind: str) -> None:
    """On a real tone curve one reference leaves at least 40 % more than both."""
    one = _differences(_one_point(row, kind))[SKIN_AND_GREYS].mean()
    assert one > 1.4 * _differences(_two_point())[SKIN_AND_GREYS].mean()


def test_a_chart_with_too_many_burnt_patches_is_not_used() -> None:
    """Fewer than 16 usable patches: no correction rather than a bad one."""
    codes = CODES.copy()
    codes[:10] = 255.0
    assert fit_chart(PHOTO, codes, None) is None


def test_patches_in_the_wrong_order_are_not_taken_for_a_chart() -> None:
    """A chart found upside down does not fit its values and is refused."""
    assert fit_chart(PHOTO, CODES[::-1], None) is None
