"""Plugs whose reading shows: damage is plain, faces the lens, and electrodes are worn only where the plug is called worn."""

from __future__ import annotations

import numpy as np
import pytest

from sample_images.render.plug.spec import FIRING_END
from sample_images.render.scene import VIEWS, Request, compose
from sample_images.render.shown import AS_NEW_TO, AT_THE_GAP, BROKEN, WORN_FROM, amount_of, facing_of, shown_plug, view_of


@pytest.mark.parametrize("reading", FIRING_END)
def test_a_reading_is_strong_enough_to_be_seen(reading: str) -> None:
    """At least 0.4; damage and what is seen at the gap at least 0.6; only views there are."""
    rng = np.random.default_rng(4)
    amounts = [amount_of(rng, reading) for _ in range(200)]
    assert min(amounts) >= (0.6 if reading in AT_THE_GAP | BROKEN else 0.4) and max(amounts) <= 1
    assert {view_of(rng, reading) for _ in range(60)} <= {*VIEWS}


def test_electrodes_are_worn_only_where_the_plug_is_called_worn() -> None:
    """Of fifty plugs each."""
    for k in range(50):
        rng = np.random.default_rng(k)
        assert shown_plug(rng, "train", {"normal": 1.0}).wear <= AS_NEW_TO
        assert shown_plug(rng, "test", {"worn": 0.7}).wear >= WORN_FROM


def test_only_what_the_strap_hides_must_face_the_lens() -> None:
    """A chip and a bridged gap must, soot need not."""
    spec = shown_plug(np.random.default_rng(1), "train", {"nose_piece_missing": 0.8})
    assert facing_of(spec) == spec.open_side
    assert facing_of(shown_plug(np.random.default_rng(1), "train", {"gap_bridged": 0.8})) is not None
    assert facing_of(shown_plug(np.random.default_rng(1), "train", {"carbon_fouled": 0.8})) is None


@pytest.mark.parametrize("pose", ["lie", "stand", "held"])
def test_the_open_side_faces_the_lens_in_an_oblique_view(pose: str) -> None:
    """Seen along the axis, the lens stands within 70 degrees of the open side, on eleven plugs of twelve (the rest lie ill)."""
    spec = shown_plug(np.random.default_rng(3), "train", {"nose_cracked": 0.9})
    towards = []
    for seed in range(12):
        scene = compose(
            Request(
                seed=seed, layout="one", specs=(spec,), view="oblique", pose=pose, facing=spec.open_side,
                references=(), things=(), size_px=(64, 48), detail=0.2,
            )
        )  # fmt: skip
        plug = scene.plugs[0]
        lens = scene.camera.origin_mm - plug.world(np.zeros(3))
        across = lens - plug.axis * (lens @ plug.axis)
        towards.append(float(across @ -plug.strap_direction / np.linalg.norm(across)))
    assert sum(cosine > np.cos(np.deg2rad(70)) for cosine in towards) >= 11
