"""Gloss, crust and specks on drawn noses, and when each cannot be told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plugread.measure import crust, gloss, specks
from plugread.measure.plug import measure_plug
from plugread.measure.view import NoseView, nose_view
from tests.measure.noses import PERFECT, SHARP, Nose, end

TAN, SOOT, WHITE = (62.0, 9.0, 21.0), (16.0, 0.5, 1.0), (88.0, 0.0, 4.0)
METAL = (0.75, 0.74, 0.72)


def _view(nose: Nose, quality=SHARP) -> NoseView:
    found = nose_view(nose.photo(), end(), PERFECT, quality)
    assert found is not None
    return found


# ---- gloss -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("lab", [TAN, SOOT, WHITE], ids=["tan", "soot", "white"])
def test_a_matt_nose_is_matt(lab: tuple[float, float, float]) -> None:
    """Without glints gloss is below 0.2, whatever the colour."""
    found, why = gloss.measure(_view(Nose(lab)))
    assert why is None
    assert found.value < 0.2


@pytest.mark.parametrize("lab", [TAN, SOOT], ids=["tan", "soot"])
def test_glints_make_a_nose_glossy(lab: tuple[float, float, float]) -> None:
    """Small spots several times brighter than the surface: wet or glassy."""
    found, _ = gloss.measure(_view(Nose(lab).discs(10, 0.25, 1.0)))
    assert found.value > 0.7


def test_a_shadow_across_the_nose_is_no_gloss() -> None:
    """A slow fall of light has no narrow bright spots."""
    found, _ = gloss.measure(_view(Nose(TAN, shade=0.8)))
    assert found.value < 0.2


def test_a_rough_crust_is_no_gloss() -> None:
    """Lumps that vary by 15 % are lit and shaded, not glinting."""
    found, _ = gloss.measure(_view(Nose(WHITE).lumps(0.15)))
    assert found.value < 0.35


def test_gloss_grows_with_the_glints() -> None:
    """Brighter spots, more gloss."""
    values = [gloss.measure(_view(Nose(SOOT).discs(10, 0.25, level)))[0].value for level in (0.03, 0.1, 0.4)]
    assert values == sorted(values)


def test_under_flat_light_gloss_cannot_be_told() -> None:
    """Where even the metal shows no glint, wet and dry look alike: no number, and what to do."""
    found, why = gloss.measure(_view(Nose(TAN, flat=True)))
    assert found is None
    assert "too flat" in why


# ---- crust -----------------------------------------------------------------------------------------------


def test_crust_grows_with_the_lumps() -> None:
    """Smooth, rough, heavy."""
    values = [crust.measure(_view(Nose(TAN).lumps(amount) if amount else Nose(TAN)))[0].value for amount in (0.0, 0.1, 0.35)]
    assert values[0] < 0.1
    assert values == sorted(values)
    assert values[2] > 0.6


def test_crust_does_not_depend_on_lightness() -> None:
    """The same lumps on a light and a mid nose count the same to 0.12: it is relative to the level."""
    light, mid = (crust.measure(_view(Nose(lab).lumps(0.2)))[0].value for lab in ((75.0, 2.0, 8.0), (50.0, 2.0, 8.0)))
    assert abs(light - mid) < 0.12


def test_a_slow_shade_is_no_crust() -> None:
    """Unevenness slower than 0.8 mm is shade."""
    assert crust.measure(_view(Nose(TAN, shade=0.6)))[0].value < 0.15


# ---- specks ----------------------------------------------------------------------------------------------


def test_a_clean_nose_has_no_specks() -> None:
    """Noise alone makes none."""
    assert specks.measure(_view(Nose(TAN)))[0] == {"dark": 0, "metal": 0, "white": 0}


@pytest.mark.parametrize("count", [4, 9, 16])
def test_dark_specks_are_counted(count: int) -> None:
    """Dark specks of 0.2 mm on white, each counted once."""
    assert specks.measure(_view(Nose(WHITE).discs(count, 0.2, 0.03)))[0]["dark"] == count


def test_bright_neutral_specks_are_metal() -> None:
    """Grey and bright on tan: metal."""
    found = specks.measure(_view(Nose((50.0, 9.0, 21.0)).discs(6, 0.2, METAL)))[0]
    assert found["metal"] == 6
    assert found["dark"] == 0


def test_very_light_specks_are_white() -> None:
    """Lighter than any metal in matt light."""
    assert specks.measure(_view(Nose(TAN).discs(6, 0.2, 0.93)))[0]["white"] == 6


def test_large_blobs_are_no_specks() -> None:
    """More than half a millimetre across is a deposit."""
    assert specks.measure(_view(Nose(WHITE).discs(3, 0.75, 0.03)))[0]["dark"] == 0


# ---- cannot be told --------------------------------------------------------------------------------------


def test_a_coarse_picture_is_too_coarse_for_specks() -> None:
    """Below 11 pixels a millimetre a speck of 0.1 mm is one pixel."""
    found, why = specks.measure(replace(_view(Nose(TAN)), true_px_per_mm=8.0))
    assert found is None
    assert "too coarse" in why


@pytest.mark.parametrize("measure", [gloss.measure, crust.measure, specks.measure], ids=["gloss", "crust", "specks"])
def test_a_blurred_nose_is_refused_by_each(measure) -> None:
    """Edges half a millimetre wide: smeared, and said so."""
    found, why = measure(replace(_view(Nose(TAN)), blur_mm=0.5))
    assert found is None
    assert "blurred" in why


@pytest.mark.parametrize("measure", [gloss.measure, crust.measure, specks.measure], ids=["gloss", "crust", "specks"])
def test_without_a_nose_each_says_so(measure) -> None:
    """Nothing to look at is not "none there"."""
    assert measure(None) == (None, "too little of the nose can be seen")


def test_the_join_keeps_each_reason() -> None:
    """What could not be measured is None, and its reason stands under its name."""
    measured = measure_plug(Nose(TAN).photo(), end("end"), PERFECT, SHARP)
    assert measured.measures.gap_mm is None
    assert measured.measures.why["gap"]
    assert measured.measures.lab is not None
    assert "colour" not in measured.measures.why


def test_the_join_hands_the_mask_in_full_size_pixels() -> None:
    """Mask and box belong together."""
    measured = measure_plug(Nose(TAN).photo(), end(), PERFECT, SHARP)
    assert measured.nose_mask.shape == measured.mask_box[:1:-1]
    assert measured.nose_mask.sum() > 1000
    assert np.issubdtype(measured.nose_mask.dtype, bool)
