"""The painted state of a surface: colour, material and relief, laid down coat by coat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_images.render.noise import smooth

Array = NDArray[np.float64]
Colour = tuple[float, float, float]

SLOTS = ("roughness", "metallic", "clearcoat", "sheen", "flatness")


@dataclass
class Skin:
    """Colour (rows, columns, 3) linear RGB; the other fields (rows, columns), 0-1; `height` is relief in mm."""

    colour: Array
    roughness: Array
    metallic: Array
    clearcoat: Array
    sheen: Array
    flatness: Array
    height: Array

    @classmethod
    def bare(
        cls,
        shape: tuple[int, int],
        colour: Colour,
        *,
        roughness: float = 0.5,
        metallic: float = 0.0,
        clearcoat: float = 0.0,
        flatness: float = 0.0,
    ) -> Skin:
        """Return an even coat of one colour."""
        full = [np.full(shape, v) for v in (roughness, metallic, clearcoat, 0.0, flatness, 0.0)]
        return cls(np.broadcast_to(np.asarray(colour, float), (*shape, 3)).copy(), *full)

    def cover(
        self, weight: Array, colour: Colour | Array | None = None, *, relief: Array | float = 0.0, **slots: Array | float
    ) -> None:
        """Lay an opaque coat of `weight` 0-1; slots left out stay as they are. `relief` (mm) is added by weight."""
        w = np.clip(weight, 0, 1)
        if colour is not None:
            self.colour += (np.asarray(colour) - self.colour) * w[..., None]
        for name, value in slots.items():
            if name not in SLOTS:
                raise TypeError(f"{name} is not one of {SLOTS}")
            old = getattr(self, name)
            setattr(self, name, old + (value - old) * w)
        self.height = self.height + relief * w

    def film(self, weight: Array, tint: Colour | Array, **slots: Array | float) -> None:
        """Lay a clear coloured film: what lies below shows through, multiplied by `tint`."""
        w = np.clip(weight, 0, 1)
        self.colour *= 1 + (np.asarray(tint) - 1) * w[..., None]
        self.cover(w, None, **slots)

    def shade(self, factor: Array) -> None:
        """Multiply the colour by `factor` of shape (rows, columns)."""
        self.colour *= factor[..., None]


def coverage(noise: Array, amount: float | Array, soft: float = 0.6) -> Array:
    """Return the weight 0-1 of a deposit that covers a share `amount` of the surface, patchy by `noise` (std 1)."""
    threshold = 2.3 - 4.9 * np.asarray(amount, float)
    return smooth(noise, threshold - soft, threshold + soft)


def varied(colour: Colour, noise: Array, share: float = 0.12, warm: float = 0.0) -> Array:
    """Return `colour` made lighter and darker by `noise`, and warmer where it is darker by `warm`."""
    c = np.asarray(colour) * np.exp(share * noise)[..., None]
    return np.clip(c * np.exp(warm * noise[..., None] * np.array([-0.5, 0.0, 0.7])), 0.004, 0.95)
