"""The features of a firing end: colours of drawn noses come out, what is not there is a gap, and light and size do not matter."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plugread.colour import lab_to_hex
from plugread.reading.features import NAMES, feature_vector, root_histogram
from plugread.reading.portrait import fingerprint
from plugread.records import PARTS, FiringEnd, PartMap, Photo, White
from tests.reading.ends import measures

NO_LIGHT = White("paper", "white paper", np.ones(3), np.ones(3), np.eye(3), True, (2.0, 1.0, 1.0))
NOSE, STRAP = (62.0, 8.0, 20.0), (30.0, 2.0, 4.0)


def rgb(lab: tuple[float, float, float]) -> list[int]:
    text = lab_to_hex(lab)
    return [int(text[k : k + 2], 16) for k in (1, 3, 5)]


def drawn(side: int = 400, *, strap: bool = True) -> tuple[Photo, FiringEnd]:
    """A disc of one colour, a bar of another above it, on grey."""
    y, x = np.mgrid[:side, :side] / side
    nose = np.hypot(x - 0.5, y - 0.6) < 0.15
    bar = (abs(y - 0.3) < 0.04) & (abs(x - 0.5) < 0.2) & strap
    picture = np.full((side, side, 3), 128, np.uint8)
    picture[nose], picture[bar] = rgb(NOSE), rgb(STRAP)
    cells = np.zeros((len(PARTS), 100, 100), np.float32)
    step = side / 100
    for name, mask in (("nose", nose), ("strap", bar)):
        cells[PARTS.index(name)] = mask[:: int(step), :: int(step)]
    box = (int(0.35 * side), int(0.45 * side), int(0.3 * side), int(0.3 * side))
    photo = Photo("drawn.jpg", picture, 1, (side, side), np.eye(3))
    return photo, FiringEnd(box, "side", {"side": 1.0}, PartMap(cells, 0.0, 0.0, step), {}, 0.9, 0.9)


def features(photo: Photo, end: FiringEnd, white: White = NO_LIGHT) -> dict[str, float]:
    found = feature_vector(photo, end, white, measures(NOSE, gloss=0.2, crust=0.1, specks={"dark": 3, "metal": 0, "white": 0}))
    return dict(zip(NAMES, found.tolist(), strict=True))


def test_colours_of_nose_and_strap_come_out() -> None:
    """The middle of the nose's colours and of the strap's are those drawn, to half a unit."""
    found = features(*drawn())
    assert [found[f"nose_{axis}_50"] for axis in "lab"] == pytest.approx(NOSE, abs=0.6)
    assert [found[f"strap_{axis}"] for axis in "lab"] == pytest.approx(STRAP, abs=0.8)


def test_what_was_not_measured_is_a_gap() -> None:
    """No strap, no gap measured: NaN there and nowhere else."""
    found = features(*drawn(strap=False))
    beside = {f"{part}_{name}" for part in ("strap", "centre", "rim") for name in ("l", "a", "b", "l_range")}
    gaps = {name for name, value in found.items() if np.isnan(value)}
    assert gaps == beside | {"gap_mm", "patchiness", "two_lights", "shade_depth", "strap_share", "centre_share"}


def test_a_nose_too_small_to_measure_is_all_gaps() -> None:
    """A nose of a few pixels gives no colour features."""
    photo, end = drawn()
    tiny = replace(end, parts=replace(end.parts, probability=np.zeros_like(end.parts.probability)))
    assert all(np.isnan(value) for name, value in features(photo, tiny).items() if name.startswith(("nose_", "strap_l")))


def test_size_of_the_picture_does_not_matter() -> None:
    """The same drawing at three times the size gives the same colours."""
    small, large = features(*drawn(400)), features(*drawn(1200))
    for name in NAMES:
        if name.startswith("nose_"):
            assert small[name] == pytest.approx(large[name], abs=0.6)


def test_light_taken_out_does_not_matter() -> None:
    """A picture twice as dark, with a white that says so, gives the same colours."""
    photo, end = drawn()
    from plugread.colour import srgb_decode, srgb_encode

    dark = np.round(255 * srgb_encode(srgb_decode(photo.rgb / 255.0) / 2)).astype(np.uint8)
    half = replace(NO_LIGHT, gains=np.full(3, 2.0))
    one, other = features(photo, end), features(replace(photo, rgb=dark), end, half)
    assert [one[f"nose_{axis}_50"] for axis in "lab"] == pytest.approx([other[f"nose_{axis}_50"] for axis in "lab"], abs=1.0)


def test_histograms_are_roots_of_shares() -> None:
    """Squares of a rooted histogram sum to one; what lies outside counts in the end bins."""
    found = root_histogram(np.array([-50.0, 5.0, 5.0, 200.0]), (0.0, 100.0))
    assert (found**2).tolist() == pytest.approx([0.75, 0, 0, 0, 0, 0, 0, 0, 0, 0.25])


def test_names_are_told_apart() -> None:
    """No feature has the name of another."""
    assert len(set(NAMES)) == len(NAMES)


def test_a_picture_saved_again_has_nearly_the_same_fingerprint() -> None:
    """Brighter and a little smaller changes few bits; another picture changes many."""
    rng = np.random.default_rng(2)
    photo, end = drawn()
    grain = np.kron(rng.integers(-40, 40, (20, 20, 1)), np.ones((20, 20, 1)))
    other_grain = np.kron(rng.integers(-40, 40, (20, 20, 1)), np.ones((20, 20, 1)))
    one = replace(photo, rgb=np.clip(photo.rgb + grain, 0, 255).astype(np.uint8))
    again = replace(photo, rgb=np.clip(1.1 * (photo.rgb + grain) + rng.normal(0, 2, photo.rgb.shape), 0, 255).astype(np.uint8))
    another = replace(photo, rgb=np.clip(photo.rgb + other_grain, 0, 255).astype(np.uint8))
    assert (fingerprint(one, end) != fingerprint(again, end)).sum() <= 20
    assert (fingerprint(one, end) != fingerprint(another, end)).sum() > 60
