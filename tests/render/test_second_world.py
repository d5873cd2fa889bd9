"""The second world: same arrays as the first, truth that hangs together, the same seed the same scene."""

from __future__ import annotations

import numpy as np
import pytest

from sample_images.render.mesh import PARTS
from sample_images.render.second_world import scene as second
from sample_images.render.training_world import one_picture

mitsuba = pytest.importorskip("mitsuba", reason="the renderer is not installed")
SIZE = (96, 72)
SEEDS = range(100_000, 100_012)


@pytest.fixture(scope="module")
def pictures() -> dict[int, dict[str, np.ndarray]]:
    """Return a dozen small pictures of the second world by seed."""
    return {seed: one_picture(seed, SIZE, 2, world="second") for seed in SEEDS}


def test_arrays_are_those_of_the_first_world(pictures: dict[int, dict[str, np.ndarray]]) -> None:
    """Names, shapes and types are the first world's, so that both fit into one store."""
    first = one_picture(0, SIZE, 2)
    kinds = {name: (np.shape(value), np.asarray(value).dtype.kind) for name, value in first.items()}
    for picture in pictures.values():
        assert {name: (np.shape(value), np.asarray(value).dtype.kind) for name, value in picture.items()} == kinds


def test_views_and_masks_agree(pictures: dict[int, dict[str, np.ndarray]]) -> None:
    """A plug has a view exactly where its nose shows in at least twelve pixels; without plugs no part of one shows."""
    for picture in pictures.values():
        noses = [((picture["plug"] == k + 1) & (picture["parts"] == PARTS.index("nose"))).sum() for k in range(8)]
        assert [n >= 12 for n in noses] == [bool(v) for v in picture["view"]]
        parts = set(np.unique(picture["parts"][picture["plug"] == 0]))
        assert parts <= {PARTS.index("background"), PARTS.index("sheet")}


def test_the_centre_tip_lies_on_its_plug(pictures: dict[int, dict[str, np.ndarray]]) -> None:
    """Where a plug is alone and its centre electrode shows, the tip's key point lies on it or within three pixels of it."""
    apart = []
    for picture in pictures.values():
        rows, columns = np.nonzero(picture["parts"] == PARTS.index("centre"))
        if picture["count"] == 1 and picture["plug"].max() == 1 and len(rows):
            x, y = picture["keys"][0, 1]
            apart.append(float(np.hypot(columns - x, rows - y).min()))
    assert len(apart) >= 3
    assert max(apart) < 3


def test_the_same_seed_gives_the_same_scene() -> None:
    """Geometry, light and camera come from the seed alone; another seed gives others."""
    one, same, other = (second.compose(seed, SIZE) for seed in (7, 7, 8))
    assert np.array_equal(one.mesh.vertices, same.mesh.vertices)
    assert np.array_equal(one.sky, same.sky)
    assert one.mesh.vertices.shape != other.mesh.vertices.shape


def test_one_seed_in_ten_is_for_validation() -> None:
    """Seeds that end in nine are kept for validation."""
    assert [seed for seed in range(20) if second.split_of(seed) == "val"] == [9, 19]
