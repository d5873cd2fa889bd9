"""The door for image bytes: every trap of picture files, one at a time."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from plugread.errors import PhotoError
from plugread.photo.decode import crop_linear, open_photo
from tests.photo import files

UPRIGHT = ("red", "green", "blue", "tan")
TURNS = range(1, 9)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "AVIF", "TIFF", "BMP"])
def test_each_format_opens_as_rgb(kind: str) -> None:
    """The first colour is red, not blue: no channel swap in any format."""
    photo = open_photo(files.encoded(kind))
    assert files.corner_names(photo.rgb) == UPRIGHT
    assert photo.size == (192, 128)


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_the_cameras_turn_is_applied_exactly_once(kind: str, turn: int) -> None:
    """All eight orientations of an asymmetric picture come out upright, with the upright size."""
    photo = open_photo(files.encoded(kind, files.stored_for_turn(files.picture(), turn), turn=turn))
    assert files.corner_names(photo.rgb) == UPRIGHT
    assert photo.size == (192, 128)


@pytest.mark.parametrize("turn", TURNS)
def test_the_turn_is_applied_once_in_a_reduced_decode(turn: int) -> None:
    """Unpacked at a quarter, the picture stands upright and `size` is that of the full upright picture."""
    stored = files.stored_for_turn(files.picture(768, 512), turn)
    photo = open_photo(files.encoded("JPEG", stored, turn=turn), at_least_px=190)
    assert (photo.scale, photo.size, photo.rgb.shape) == (4, (768, 512), (128, 192, 3))
    assert files.corner_names(photo.rgb) == UPRIGHT


def test_reduced_and_full_decode_agree() -> None:
    """Means of the four fields differ by less than two codes."""
    data = files.encoded("JPEG", files.picture(768, 512))
    full, small = open_photo(data).rgb, open_photo(data, at_least_px=380).rgb
    assert np.abs(full[:200, :300].mean((0, 1)) - small[:100, :150].mean((0, 1))).max() < 2


@pytest.mark.parametrize("turn", [0, 9, 77])
def test_an_impossible_turn_is_ignored(turn: int) -> None:
    """Orientation outside 1-8 leaves the pixels as they are."""
    assert files.corner_names(open_photo(files.encoded("JPEG", turn=turn)).rgb) == UPRIGHT


def test_a_file_is_named_after_itself(tmp_path: Path) -> None:
    """`name` is the file's own unless given."""
    path = tmp_path / "c1.jpg"
    path.write_bytes(files.encoded())
    assert (open_photo(path).name, open_photo(str(path), name="first").name) == ("c1.jpg", "first")


def test_the_ending_of_a_name_is_not_trusted(tmp_path: Path) -> None:
    """A PNG called .jpg opens."""
    path = tmp_path / "c1.jpg"
    path.write_bytes(files.encoded("PNG"))
    assert files.corner_names(open_photo(path).rgb) == UPRIGHT


# ---- depth and alpha -------------------------------------------------------------------------------------


def test_16_bits_are_kept() -> None:
    """A 16 bit PNG keeps codes that 8 bits cannot hold."""
    deep = files.picture().astype(np.uint16) * 257 + 100
    photo = open_photo(files.png16(deep))
    assert photo.rgb.dtype == np.uint16
    assert np.array_equal(photo.rgb, deep)


def test_16_bit_codes_are_decoded_by_their_own_table() -> None:
    """Code 65535 is 1 in linear light, code 257 * 128 what 128 is at 8 bits."""
    deep = np.full((64, 64, 3), 257 * 128, np.uint16)
    deep[0, 0] = (65535, 0, 0)
    linear = crop_linear(open_photo(files.png16(deep)), (0, 0, 64, 64))
    assert linear[0, 0, 0] == pytest.approx(1.0)
    assert linear[5, 5] == pytest.approx([0.215861] * 3, abs=1e-6)


def test_hidden_colours_under_transparency_are_left_out() -> None:
    """Pixels with alpha below full are marked invalid, the rest are not."""
    rgba = np.dstack([files.picture(), np.full((128, 192), 255, np.uint8)])
    rgba[:64, :96, 3] = 0
    out = io.BytesIO()
    Image.fromarray(rgba).save(out, "PNG")
    photo = open_photo(out.getvalue())
    assert photo.valid is not None
    assert not photo.valid[:64, :96].any()
    assert photo.valid[64:].all()


def test_an_opaque_alpha_channel_hides_nothing() -> None:
    """Alpha that is full everywhere leaves no mask."""
    assert open_photo(files.encoded("PNG", mode="RGBA")).valid is None


def test_a_palette_picture_opens() -> None:
    """An indexed PNG comes out as RGB."""
    out = io.BytesIO()
    Image.fromarray(files.picture()).quantize(16).save(out, "PNG")
    assert files.corner_names(open_photo(out.getvalue()).rgb) == UPRIGHT


def test_the_first_picture_of_a_multi_picture_file_is_read() -> None:
    """MPO, as phones with several lenses write it."""
    out = io.BytesIO()
    other = Image.fromarray(np.ascontiguousarray(files.picture()[::-1]))
    Image.fromarray(files.picture()).save(out, "MPO", save_all=True, append_images=[other], quality=92)
    assert files.corner_names(open_photo(out.getvalue()).rgb) == UPRIGHT


