"""Random draws that many modules share: ranges, choices, colours of common stuff in linear sRGB.

Reflectances of the palette are our estimates from photographs of such things, not measurements.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Rng = np.random.Generator

STUFF: Mapping[str, tuple[float, float, float]] = {
    "white": (0.80, 0.79, 0.76), "cream": (0.70, 0.60, 0.46), "tan": (0.45, 0.29, 0.16), "brown": (0.20, 0.105, 0.05),
    "black": (0.022, 0.021, 0.020), "dark_grey": (0.09, 0.09, 0.09), "grey": (0.30, 0.30, 0.29), "light_grey": (0.55, 0.55, 0.54),
    "red": (0.42, 0.05, 0.04), "orange": (0.60, 0.22, 0.04), "yellow": (0.66, 0.48, 0.06), "green": (0.07, 0.22, 0.09),
    "blue": (0.05, 0.12, 0.38), "teal": (0.05, 0.24, 0.26), "rust": (0.26, 0.09, 0.035), "pine": (0.56, 0.38, 0.20),
    "oak": (0.34, 0.20, 0.095), "walnut": (0.15, 0.085, 0.045), "kraft": (0.40, 0.26, 0.14), "pink": (0.60, 0.33, 0.28),
}  # fmt: skip

METALS: Mapping[str, tuple[float, float, float]] = {
    "zinc": (0.56, 0.56, 0.57), "steel": (0.46, 0.44, 0.42), "nickel": (0.60, 0.56, 0.50), "black_oxide": (0.07, 0.07, 0.075),
    "brass": (0.70, 0.50, 0.22), "copper": (0.72, 0.38, 0.25), "aluminium": (0.75, 0.75, 0.76), "yellow_zinc": (0.62, 0.50, 0.26),
}  # fmt: skip


def uniform(rng: Rng, low: float, high: float) -> float:
    """Return a number between `low` and `high`."""
    return float(rng.uniform(low, high))


def ratio(rng: Rng, low: float, high: float) -> float:
    """Return a number between `low` and `high`, even on a logarithmic scale."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def chance(rng: Rng, share: float) -> bool:
    """Return True in a `share` of the draws."""
    return bool(rng.random() < share)


def weighted(rng: Rng, weights: Mapping[str, float]) -> str:
    """Return one of the keys, as often as its weight says."""
    names = list(weights)
    p = np.array([weights[n] for n in names], float)
    return names[int(rng.choice(len(names), p=p / p.sum()))]


def one_of(rng: Rng, names: tuple[str, ...]) -> str:
    """Return one of `names`."""
    return names[int(rng.integers(len(names)))]


def stuff(rng: Rng, *names: str) -> Array:
    """Return a reflectance near one of the named (or any) entries of `STUFF`; one in twelve is any colour at all."""
    base = rng.uniform(0.02, 0.8, 3) if not names and chance(rng, 0.08) else np.array(STUFF[one_of(rng, names or tuple(STUFF))])
    return np.clip(base * np.exp(rng.normal(0, 0.22)) * np.exp(rng.normal(0, 0.06, 3)), 0.012, 0.88)


def metal(rng: Rng, *names: str) -> Array:
    """Return a metal's reflectance near one of the named (or any) entries of `METALS`."""
    base = np.array(METALS[one_of(rng, names or tuple(METALS))])
    return np.clip(base * np.exp(rng.normal(0, 0.12)) * np.exp(rng.normal(0, 0.03, 3)), 0.03, 0.92)


def mix(a: Array, b: Array, share: Array | float) -> Array:
    """Return colours between `a` and `b` (..., 3) by `share` (...)."""
    w = np.asarray(share)[..., None]
    return np.asarray(a) * (1 - w) + np.asarray(b) * w
