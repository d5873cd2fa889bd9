"""Nose colour on drawn noses: true value, honest spread, the right pixels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plugread.colour import delta_e_2000
from plugread.measure import nose_colour
from tests.measure.noses import BOX, PERFECT, SIZE, Nose, end

TAN = (62.0, 9.0, 21.0)
COLOURS = {"tan": TAN, "white": (88.0, 0.0, 4.0), "soot": (16.0, 0.5, 1.0), "rust": (45.0, 24.0, 31.0), "grey": (60.0, 1.0, 3.0)}


def _lab(found: nose_colour.NoseColour) -> np.ndarray:
    assert found.lightness is not None
    assert found.a is not None
    assert found.b is not None
    return np.array([found.lightness.value, found.a.value, found.b.value])


@pytest.mark.parametrize("name", COLOURS)
def test_an_evenly_lit_nose_is_measured_within_1(name: str) -> None:
    """With the light known, the colour comes out within 1 dE00."""
    found = nose_colour.measure(Nose(COLOURS[name]).photo(), end(), PERFECT)
    assert delta_e_2000(_lab(found), COLOURS[name]) < 1


def test_lightness_is_taken_from_the_lit_side() -> None:
    """With one side 80 % darker, L* stays within 6 of the truth where the mean would be more than 12 too dark."""
    photo = Nose(TAN, shade=0.8).photo()
    found = nose_colour.measure(photo, end(), PERFECT)
    assert abs(_lab(found)[0] - TAN[0]) < 6
    assert found.features["shade_depth"] > 12


def test_shade_leaves_the_hue_alone() -> None:
    """At the true lightness, the shaded nose is within 1.5 dE00 of its colour."""
    lab = _lab(nose_colour.measure(Nose(TAN, shade=0.8).photo(), end(), PERFECT))
    assert delta_e_2000([TAN[0], *lab[1:]], TAN) < 1.5


def test_glints_are_dropped() -> None:
    """Bright glints on a hundredth of a dark nose do not make it light."""
    lab = _lab(nose_colour.measure(Nose(COLOURS["soot"]).discs(8, 0.2, 0.8).photo(), end(), PERFECT))
    assert abs(lab[0] - 16) < 4


def test_burnt_pixels_are_left_out() -> None:
    """Overexposed patches are neither in the mask nor in the colour."""
    photo = Nose(TAN).discs(6, 0.7, 1.0).photo()
    found = nose_colour.measure(photo, end(), PERFECT)
    x, y, w, h = found.mask_box
    assert not ((photo.rgb[y : y + h, x : x + w] >= 250).any(-1) & found.mask).any()
    assert delta_e_2000(_lab(found), TAN) < 1.5


def test_the_mask_keeps_clear_of_the_edge() -> None:
    """All pixels used lie inside the nose, none on its outline."""
    found = nose_colour.measure(Nose(TAN).photo(), end(), PERFECT)
    rows, columns = np.nonzero(found.mask)
    x, y = found.mask_box[0] + columns, found.mask_box[1] + rows
    assert x.min() > BOX[0] + 2
    assert x.max() < BOX[0] + BOX[2] - 3
    assert y.min() > BOX[1] + 2
    assert y.max() < BOX[1] + BOX[3] - 3


@pytest.mark.parametrize("scale", [2, 4])
def test_a_reduced_decode_gives_the_same_colour_and_a_full_size_mask(scale: int) -> None:
    """A photo unpacked at 1/2 or 1/4: coordinates stay full-size."""
    drawn = Nose(TAN).photo()
    photo = replace(drawn, scale=scale, size=(SIZE[1] * scale, SIZE[0] * scale))
    found = nose_colour.measure(photo, end(scale=scale), PERFECT)
    assert found.mask.shape == found.mask_box[:1:-1]
    assert delta_e_2000(_lab(found), TAN) < 1


def test_two_lights_on_the_nose_are_noticed_and_widen_the_spread() -> None:
    """A hard shadow over half of the nose."""
    nose = Nose(TAN)
    nose.linear[:, : BOX[0] + BOX[2] // 2] *= 0.1
    hard, even = (nose_colour.measure(n.photo(), end(), PERFECT) for n in (nose, Nose(TAN)))
    assert hard.features["two_lights"] > 0.8
    assert even.features["two_lights"] == 0
    assert hard.lightness.spread > 1.2 * even.lightness.spread


def test_lightness_and_hue_have_their_own_spread() -> None:
    """L* is less sure than a* and b*: the shell's shade changes it alone."""
    found = nose_colour.measure(Nose(TAN).photo(), end(), PERFECT)
    assert found.lightness.spread > 2 * found.a.spread


