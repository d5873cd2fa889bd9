"""Properties of the colour formulas, and agreement with a reference library on random colours."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plugread import colour

LAB = st.tuples(st.floats(0, 100), st.floats(-110, 110), st.floats(-110, 110))


@pytest.fixture(scope="module")
def reference():
    """colour-science, the reference library."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pytest.importorskip("colour")


def _random_lab(seed: int, n: int = 10_000) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.stack([rng.uniform(0, 100, n), rng.uniform(-110, 110, n), rng.uniform(-110, 110, n)], -1)


def test_ciede2000_agrees_with_the_reference_library_on_10000_random_pairs(reference) -> None:
    """Within 1e-9 of colour-science."""
    one, two = _random_lab(1), _random_lab(2)
    assert np.abs(colour.delta_e_2000(one, two) - reference.delta_E(one, two, method="CIE 2000")).max() < 1e-9


def test_ciede2000_agrees_with_the_reference_library_on_10000_close_pairs(reference) -> None:
    """Within 1e-9 of colour-science where two colours differ little, as two noses do."""
    one = _random_lab(3)
    two = one + np.random.default_rng(4).normal(0, 2, one.shape)
    assert np.abs(colour.delta_e_2000(one, two) - reference.delta_E(one, two, method="CIE 2000")).max() < 1e-9


def test_lab_agrees_with_the_reference_library(reference) -> None:
    """XYZ to Lab within 1e-9 of colour-science, dark and light, 10,000 random colours."""
    xyz = np.random.default_rng(5).uniform(0, 1, (10_000, 3)) ** 2
    expected = reference.XYZ_to_Lab(xyz, np.array(colour.D65_XY))
    assert np.abs(colour.xyz_to_lab(xyz) - expected).max() < 1e-9


@pytest.mark.parametrize(("method", "name"), [("bradford", "Bradford"), ("cat16", "CAT16")])
def test_adaptation_agrees_with_the_reference_library(reference, method: str, name: str) -> None:
    """Both transforms within 1e-9 of colour-science on 1,000 colours."""
    xyz = np.random.default_rng(6).uniform(0, 1, (1000, 3))
    lamp, day = colour.xy_to_xyz((0.44757, 0.40745)), colour.xy_to_xyz(colour.D65_XY)
    expected = reference.adaptation.chromatic_adaptation_VonKries(xyz, lamp, day, transform=name)
    assert np.abs(colour.adapt(xyz, lamp, day, method) - expected).max() < 1e-9


def test_srgb_transfer_agrees_with_the_reference_library(reference) -> None:
    """Encoding and decoding within 1e-12 of colour-science over 0-1."""
    x = np.linspace(0, 1, 4097)
    assert np.abs(colour.srgb_encode(x) - reference.models.eotf_inverse_sRGB(x)).max() < 1e-12
    assert np.abs(colour.srgb_decode(x) - reference.models.eotf_sRGB(x)).max() < 1e-12


@settings(deadline=None)
@given(LAB, LAB)
def test_ciede2000_is_symmetric(one: tuple[float, ...], two: tuple[float, ...]) -> None:
    """Exchanging the two colours changes nothing."""
    assert colour.delta_e_2000(one, two) == pytest.approx(float(colour.delta_e_2000(two, one)), abs=1e-12)


@settings(deadline=None)
@given(LAB)
def test_a_colour_does_not_differ_from_itself(lab: tuple[float, ...]) -> None:
    """The difference of a colour and itself is zero."""
    assert colour.delta_e_2000(lab, lab) == 0


@settings(deadline=None)
@given(st.floats(0, 100), st.floats(0, 100))
def test_greys_differ_in_lightness_only(one: float, two: float) -> None:
    """For two greys the formula is |dL| / S_L, worked by hand from equations 15 and 22."""
    middle = ((one + two) / 2 - 50) ** 2
    expected = abs(one - two) / (1 + 0.015 * middle / np.sqrt(20 + middle))
    assert colour.delta_e_2000([one, 0, 0], [two, 0, 0]) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("chroma", [2.0, 20.0, 80.0])
def test_the_difference_is_continuous_where_hue_wraps(chroma: float) -> None:
    """Colours just above and just below hue 0 are as close as their distance says."""
    above = [50, chroma, 1e-6]
    below = [50, chroma, -1e-6]
    assert colour.delta_e_2000(above, below) < 1e-5


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=3, max_size=3))
def test_lab_and_back_is_the_same_colour(rgb: list[float]) -> None:
    """Linear sRGB -> Lab -> linear sRGB within 1e-12."""
    assert np.abs(colour.lab_to_linear_srgb(colour.linear_srgb_to_lab(rgb)) - rgb).max() < 1e-12


@settings(deadline=None)
@given(st.floats(-1, 2))
def test_encoding_undoes_decoding(value: float) -> None:
    """Also outside 0-1, so that colours outside sRGB survive."""
    assert colour.srgb_encode(colour.srgb_decode(value)) == pytest.approx(value, abs=1e-7)


@settings(deadline=None)
@given(st.floats(0, 1))
def test_equal_channels_are_neutral(level: float) -> None:
    """Greys have a* = b* = 0 to 1e-12: the matrix is built from the white point."""
    assert np.abs(colour.linear_srgb_to_lab([level] * 3)[1:]).max() < 1e-10


@pytest.mark.parametrize(("kind", "codes"), [(np.uint8, 256), (np.uint16, 65536)])
def test_the_decode_table_holds_the_formula(kind: type, codes: int) -> None:
    """Every entry equals the decoding of its code."""
    assert np.array_equal(colour.decode_table(kind), colour.srgb_decode(np.arange(codes) / (codes - 1)))


def test_there_is_no_table_for_other_pixels() -> None:
    """Only 8 and 16 bit codes have a table."""
    with pytest.raises(TypeError, match="no decode table for float32"):
        colour.decode_table(np.float32)


def test_leading_shapes_broadcast() -> None:
    """One colour against a picture gives a picture of differences."""
    assert colour.delta_e_2000(np.zeros((4, 5, 3)), [50, 0, 0]).shape == (4, 5)