def test_two_files_glued_together_give_the_first() -> None:
    """A gain map behind the photo changes nothing."""
    photo = open_photo(files.encoded() + files.encoded("JPEG", files.picture()[::-1]))
    assert files.corner_names(photo.rgb) == UPRIGHT


# ---- refusals --------------------------------------------------------------------------------------------



def _bmp_header(width: int, height: int) -> bytes:
    small = files.encoded("BMP")
    return small[:18] + width.to_bytes(4, "little") + height.to_bytes(4, "little") + small[26:]


REFUSED = {
    "empty file": (b"", r"empty \(0 bytes\)"),
    "text": (b"this is no picture " * 20, "not a picture"),
    "one byte": (b"\xff", "not a picture"),
    "JPEG start only": (b"\xff\xd8\xff\xe0", "header cannot be read"),
    "JPEG cut at the end": (files.encoded()[:-2], "damaged or cut short"),
    "JPEG cut in the middle": (files.encoded()[:700], "damaged or cut short"),
    "PNG cut": (files.encoded("PNG")[:-40], "damaged or cut short|header cannot be read"),
    "WebP cut": (files.encoded("WEBP")[:-40], "damaged"),
    "HEIC": (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 100, "HEIC"),
    "HEIC by its second brand": (b"\0\0\0\x18ftypmif1\0\0\0\0mif1heic" + b"\0" * 100, "HEIC"),
    "film": (b"\0\0\0\x18ftypisom\0\0\0\0isommp42" + b"\0" * 100, "film"),
    "grey JPEG": (files.encoded("JPEG", mode="L"), "black-and-white"),
    "grey stored as colour": (files.encoded("PNG", np.repeat(files.picture()[..., :1], 3, -1)), "black-and-white"),
    "grey with alpha": (files.encoded("PNG", mode="LA"), "black-and-white"),
    "one bit": (files.encoded("PNG", mode="1"), "black-and-white"),
    "CMYK": (files.encoded("JPEG", mode="CMYK"), "CMYK"),
    "header larger than the file can hold": (files.jpeg_header_only(9_000, 9_000), "more than it can hold"),
    "BMP header of 400 million pixels": (_bmp_header(20_000, 20_000), "far more pixels|million pixels"),
    "JPEG header of 400 million pixels": (files.jpeg_header_only(20_000, 20_000), "400 million pixels"),
    "PNG header of 400 million pixels": (files.png_header_only(20_000, 20_000), "400 million pixels"),
    "JPEG side over 20,000 px": (files.jpeg_header_only(40_000, 100), "more than 20000 on a side"),
    "PNG side over 20,000 px": (files.png_header_only(2_000_000_000, 2), "more than 20000 on a side"),
    "thumbnail": (files.encoded("PNG", files.picture(40, 30)), "only 40 x 30 px"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_measured_is_refused_in_one_line_with_advice(case: str) -> None:
    """Each refusal is a `PhotoError` of one line that says what to do."""
    data, words = REFUSED[case]
    with pytest.raises(PhotoError, match=words) as caught:
        open_photo(data, name="c1.jpg")
    assert caught.value.advice
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith("c1.jpg")


def test_a_picture_transparent_all_over_is_refused() -> None:
    """There is no visible pixel to measure."""
    rgba = np.dstack([files.picture(), np.zeros((128, 192), np.uint8)])
    out = io.BytesIO()
    Image.fromarray(rgba).save(out, "PNG")
    with pytest.raises(PhotoError, match="transparent all over"):
        open_photo(out.getvalue())


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    """The message names the file and the system's reason."""
    with pytest.raises(PhotoError, match=r"c9\.jpg could not be opened: No such file"):
        open_photo(tmp_path / "c9.jpg")


def test_a_folder_is_no_photo(tmp_path: Path) -> None:
    """A folder is refused like a file that cannot be opened."""
    with pytest.raises(PhotoError, match="could not be opened"):
        open_photo(tmp_path)


def test_a_path_with_a_zero_byte_is_no_photo() -> None:
    """A path no system can hold is refused, not raised as a ValueError."""
    with pytest.raises(PhotoError, match="could not be opened"):
        open_photo("a\0b.jpg")


# ---- crops -----------------------------------------------------------------------------------------------


def test_a_crop_is_taken_at_full_size_coordinates_from_a_reduced_decode() -> None:
    """Box in full-size pixels, pixels of the reduced picture."""
    photo = open_photo(files.encoded("JPEG", files.picture(768, 512)), at_least_px=380)
    linear = crop_linear(photo, (400, 300, 200, 100))
    assert linear.shape == (50, 100, 3)
    assert linear.mean((0, 1)) == pytest.approx([0.515, 0.352, 0.188], abs=0.01)


def test_a_crop_outside_the_picture_is_cut_to_it() -> None:
    """No error, and nothing made up: only the part inside comes back."""
    photo = open_photo(files.encoded())
    assert crop_linear(photo, (-10, 120, 30, 30)).shape == (8, 20, 3)
    assert crop_linear(photo, (500, 500, 10, 10)).shape[:2] == (0, 0)
