"""Close-ups of single plugs whose readings are known: what the surface net learns from; never committed.

    python -m sample_images.render.training_world --world close --size 448x336 --seeds 0:20000 --workers 14 --gpu 0 --out DIR

The readings of the firing end are shown equally often, each plain to see (`shown`), a quarter of the plugs with a second one
beside the first. Every thirteenth picture shows no firing end, but other things, or a plug's wrong end. Arrays of a shard, n
pictures of H x W:

    image (n, H, W, 3) float16 linear sRGB, robust mean 0.18    fire (n, H, W) bool, nose, electrodes and rim of the plug, or
    white (n, 3) float32, a white sheet facing the lens              a disc anywhere where there is none
    seed, family, split (n,)                                    amounts (n, 22) float32, 0-1, order `FIRING_END`
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sample_images.render.draw import Rng, chance, ratio, uniform
from sample_images.render.families import family_of, split_of
from sample_images.render.mesh import PARTS
from sample_images.render.plug.spec import FIRING_END, PlugSpec
from sample_images.render.shown import amount_of, facing_of, shown_plug, view_of

FIRE = ("nose", "centre", "strap", "rim")
"""Parts that the net is to see."""

WIDTH_MM = (16.0, 34.0)
"""Range of the view's width at the plug: nose and electrodes take a quarter of it to the half."""
WIDTH_WITHOUT_MM = (14.0, 70.0)

MIXED = 0.25
WITHOUT = 13
"""Every so manyth picture shows no firing end."""
WRONG_END = 0.3
"""Share of those in which it is a plug from its wrong end."""
DISC = (0.10, 0.24)
"""Radius of the disc looked at there, in heights of the picture."""


def one_picture(seed: int, size_px: tuple[int, int], spp: int, detail: float) -> dict[str, Any]:
    """Return one close-up's arrays, as listed in the module text, without the leading n."""
    from sample_images.render import renderer
    from sample_images.render.scene import compose
    from sample_images.render.training_world import level

    rng = np.random.default_rng([seed, 93])
    without = seed % WITHOUT == WITHOUT - 1
    readings = {} if without else readings_of(seed, rng)
    scene = compose(_without(seed, rng, size_px, detail) if without else _with(seed, rng, readings, size_px, detail))
    image, labels = renderer.render(scene.mesh, scene.light.radiance, scene.camera, spp=spp, seed=seed % 2**31)
    levelled = level(image)
    gain = float(np.median(levelled.astype(np.float64)) / max(float(np.median(image)), 1e-9))
    fire = np.isin(labels.part, [PARTS.index(name) for name in FIRE]) & (labels.plug == 1)
    return {
        "image": levelled, "fire": disc(rng, size_px) if without else fire,
        "white": (gain * scene.light.colour_on(-scene.camera.forward)).astype(np.float32),
        "amounts": np.array([readings.get(name, 0.0) for name in FIRING_END], np.float32),
        "seed": np.int64(seed), "family": scene.family, "split": split_of(seed),
    }  # fmt: skip


def readings_of(seed: int, rng: Rng) -> dict[str, float]:
    """Return the readings of a seed's plug with their amounts: the first by turns, some with a second."""
    first = FIRING_END[seed % len(FIRING_END)]
    readings = {first: amount_of(rng, first)}
    if first != "normal" and chance(rng, MIXED):
        readings.setdefault(str(rng.choice(FIRING_END[1:])), uniform(rng, 0.2, 0.5) * readings[first])
    return readings


def plug_of(seed: int, rng: Rng, readings: dict[str, float]) -> PlugSpec:
    """Return the plug of a seed; proportions may be odd, colours never are."""
    return replace(shown_plug(rng, family_of(seed).plug_family, readings, odd=None), odd=None)


def disc(rng: Rng, size_px: tuple[int, int]) -> NDArray[np.bool_]:
    """Return a disc anywhere in the picture, bool (h, w): what is looked at where there is no firing end."""
    width, height = size_px
    y, x = np.mgrid[:height, :width]
    radius = uniform(rng, *DISC) * height
    return np.asarray(np.hypot(x - uniform(rng, 0.25, 0.75) * width, y - uniform(rng, 0.25, 0.75) * height) < radius)


def _with(seed: int, rng: Rng, readings: dict[str, float], size_px: tuple[int, int], detail: float) -> Any:
    from sample_images.render.scene import Request

    spec = plug_of(seed, rng, readings)
    return Request(
        seed=seed, layout="one", specs=(spec,), view=view_of(rng, max(readings, key=lambda name: readings[name])),
        facing=facing_of(spec), width_mm=ratio(rng, *WIDTH_MM), size_px=size_px, detail=detail, tidy=chance(rng, 0.5),
    )  # fmt: skip


def _without(seed: int, rng: Rng, size_px: tuple[int, int], detail: float) -> Any:
    from sample_images.render.scene import Request

    width = ratio(rng, *WIDTH_WITHOUT_MM)
    if chance(rng, WRONG_END):
        return Request(seed=seed, layout="one", view="back", pose="lie", size_px=size_px, detail=detail)
    return Request(seed=seed, layout="none", width_mm=width, size_px=size_px, detail=detail)
