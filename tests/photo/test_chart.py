"""A 24-patch chart in the picture: found, used, and never the end of the process where there is none."""

from __future__ import annotations

import subprocess
import sys

import cv2
import numpy as np
import pytest

from plugread.colour import delta_e_2000, linear_srgb_to_lab, srgb_encode
from plugread.photo.chart import fit_chart, white_from_chart
from plugread.photo.references import load_references
from plugread.photo.white import find_white
from plugread.pixels import apply_white
from plugread.records import Photo

LAMP = np.array([1.25, 1.0, 0.7])


def _photo(light: np.ndarray, tone: float = 1.0, *, turn_deg: float = 6.0) -> Photo:
    """A chart on a brown table, turned a little, under a light and a tone curve."""
    patches = np.clip(load_references().chart_rgb, 0.002, 1).reshape(4, 6, 3)
    chart = np.full((4 * 70 + 10, 6 * 70 + 10, 3), 0.03)
    for row in range(4):
        for column in range(6):
            chart[10 + 70 * row : 70 + 70 * row, 10 + 70 * column : 70 + 70 * column] = patches[row, column]
    table = np.full((480, 640, 3), (0.25, 0.16, 0.09))
    table *= np.exp(np.random.default_rng(0).normal(0, 0.05, (480, 640, 1)))
    move = cv2.getRotationMatrix2D((215, 145), turn_deg, 0.95)
    move[:, 2] += (105, 95)
    inside = cv2.warpAffine(np.ones(chart.shape[:2]), move, (640, 480))[..., None] > 0.5
    scene = np.where(inside, cv2.warpAffine(chart, move, (640, 480)), table)
    codes = srgb_encode(np.clip(scene * light * 0.8, 0, 1) ** tone) * 255
    noisy = codes + np.random.default_rng(1).normal(0, 1, codes.shape)
    return Photo("chart.jpg", np.clip(noisy, 0, 255).round().astype(np.uint8), 1, (640, 480), np.eye(3))


@pytest.mark.parametrize("tone", [1.0, 1.15])
def test_a_chart_is_found_and_brings_its_patches_home(tone: float) -> None:
    """Under a lamp and a tone curve the patches come back within 2 dE00 on average."""
    photo = _photo(LAMP, tone)
    white = find_white(photo, ())
    assert white.detail == "24-patch colour chart"
    known = load_references().chart_rgb
    seen = (np.clip(known, 0.002, 1) * LAMP * 0.8) ** tone
    inside = ((known > 0.002) & (known < 1)).all(1)
    difference = delta_e_2000(linear_srgb_to_lab(apply_white(white, seen)), linear_srgb_to_lab(known))[inside]
    assert difference.mean() < 2


def test_a_chart_keeps_greys_grey() -> None:
    """The 3x3's rows sum to one."""
    white = white_from_chart(_photo(LAMP))
    assert white is not None
    assert white.matrix.sum(1) == pytest.approx([1, 1, 1])


