"""The phone camera: sizes, turns, profiles, faults."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image, ImageOps

from sample_images.render import phone
from sample_images.render.colour import RGB_TO_P3, decode, encode
from sample_images.render.phone import Phone, PhoneError, photograph


@pytest.fixture(scope="module")
def ramp():
    """A linear picture, brighter to the right and warmer downwards, with a bright corner."""
    y, x = np.meshgrid(np.linspace(0, 1, 60), np.linspace(0, 1, 80), indexing="ij")
    image = np.stack([0.1 + 0.3 * x + 0.2 * y, 0.1 + 0.3 * x, 0.3 * np.ones_like(x) * (1 - 0.5 * y)], -1).astype(np.float32)
    image[:12, :12] = 2.0
    return image


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_stored_turn_and_tag_give_the_upright_photo(ramp, orientation):
    """A reader that obeys the EXIF tag sees the upright pixels, whatever way they are stored."""
    photo = photograph(ramp, Phone(orientation=orientation, quality=98))
    seen = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(photo.jpeg))), float)
    assert seen.shape == photo.upright.shape
    assert np.abs(seen - photo.upright).mean() < 3.0


def test_turned_photo_is_stored_with_sides_swapped(ramp):
    """Orientation 6 stores a landscape photo as portrait pixels."""
    assert Image.open(io.BytesIO(photograph(ramp, Phone(orientation=6)).jpeg)).size == (60, 80)


def test_same_settings_give_the_same_bytes(ramp):
    """The photo depends on picture and settings alone."""
    assert photograph(ramp, Phone(seed=3)).jpeg == photograph(ramp, Phone(seed=3)).jpeg


def test_profile_is_written_only_for_display_p3(ramp):
    """A Display P3 photo carries a profile that opens; an sRGB photo carries none."""
    wide = Image.open(io.BytesIO(photograph(ramp, Phone(display_p3=True)).jpeg))
    assert phone.profile_opens(wide.info["icc_profile"])
    assert "icc_profile" not in Image.open(io.BytesIO(photograph(ramp, Phone()).jpeg)).info


def test_profile_turns_display_p3_codes_back_into_srgb():
    """LittleCMS, reading our profile, brings Display P3 codes of known sRGB colours back within 1 code value."""
    from PIL import ImageCms

    srgb = np.array([[[200, 120, 60], [90, 90, 90], [40, 110, 150], [250, 250, 250]]], np.uint8)
    codes = (encode(decode(srgb / 255.0) @ RGB_TO_P3.T) * 255).round().astype(np.uint8)
    profile = ImageCms.ImageCmsProfile(io.BytesIO(phone.display_p3_profile()))
    back = ImageCms.profileToProfile(Image.fromarray(codes), profile, ImageCms.createProfile("sRGB"))
    assert np.abs(np.asarray(back, int) - srgb).max() <= 2


def test_blown_out_photo_is_mostly_white(ramp):
    """The fault "blown_out" clips most of the picture."""
    spoiled = phone.spoiled(Phone(), "blown_out", np.random.default_rng(1), 80)
    assert (photograph(ramp, spoiled).upright.min(-1) > 235).mean() > 0.4


def test_too_dark_photo_is_mostly_black(ramp):
    """The fault "too_dark" leaves most of the picture under code 60."""
    spoiled = phone.spoiled(Phone(), "too_dark", np.random.default_rng(1), 80)
    assert (photograph(ramp, spoiled).upright.mean(-1) < 60).mean() > 0.7


@pytest.mark.parametrize("fault", ["motion_blur", "out_of_focus"])
def test_blurring_faults_remove_detail(fault):
    """A fine checker loses most of its contrast."""
    checker = np.repeat((np.indices((120, 160)).sum(0) // 2 % 2)[..., None] * 0.4 + 0.02, 3, -1).astype(np.float32)
    plain = Phone(sharpen=0.0, local_tone=0.0)
    spoiled = phone.spoiled(plain, fault, np.random.default_rng(1), 160)
    assert photograph(checker, spoiled).upright.std() < 0.6 * photograph(checker, plain).upright.std()


def test_white_balance_of_a_neutral_light_leaves_grey_grey():
    """Equal gains and no noise give equal channels."""
    grey = np.full((20, 20, 3), 0.2, np.float32)
    upright = photograph(grey, Phone(shot_noise=0.0, read_noise=0.0, saturation=1.3)).upright
    assert np.ptp(upright, axis=-1).max() == 0


@pytest.mark.parametrize(
    ("settings", "message"),
    [({"orientation": 5}, "EXIF orientation 5 is not written"), ({"quality": 0}, "JPEG quality 0 is outside")],
)
def test_impossible_settings_are_refused(settings, message):
    """What no phone writes is refused."""
    with pytest.raises(PhoneError, match=message):
        replace(Phone(), **settings)


def test_mask_file_holds_the_labels(tmp_path):
    """A saved mask reads back as the same labels."""
    mask = np.arange(9, dtype=np.uint8).reshape(3, 3)
    phone.save_mask(mask, tmp_path / "m.png")
    assert np.array_equal(np.asarray(Image.open(tmp_path / "m.png")), mask)
