"""Which seeds and which kinds of scene belong to training, validation and the held-out test family.

Training and validation draw from the same kinds, with disjoint seeds: a plug's shape, an engine's row and the light all
come from the scene's seed, so no plug, engine or light stands in both. The test family has tables, lights, clutter,
lenses and plug styles that training never draws; nothing may be tuned on it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

SEEDS: Mapping[str, tuple[int, int]] = {
    "train": (0, 10_000_000),
    "val": (10_000_000, 11_000_000),
    "test": (20_000_000, 21_000_000),
    "sample": (30_000_000, 31_000_000),
}
"""Half-open ranges of seeds, by split; "sample" is the committed set, drawn from the training kinds."""


@dataclass(frozen=True)
class Family:
    """Kinds a family draws from, with weights; `fov_deg` is the range of horizontal fields of view."""

    name: str
    backgrounds: Mapping[str, float]
    lights: Mapping[str, float]
    clutter: Mapping[str, float]
    fov_deg: tuple[float, float]
    plug_family: str


TRAIN = Family(
    "train",
    backgrounds={
        "wood": 3, "steel": 2.5, "cardboard": 1.5, "cloth": 2.5, "painted": 2, "concrete": 1.5, "checker": 1, "stripes": 1,
        "print": 1, "rubber": 2, "uniform": 4, "speckle": 1, "graph": 1, "foil": 0.8,
    },
    lights={"sun": 4, "shade": 1.5, "overcast": 1, "lamp": 2, "mixed": 1.5, "flash": 1.5, "torch": 1, "window": 2,
            "soft_box": 0.5},
    clutter={
        "bolt": 3, "screw": 2, "nut": 2, "washer": 2, "socket": 2, "box": 1, "brick": 0.5, "ball": 1, "walnut": 1.5, "pen": 2,
        "tap": 1, "drill": 1, "rivet": 1, "coin": 1, "wire": 1, "finger": 2.5, "bracket": 1, "upper_end": 3, "page": 1,
        "rag": 1.5, "white_block": 2, "washer_bolt": 3, "fitting": 2.5, "glow_pin": 2.5, "lug": 1.5,
    },
    fov_deg=(14.0, 58.0),
    plug_family="train",
)  # fmt: skip

TEST = Family(
    "test",
    backgrounds={"planks": 1, "denim": 1, "terrazzo": 1, "tiles": 1, "tread": 1, "gravel": 1},
    lights={"tubes": 1, "ring": 1, "low_sun": 1},
    clutter={"spring": 1, "spanner": 1, "screwdriver": 1, "boot": 1, "bottle_cap": 1, "injector": 1.5},
    fov_deg=(58.0, 74.0),
    plug_family="test",
)


def split_of(seed: int) -> str:
    """Return the split a seed belongs to.

    Raises
    ------
    ValueError : if no split holds the seed.
    """
    for name, (low, high) in SEEDS.items():
        if low <= seed < high:
            return name
    ranges = ", ".join(f"{name} {low}-{high - 1}" for name, (low, high) in SEEDS.items())
    raise ValueError(f"seed {seed} belongs to no split; the splits are: {ranges}")


def family_of(seed: int) -> Family:
    """Return the family a seed's scene is drawn from."""
    return TEST if split_of(seed) == "test" else TRAIN