def test_many_colours_without_a_chart_give_none() -> None:
    """Coloured blocks are searched and nothing is made up; the process lives (a failed search must not be asked for results)."""
    code = (
        "import numpy as np\n"
        "from plugread.photo.chart import white_from_chart\n"
        "from plugread.records import Photo\n"
        "for seed in range(4):\n"
        "    rng = np.random.default_rng(seed)\n"
        "    blocks = np.kron(rng.integers(0, 256, (6, 8, 3)), np.ones((60, 60, 1))).astype(np.uint8)\n"
        "    assert white_from_chart(Photo('x', blocks, 1, (480, 360), np.eye(3))) is None\n"
        "print('alive')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stdout.strip() == "alive", done.stderr


def _cut(photo: Photo, left: int, top: int, right: int, bottom: int) -> Photo:
    rgb = np.ascontiguousarray(photo.rgb[top:bottom, left:right])
    return Photo("cut.jpg", rgb, 1, (rgb.shape[1], rgb.shape[0]), np.eye(3))


@pytest.mark.parametrize("turn_deg", [0.0, 35.0, 90.0, 180.0, 250.0])
def test_a_chart_is_found_whichever_way_it_lies(turn_deg: float) -> None:
    """Turned about, the same chart gives the same gains within 5 %."""
    photo, upright = _photo(LAMP, turn_deg=turn_deg), white_from_chart(_photo(LAMP))
    white = white_from_chart(photo)
    assert white is not None
    assert upright is not None
    assert white.gains == pytest.approx(upright.gains, rel=0.05)


@pytest.mark.parametrize("shrink", [0.3, 0.22])
def test_a_small_chart_is_found(shrink: float) -> None:
    """Fields of 20 and 14 pixels serve as well."""
    photo = _photo(LAMP)
    small = cv2.resize(photo.rgb, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    rgb = np.full_like(photo.rgb, (120, 90, 70))
    rgb[100 : 100 + small.shape[0], 200 : 200 + small.shape[1]] = small
    white = white_from_chart(Photo("small", rgb, 1, (640, 480), np.eye(3)))
    assert white is not None
    assert white.gains[0] / white.gains[2] == pytest.approx(LAMP[2] / LAMP[0], rel=0.1)


def test_a_chart_cut_off_by_the_frame_serves() -> None:
    """Without its right-hand third and its black it still takes the lamp out: gains within 8 % of the whole chart's."""
    whole, cut = white_from_chart(_photo(LAMP)), white_from_chart(_cut(_photo(LAMP), 0, 0, 390, 480))
    assert whole is not None
    assert cut is not None
    assert cut.gains == pytest.approx(whole.gains, rel=0.08)


def test_two_rows_of_a_chart_give_its_gains_and_say_so() -> None:
    """With no neutral in the frame the colours alone give the light's hue, and `why` says to show the whole chart."""
    white = white_from_chart(_cut(_photo(LAMP, turn_deg=0.0), 0, 0, 640, 255))
    assert white is not None
    assert white.why is not None
    assert "only part of the colour chart" in white.why
    assert white.gains[0] / white.gains[2] == pytest.approx(LAMP[2] / LAMP[0], rel=0.12)


def test_a_mirrored_chart_is_no_chart() -> None:
    """The published order runs one way round; its mirror image is another thing."""
    photo = _photo(LAMP)
    mirrored = Photo("m", np.ascontiguousarray(photo.rgb[:, ::-1]), 1, photo.size, np.eye(3))
    assert white_from_chart(mirrored) is None


def test_a_chart_shuffled_is_no_chart() -> None:
    """Twenty-four fields of the right colours in another order are refused."""
    rng = np.random.default_rng(5)
    colours = np.clip(load_references().chart_rgb, 0.002, 1)[rng.permutation(24)].reshape(4, 6, 3)
    fields = np.full((300, 440, 3), 0.03)
    for row in range(4):
        for column in range(6):
            fields[10 + 70 * row : 70 + 70 * row, 10 + 70 * column : 70 + 70 * column] = colours[row, column]
    codes = np.round(srgb_encode(fields) * 255).astype(np.uint8)
    assert white_from_chart(Photo("s", codes, 1, (440, 300), np.eye(3))) is None


def test_covered_patches_are_left_out() -> None:
    """Five patches hidden by a dark plug: the chart still fits, and nearly as without them."""
    known = load_references()
    codes = np.clip(srgb_encode(np.clip(known.chart_rgb * 0.8, 0, 1)) * 255, 0, 249)
    covered = codes.copy()
    covered[[0, 1, 6, 7, 12]] = 40.0
    photo = Photo("chart", np.zeros((8, 8, 3), np.uint8), 1, (8, 8), np.eye(3))
    whole, part = fit_chart(photo, codes, None), fit_chart(photo, covered, None)
    assert whole is not None
    assert part is not None
    assert part.matrix == pytest.approx(whole.matrix, abs=0.05)


def test_a_black_picture_is_no_chart() -> None:
    """Patches without any light give no correction and no error."""
    photo = Photo("chart", np.zeros((8, 8, 3), np.uint8), 1, (8, 8), np.eye(3))
    assert fit_chart(photo, np.zeros((24, 3)), None) is None
