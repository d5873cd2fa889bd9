"""Shared by the generator's tests: the renderer where it is installed, one small scene rendered once."""

from __future__ import annotations

import numpy as np
import pytest

from sample_images.render.plug.spec import random_spec
from sample_images.render.scene import Request, compose

SIZE = (160, 120)


@pytest.fixture(scope="session")
def renderer():
    """The renderer module, or a skip that says why."""
    pytest.importorskip("mitsuba", reason="mitsuba is not installed; pip install mitsuba")
    from sample_images.render import renderer as module

    try:
        module.mitsuba()
    except module.RendererMissingError as error:
        pytest.skip(str(error))
    return module


@pytest.fixture(scope="session")
def side_scene():
    """One plug lying on a plain table, seen from the side, no reference, nothing in the way."""
    rng = np.random.default_rng(3)
    spec = random_spec(rng, readings={"normal": 1.0}, thread="M14x1.25", centre="nickel", strap="j", gap_mm=0.9, odd=False)
    return compose(
        Request(
            seed=11, specs=(spec,), pose="lie", view="side", background="uniform", light="overcast", references=(), things=(),
            width_mm=30.0, fov_deg=20.0, aperture_mm=0.0, roll_deg=0.0, tidy=True, detail=0.4, size_px=SIZE,
        )
    )  # fmt: skip


@pytest.fixture(scope="session")
def side_labels(renderer, side_scene):
    """Label maps of `side_scene`."""
    return renderer.labels(side_scene.mesh, side_scene.camera)
