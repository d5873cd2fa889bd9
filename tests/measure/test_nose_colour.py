"""Nose colour on drawn noses: true value, honest spread, the right pixels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from plugread.colour import delta_e_2000, lab_to_linear_srgb
from plugread.measure import lit, nose_colour
from plugread.records import FiringEnd, Photo
from tests.measure.noses import BOX, PERFECT, SIZE, Nose, end

TAN = (62.0, 9.0, 21.0)
COLOURS = {"tan": TAN, "white": (88.0, 0.0, 4.0), "soot": (16.0, 0.5, 1.0), "rust": (45.0, 24.0, 31.0), "grey": (60.0, 1.0, 3.0)}


def _seen(photo: Photo, firing: FiringEnd | None = None) -> np.ndarray:
    """The colour before the light on the nose is considered: drawn metal is not the metal that is learned from."""
    nose = nose_colour.seen_nose(photo, firing or end(), PERFECT)
    assert nose is not None
    return nose.colour


def _lab(found: nose_colour.NoseColour) -> np.ndarray:
    assert found.lightness is not None
    assert found.a is not None
    assert found.b is not None
    return np.array([found.lightness.value, found.a.value, found.b.value])


@pytest.mark.parametrize("name", COLOURS)
def test_an_evenly_lit_nose_is_measured_within_1(name: str) -> None:
    """With the light known, the colour comes out within 1 dE00."""
    assert delta_e_2000(_seen(Nose(COLOURS[name]).photo()), COLOURS[name]) < 1


def test_lightness_is_taken_from_the_lit_side() -> None:
    """With one side 80 % darker, L* stays within 6 of the truth where the mean would be more than 12 too dark."""
    photo = Nose(TAN, shade=0.8).photo()
    found = nose_colour.measure(photo, end(), PERFECT)
    assert abs(_seen(photo)[0] - TAN[0]) < 6
    assert found.features["shade_depth"] > 12


def test_shade_leaves_the_hue_alone() -> None:
    """At the true lightness, the shaded nose is within 1.5 dE00 of its colour."""
    lab = _seen(Nose(TAN, shade=0.8).photo())
    assert delta_e_2000([TAN[0], *lab[1:]], TAN) < 1.5


def test_glints_are_dropped() -> None:
    """Bright glints on a hundredth of a dark nose do not make it light."""
    lab = _seen(Nose(COLOURS["soot"]).discs(8, 0.2, 0.8).photo())
    assert abs(lab[0] - 16) < 4


def test_burnt_pixels_are_left_out() -> None:
    """Overexposed patches are neither in the mask nor in the colour."""
    photo = Nose(TAN).discs(6, 0.7, 1.0).photo()
    found = nose_colour.measure(photo, end(), PERFECT)
    x, y, w, h = found.mask_box
    assert not ((photo.rgb[y : y + h, x : x + w] >= 250).any(-1) & found.mask).any()
    assert delta_e_2000(_seen(photo), TAN) < 1.5


def test_the_mask_keeps_clear_of_the_edge() -> None:
    """All pixels used lie inside the nose, none on its outline."""
    found = nose_colour.measure(Nose(TAN).photo(), end(), PERFECT)
    rows, columns = np.nonzero(found.mask)
    x, y = found.mask_box[0] + columns, found.mask_box[1] + rows
    assert x.min() > BOX[0] + 1
    assert x.max() < BOX[0] + BOX[2] - 2
    assert y.min() > BOX[1] + 1
    assert y.max() < BOX[1] + BOX[3] - 2


@pytest.mark.parametrize("scale", [2, 4])
def test_a_reduced_decode_gives_the_same_colour_and_a_full_size_mask(scale: int) -> None:
    """A photo unpacked at 1/2 or 1/4: coordinates stay full-size."""
    drawn = Nose(TAN).photo()
    photo = replace(drawn, scale=scale, size=(SIZE[1] * scale, SIZE[0] * scale))
    found = nose_colour.measure(photo, end(scale=scale), PERFECT)
    assert found.mask.shape == found.mask_box[:1:-1]
    assert delta_e_2000(_seen(photo, end(scale=scale)), TAN) < 1


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


@pytest.mark.parametrize("view", ["side", "oblique", "end"])
def test_the_spread_holds_what_the_fitted_light_leaves_in_that_view(view: str) -> None:
    """L*, a* and b* are never said to be surer than the fit left them."""
    found = nose_colour.measure(Nose(TAN).photo(), end(view), PERFECT)
    left = lit.load_lit().reference.spread[view]
    assert (np.array([found.lightness.spread, found.a.spread, found.b.spread]) >= left).all()


def test_too_little_nose_is_said_so() -> None:
    """No sure pixel, no colour, a reason."""
    nothing = end()
    nothing.parts.probability[1] *= 0.2
    found = nose_colour.measure(Nose(TAN).photo(), nothing, PERFECT)
    assert found.lightness is None
    assert found.why == "too little of the ceramic nose can be seen for a colour"


@settings(max_examples=20, deadline=None)
@given(st.floats(25, 85), st.floats(-4, 20), st.floats(-4, 28))
def test_any_ceramic_colour_is_seen_as_it_is(lightness: float, a: float, b: float) -> None:
    """Over the range of noses the colour under a perfect white is within what the white leaves open."""
    assume(lab_to_linear_srgb((lightness, a, b)).max() < 0.9)  # past the camera's limit there is no colour to see
    assert (np.abs(_seen(Nose((lightness, a, b)).photo()) - (lightness, a, b)) < PERFECT.spread_lab).all()


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
        seen.append(_seen(nose.photo()))
    assert abs(float(delta_e_2000(*seen)) - float(delta_e_2000(one, two))) < 2.5


def test_two_groups_follow_otsu() -> None:
    """Two equal groups far apart are explained wholly; one bell is not two groups."""
    rng = np.random.default_rng(0)
    apart = np.concatenate([rng.normal(20, 1, 500), rng.normal(70, 1, 500)])
    assert nose_colour.two_groups(apart) > 0.98
    assert nose_colour.two_groups(rng.normal(50, 8, 1000)) == 0


# ---- the light on the nose -------------------------------------------------------------------------------


def _light(**weights: float) -> lit.Light:
    lines = {name: lit.Line(0.0, {}, {}) for name in lit.MOST}
    lines["light"] = lit.Line(0.0, weights, dict.fromkeys(weights, 0.0))
    return lit.Light(lines, {})


def test_brighter_metal_beside_it_means_that_the_nose_is_darker_than_it_looks() -> None:
    """Weight -1 on a rim e^0.3 brighter than usual takes the light down by e^-0.3: L* + 16 falls by the cube root."""
    found = _light(rim=-1.0).corrected(np.array(TAN), {"rim": 0.3})
    assert found[0] == pytest.approx((TAN[0] + 16) * np.exp(-0.1) - 16, abs=0.02)


def test_a_change_of_light_alone_keeps_the_hue() -> None:
    """a* over b* stays."""
    found = _light(rim=-1.0).corrected(np.array(TAN), {"rim": 0.3})
    assert found[1] / found[2] == pytest.approx(TAN[1] / TAN[2], rel=1e-3)


def test_what_was_not_seen_counts_as_usual() -> None:
    """Without the cue nothing changes."""
    assert _light(rim=-1.0).corrected(np.array(TAN), {}) == pytest.approx(TAN, abs=1e-3)


def test_no_correction_goes_past_its_limit() -> None:
    """A hundredfold brighter rim moves the light by e^1.2 at most."""
    found = _light(rim=-1.0).corrected(np.array(TAN), {"rim": 4.6})
    assert found[0] == pytest.approx((TAN[0] + 16) * np.exp(-0.4) - 16, abs=0.05)


def test_tint_of_the_light_leaves_its_amount() -> None:
    """Less red alone keeps the luminance."""
    lines = {name: lit.Line(0.0, {}, {}) for name in lit.MOST} | {"red": lit.Line(-0.2, {}, {})}
    found = lit.Light(lines, {}).corrected(np.array(TAN), {})
    assert found[0] == pytest.approx(TAN[0], abs=0.01)
    assert found[1] < TAN[1] - 3


@pytest.mark.parametrize("kind", ["reference", "estimated"])
def test_the_fitted_light_follows_the_metal(kind: str) -> None:
    """In the shipped table all metal twice as bright makes the same nose darker, by less than the metal itself is brighter."""
    light = getattr(lit.load_lit(), kind).lines["light"]
    usual = dict(light.usual)
    brighter = usual | {name: usual[name] + np.log(2) for name in lit.NEIGHBOURS}
    change = light.of(brighter, 9.0) - light.of(usual, 9.0)
    assert -1.1 < change < 0
