"""Colour profiles: read exactly, never clipped, and checked against a colour engine (littleCMS, through Pillow)."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageCms

from plugread.colour import srgb_decode, srgb_encode
from plugread.photo.decode import crop_linear, open_photo
from plugread.photo.profile import ProfileError, read_profile
from tests.photo import files

TAN = (190, 160, 120)
P3_TO_SRGB = [[1.2248, -0.2249, 0.0], [-0.0419, 1.0420, 0.0], [-0.0196, -0.0786, 1.0983]]
"""Display P3 -> sRGB in linear light, four decimals (published in many places; from memory)."""
A98 = ((0.60974, 0.20528, 0.14919), (0.31111, 0.62567, 0.06322), (0.01947, 0.06087, 0.74457))
"""Adobe RGB (1998) colorants under D50 (specification annex, from memory)."""


def _opened(icc: bytes, rgb: np.ndarray | None = None):
    return open_photo(files.encoded("PNG", rgb, icc_profile=icc))


def _by_engine(icc: bytes, rgb: np.ndarray) -> np.ndarray:
    own = ImageCms.ImageCmsProfile(io.BytesIO(icc))
    turned = ImageCms.profileToProfile(Image.fromarray(rgb), own, ImageCms.createProfile("sRGB"), renderingIntent=1)
    return np.asarray(turned)


def test_display_p3_gives_the_published_matrix() -> None:
    """Phones' profile: the 3x3 within 5e-4 of the published one, and the sRGB curve."""
    profile = read_profile(files.profile(), 256)
    assert profile is not None
    assert np.abs(profile.to_srgb - P3_TO_SRGB).max() < 5e-4
    assert profile.curve is None


@pytest.mark.parametrize(("colorants", "gamma"), [(files.D50_P3, None), (A98, 2.2)], ids=["Display P3", "Adobe RGB"])
def test_a_matrix_profile_agrees_with_the_colour_engine(colorants, gamma: float | None) -> None:
    """Colours inside sRGB come out within one code of littleCMS."""
    icc = files.profile(colorants, (files.gamma(gamma),) if gamma else ())
    rgb = np.random.default_rng(0).integers(70, 180, (64, 64, 3)).astype(np.uint8)
    ours = srgb_encode(crop_linear(_opened(icc, rgb), (0, 0, 64, 64))) * 255
    theirs = _by_engine(icc, rgb).astype(float)
    inside = ((theirs > 2) & (theirs < 253)).all(-1)
    assert inside.mean() > 0.9
    assert np.abs(ours - theirs)[inside].max() < 1.01


def test_ignoring_a_phones_profile_would_dull_tan() -> None:
    """Read as P3, tan has more chroma than the same codes read as sRGB: the fault this guards against."""
    from plugread.colour import linear_srgb_to_lab

    field = np.full((64, 64, 3), TAN, np.uint8)
    field[0, 0] = (1, 2, 3)
    plain = linear_srgb_to_lab(crop_linear(open_photo(files.encoded("PNG", field)))[9, 9])
    phone = linear_srgb_to_lab(crop_linear(_opened(files.profile(), field))[9, 9])
    assert np.hypot(*phone[1:]) - np.hypot(*plain[1:]) > 3


def test_a_colour_outside_srgb_is_not_clipped() -> None:
    """Full P3 red has linear red above 1 and green below 0."""
    field = np.zeros((64, 64, 3), np.uint8)
    field[...] = (255, 0, 0)
    linear = crop_linear(_opened(files.profile(), field))[5, 5]
    assert linear[0] > 1.2
    assert linear[1] < -0.03


def test_an_srgb_profile_changes_nothing() -> None:
    """The profile Pillow writes for sRGB leaves matrix and curve alone."""
    icc = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    profile = read_profile(icc, 256)
    assert profile is not None
    assert np.array_equal(profile.to_srgb, np.eye(3))
    assert profile.curve is None


def test_three_different_curves_go_through_the_colour_engine() -> None:
    """What one 3x3 and one curve cannot hold is converted as a whole, within one code of littleCMS, and said so."""
    icc = files.profile(files.D50_P3, (files.gamma(1.8), files.gamma(2.2), files.gamma(2.6)))
    rgb = np.random.default_rng(1).integers(90, 170, (64, 64, 3)).astype(np.uint8)
    photo = _opened(icc, rgb)
    assert "table profile" in photo.notes[0]
    assert np.abs(photo.rgb.astype(int) - _by_engine(icc, rgb)).max() <= 1


@pytest.mark.parametrize("kind", range(5))
def test_each_parametric_curve_follows_its_formula(kind: int) -> None:
    """ICC.1, 10.18, table 68: functions 0 to 4 with g a b c d e f."""
    g, a, b, c, d, e, f = 2.0, 0.9, 0.1, 0.2, 0.3, 0.05, 0.02
    x = np.linspace(0, 1, 256)
    wanted = {
        0: x**g,
        1: np.where(x >= -b / a, (a * x + b) ** g, 0),
        2: np.where(x >= -b / a, (a * x + b) ** g + c, c),
        3: np.where(x >= d, (a * x + b) ** g, c * x),
        4: np.where(x >= d, (a * x + b) ** g + e, c * x + f),
    }[kind]
    values = ((g,), (g, a, b), (g, a, b, c), (g, a, b, c, d), (g, a, b, c, d, e, f))[kind]
    profile = read_profile(files.profile(curves=(files.parametric(kind, *values),)), 256)
    assert profile is not None
    assert profile.curve == pytest.approx(wanted, abs=2e-4)


def test_a_sampled_curve_is_interpolated() -> None:
    """`curv` with many entries: linear between them."""
    points = (srgb_decode(np.linspace(0, 1, 64)) ** 1.2 * 65535).round().astype(">u2")
    curve = b"curv\0\0\0\0" + len(points).to_bytes(4, "big") + points.tobytes()
    profile = read_profile(files.profile(curves=(curve,)), 256)
    assert profile is not None
    assert profile.curve is not None
    assert profile.curve[128] == pytest.approx(srgb_decode(128 / 255) ** 1.2, abs=1e-3)


DAMAGED = {
    "cut": (files.profile()[:200], "cut off"),
    "no signature": (b"\0" * 200, "signature"),
    "for print": (files.profile(space=b"CMYK"), "made for CMYK pixels"),
    "white is not white": (files.profile(np.array(files.D50_P3) * 1.3), "do not add up to white"),
    "unknown curve": (files.profile(curves=(b"XXXX\0\0\0\0\0\0\0\0",)), "tone curve"),
    "no primaries": (files.profile(np.zeros((3, 3))), "do not add up to white"),
}


@pytest.mark.parametrize("case", DAMAGED)
def test_a_damaged_profile_is_named(case: str) -> None:
    """`read_profile` says what is wrong with it."""
    icc, words = DAMAGED[case]
    with pytest.raises(ProfileError, match=words):
        read_profile(icc, 256)


@pytest.mark.parametrize("case", DAMAGED)
def test_a_photo_with_a_damaged_profile_is_read_as_srgb_and_says_so(case: str) -> None:
    """The photo opens, with a note; nothing is refused for it."""
    photo = open_photo(files.encoded("JPEG", icc_profile=DAMAGED[case][0]))
    assert "taken as sRGB" in photo.notes[0]
    assert np.array_equal(photo.to_srgb, np.eye(3))


def test_a_photo_without_a_profile_is_read_as_srgb_and_says_so() -> None:
    """Most files have none."""
    assert open_photo(files.encoded()).notes == ("no colour profile in the file: taken as sRGB",)
