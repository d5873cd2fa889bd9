"""The random draws of one coat or damage."""

from __future__ import annotations

from zlib import crc32

import numpy as np

from sample_images.render.plug.shape import PlugSpec


def draws(spec: PlugSpec, what: str) -> np.random.Generator:
    """Return the generator of one coat: the same for every piece, so that a coat runs on across the plug."""
    return np.random.default_rng([spec.seed, crc32(what.encode())])
