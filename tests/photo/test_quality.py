"""Whether a firing end can be measured, and the advice for the next photo."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from plugread.photo.quality import edge_width, judge
from tests.measure.noses import Nose, end

TAN = (62.0, 9.0, 21.0)


def _step(sigma_px: float) -> np.ndarray:
    """A bright field with four straight edges, blurred by a Gaussian."""
    grey = np.full((240, 240), 0.2)
    grey[60:180, 60:180] = 0.7
    return cv2.GaussianBlur(grey, (0, 0), sigma_px)


@pytest.mark.parametrize("sigma_px", [1.0, 1.5, 2.5, 4.0])
def test_edge_width_is_the_10_to_90_percent_width(sigma_px: float) -> None:
    """A Gaussian edge is 2.563 sigma wide from 10 % to 90 %; found within 12 %."""
    assert edge_width(_step(sigma_px)) == pytest.approx(2.563 * sigma_px, rel=0.12)


def test_more_blur_reads_wider() -> None:
    """The order is kept."""
    widths = [edge_width(_step(s)) for s in (0.8, 1.5, 3.0, 5.0)]
    assert widths == sorted(widths)


def test_a_sharp_well_lit_nose_is_let_through() -> None:
    """No refusal, and exposure and blur are those of the drawing."""
    quality = judge(Nose(TAN).photo(), end())
    assert quality.refusal is None
    assert quality.blur_px < 5
    assert quality.clipped_share == 0


def _dimmed(share: float):
    nose = Nose(TAN)
    nose.linear = nose.linear * share
    return nose.photo(noise=0.1)


REFUSED = {
    "blurred": (Nose(TAN).photo(blur_px=16), "too blurred", "hold still"),
    "overexposed": (Nose((99.9, 0, 0)).photo(), "overexposed", "out of the sun"),
    "dark": (_dimmed(0.03), "too dark", "more light"),
}


@pytest.mark.parametrize("fault", REFUSED)
def test_each_fault_is_named_with_what_to_do(fault: str) -> None:
    """The refusal names the fault, the advice its cure."""
    photo, words, cure = REFUSED[fault]
    quality = judge(photo, end())
    assert quality.refusal is not None
    assert words in quality.refusal
    assert any(cure in advice for advice in quality.advice)


def test_a_black_nose_in_good_light_is_let_through() -> None:
    """Soot is dark, the photo is not."""
    assert judge(Nose((9.0, 0.0, 0.5)).photo(), end()).refusal is None


def test_a_tiny_nose_is_refused() -> None:
    """Below 14 px nothing can be told."""
    small = replace(end(), nose_box=(150, 120, 10, 12))
    assert "px wide" in judge(Nose(TAN).photo(), small).refusal


def test_a_box_outside_the_photo_is_refused() -> None:
    """No pixel, no judgement."""
    assert "outside" in judge(Nose(TAN).photo(), replace(end(), nose_box=(5000, 5000, 40, 40))).refusal


@pytest.mark.parametrize("view", ["end", "oblique"])
def test_a_view_without_a_gap_is_told_to_turn(view: str) -> None:
    """The gap shows side-on only."""
    assert any("side-on" in advice for advice in judge(Nose(TAN).photo(), end(view)).advice)


def test_a_nose_partly_burnt_is_read_but_told() -> None:
    """A fifth overexposed: still read, with advice."""
    quality = judge(Nose(TAN).discs(9, 0.8, 1.0).photo(), end())
    assert quality.refusal is None
    assert any("sun" in advice for advice in quality.advice)


def _white_nose(metal: float):
    """A white nose, partly burnt, among metal of one linear level."""
    nose = Nose((99.9, 0.0, 0.0), shade=0.15)
    nose.linear[nose.linear[..., 0] < 0.2] = metal
    return nose.photo()


def test_a_white_nose_among_well_exposed_metal_is_let_through() -> None:
    """The metal beside it shows that the nose is white, not the photo burnt; the advice stays. Bright metal refuses it."""
    dim, bright = judge(_white_nose(0.12), end()), judge(_white_nose(0.75), end())
    assert dim.refusal is None
    assert any("overexposed" in advice for advice in dim.advice)
    assert bright.refusal == "the nose is washed out"
