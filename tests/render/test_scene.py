"""Scenes: what is asked for is there, the same seed gives the same scene, the impossible is refused."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from sample_images.render import families
from sample_images.render.scene import Request, RequestError, compose


def test_same_seed_gives_the_same_scene():
    """Composing twice from one seed gives the same vertices, light and camera."""
    first, second = compose(Request(seed=5, detail=0.3)), compose(Request(seed=5, detail=0.3))
    assert np.array_equal(first.mesh.vertices, second.mesh.vertices)
    assert np.array_equal(first.light.radiance, second.light.radiance)
    assert np.array_equal(first.camera.origin_mm, second.camera.origin_mm)


def test_asking_for_another_light_leaves_the_rest(side_scene):
    """Another lamp changes no vertex and no camera."""
    other = compose(replace(side_scene.request, light="torch"))
    assert np.array_equal(other.mesh.vertices, side_scene.mesh.vertices)
    assert not np.array_equal(other.light.radiance, side_scene.light.radiance)


@pytest.mark.parametrize("count", [2, 5, 8])
def test_a_row_holds_the_plugs_asked_for_in_order_along_the_picture(count):
    """Plugs of a tidy row are numbered left to right."""
    scene = compose(
        Request(seed=7, layout="row", count=count, pose="lie", tidy=True, roll_deg=0.0, detail=0.3, things=(), references=())
    )
    x = [scene.camera.project(p.world(np.zeros(3)))[0] for p in scene.plugs]
    assert [p.number for p in scene.plugs] == list(range(1, count + 1))
    assert x == sorted(x)


def test_a_scene_without_plugs_has_no_plug_faces():
    """Layout "none" leaves every face with plug number 0."""
    scene = compose(Request(seed=8, layout="none", detail=0.3))
    assert not scene.plugs
    assert not scene.mesh.plug.any()


def test_plugs_of_one_setting_share_table_and_light():
    """Two seeds with one setting seed lie on the same table in the same lamp light."""
    a, b = (
        compose(Request(seed=s, setting_seed=42, detail=0.3, view="side", pose="lie", layout="one", roll_deg=0.0))
        for s in (20, 21)
    )
    assert a.kinds["background"] == b.kinds["background"]
    assert a.light.kind == b.light.kind
    assert a.camera.fov_deg == pytest.approx(b.camera.fov_deg)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"layout": "heap"}, "layout 'heap' is not known; use one of"),
        ({"view": "whole", "pose": "stand"}, "view 'whole' shows a lying plug"),
        ({"count": 12}, "scene with 12 plugs cannot be composed; ask for 0 to 8"),
        ({"layout": "none", "count": 2}, "layout 'none' holds no plug, 2 asked for"),
        ({"background": "lava"}, "background 'lava' is not known"),
        ({"references": ("ruler",)}, "reference 'ruler' is not known"),
        ({"things": ("cat",)}, "thing 'cat' is not known"),
    ],
)
def test_impossible_requests_are_refused_in_one_line(given, message):
    """What cannot be is refused, saying what was found and what to do."""
    with pytest.raises(RequestError, match=message) as error:
        Request(seed=1, **given)
    assert "\n" not in str(error.value)


def test_a_seed_of_no_split_is_refused():
    """A seed outside every range belongs to no split."""
    with pytest.raises(ValueError, match="seed 15000000 belongs to no split"):
        Request(seed=15_000_000)


def test_splits_share_no_seed():
    """The seed ranges of train, val, test and sample do not overlap."""
    ranges = sorted(families.SEEDS.values())
    assert all(a[1] <= b[0] for a, b in pairwise(ranges))


@pytest.mark.parametrize("kind", ["backgrounds", "lights", "clutter"])
def test_the_test_family_shares_no_kind_with_training(kind):
    """No table, light or thing of the held-out family is ever drawn for training."""
    assert not set(getattr(families.TRAIN, kind)) & set(getattr(families.TEST, kind))


def test_the_test_family_has_its_own_lenses_and_plugs():
    """Fields of view do not overlap and the plug styles are another family's."""
    assert families.TRAIN.fov_deg[1] <= families.TEST.fov_deg[0]
    assert families.TRAIN.plug_family != families.TEST.plug_family
