"""Close-ups of single plugs whose readings are known: what the surface net learns from; never committed.

    python -m sample_images.render.training_world --world close --size 384x288 --seeds 0:20000 --workers 14 --gpu 0 --out DIR

The readings of the firing end are shown equally often, a quarter of the plugs with a second one beside the first. Arrays of a
shard, n pictures of H x W:

    image (n, H, W, 3) float16 linear sRGB, robust mean 0.18    fire (n, H, W) bool, nose, electrodes and rim of the plug
    white (n, 3) float32, a white sheet facing the lens         amounts (n, 22) float32, 0-1, order `FIRING_END`
    seed, family, split (n,)
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from sample_images.render.draw import Rng, chance, ratio, uniform
from sample_images.render.families import family_of, split_of
from sample_images.render.mesh import PARTS
from sample_images.render.plug.spec import FIRING_END, PlugSpec, random_spec

FIRE = ("nose", "centre", "strap", "rim")
"""Parts that the net is to see."""

VIEWS = ("side", "oblique", "end", "side")
WIDTH_MM = (24.0, 48.0)
"""Range of the view's width at the plug: a firing end takes a quarter of it to the half."""

MIXED = 0.25


def one_picture(seed: int, size_px: tuple[int, int], spp: int, detail: float) -> dict[str, Any]:
    """Return one close-up's arrays, as listed in the module text, without the leading n."""
    from sample_images.render import renderer
    from sample_images.render.scene import Request, compose
    from sample_images.render.training_world import level

    rng = np.random.default_rng([seed, 93])
    spec = plug_of(seed, rng)
    scene = compose(
        Request(
            seed=seed, layout="one", specs=(spec,), view=VIEWS[int(rng.integers(len(VIEWS)))], width_mm=ratio(rng, *WIDTH_MM),
            size_px=size_px, detail=detail, tidy=chance(rng, 0.5),
        )
    )  # fmt: skip
    image, labels = renderer.render(scene.mesh, scene.light.radiance, scene.camera, spp=spp, seed=seed % 2**31)
    levelled = level(image)
    gain = float(np.median(levelled.astype(np.float64)) / max(float(np.median(image)), 1e-9))
    fire = np.isin(labels.part, [PARTS.index(name) for name in FIRE]) & (labels.plug == 1)
    return {
        "image": levelled, "fire": fire, "white": (gain * scene.light.colour_on(-scene.camera.forward)).astype(np.float32),
        "amounts": np.array([spec.readings.get(name, 0.0) for name in FIRING_END], np.float32),
        "seed": np.int64(seed), "family": scene.family, "split": split_of(seed),
    }  # fmt: skip


def plug_of(seed: int, rng: Rng) -> PlugSpec:
    """Return the plug of a seed: its reading by turns, some with a second; proportions may be odd, colours never are."""
    first = FIRING_END[seed % len(FIRING_END)]
    readings = {first: uniform(rng, 0.4, 1.0)}
    if first != "normal" and chance(rng, MIXED):
        readings.setdefault(str(rng.choice(FIRING_END[1:])), uniform(rng, 0.2, 0.5) * readings[first])
    return replace(random_spec(rng, family=family_of(seed).plug_family, readings=readings), odd=None)