def test_the_spread_is_never_below_that_of_the_correction() -> None:
    """What the light leaves open stays open."""
    found = nose_colour.measure(Nose(TAN).photo(), end(), PERFECT)
    assert found.lightness.spread > PERFECT.spread_lab[0]
    assert found.b.spread > PERFECT.spread_lab[2]


def test_a_view_into_the_bore_leaves_lightness_less_sure() -> None:
    """End-on the nose lies in the shell's shade."""
    side, into = (nose_colour.measure(Nose(TAN).photo(), end(view), PERFECT) for view in ("side", "end"))
    assert into.lightness.spread > side.lightness.spread


def test_too_little_nose_is_said_so() -> None:
    """No sure pixel, no colour, a reason."""
    nothing = end()
    nothing.parts.probability[1] *= 0.2
    found = nose_colour.measure(Nose(TAN).photo(), nothing, PERFECT)
    assert found.lightness is None
    assert found.why == "too little of the ceramic nose can be seen for a colour"


@settings(max_examples=20, deadline=None)
@given(st.floats(25, 85), st.floats(-4, 20), st.floats(-4, 28))
def test_any_ceramic_colour_is_measured_within_its_own_spread(lightness: float, a: float, b: float) -> None:
    """Over the range of noses the truth lies inside the 95 % interval."""
    found = nose_colour.measure(Nose((lightness, a, b)).photo(), end(), PERFECT)
    spread = [found.lightness.spread, found.a.spread, found.b.spread]
    assert (np.abs(_lab(found) - (lightness, a, b)) < spread).all()


@pytest.mark.parametrize("turn", [1, 2, 3])
def test_turning_the_photo_changes_no_colour(turn: int) -> None:
    """A quarter turn of picture and map gives the same colour to 0.3."""
    photo, firing = Nose(TAN, shade=0.5).photo(), end()
    rgb = np.ascontiguousarray(np.rot90(photo.rgb, turn))
    chance = np.ascontiguousarray(np.rot90(firing.parts.probability, turn, axes=(1, 2)))
    rows, columns = np.nonzero(chance[1] > 0.5)
    box = (int(columns.min()), int(rows.min()), int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1)
    turned = replace(firing, nose_box=box, parts=replace(firing.parts, probability=chance))
    found = nose_colour.measure(replace(photo, rgb=rgb, size=rgb.shape[1::-1]), turned, PERFECT)
    assert np.abs(_lab(found) - _lab(nose_colour.measure(photo, firing, PERFECT))).max() < 0.3


def test_the_same_plugs_differ_as_truly_under_an_unknown_lamp() -> None:
    """Difference of two noses in one uncorrected light is within 2.5 of the true 13: comparison survives what colour does not."""
    lamp = np.array([1.2, 1.0, 0.7])
    one, two = (60.0, 8.0, 20.0), (48.0, 12.0, 24.0)
    seen = []
    for lab in (one, two):
        nose = Nose(lab)
        nose.linear = nose.linear * lamp
        seen.append(_lab(nose_colour.measure(nose.photo(), end(), PERFECT)))
    assert abs(float(delta_e_2000(*seen)) - float(delta_e_2000(one, two))) < 2.5


def test_two_groups_follow_otsu() -> None:
    """Two equal groups far apart are explained wholly; one bell is not two groups."""
    rng = np.random.default_rng(0)
    apart = np.concatenate([rng.normal(20, 1, 500), rng.normal(70, 1, 500)])
    assert nose_colour.two_groups(apart) > 0.98
    assert nose_colour.two_groups(rng.normal(50, 8, 1000)) == 0
