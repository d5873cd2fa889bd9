"""Light from all around as one environment picture: sky, room, windows, lamps, sun, torch, flash.

Everything far and near is painted into the same picture, so that one renderer serves all lights. Radiance is relative;
the phone's exposure sets the level. Colours of lamps follow the black body (Kim's cubic fit of the Planckian locus,
as printed in US patent 7024034 B2; from memory) and are linear sRGB.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_images.render.camera import frame, unit
from sample_images.render.draw import Rng, chance, ratio, uniform
from sample_images.render.grain import step
from sample_images.render.noise import fractal

Array = NDArray[np.float64]

XYZ_TO_RGB = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
"""CIE XYZ to linear sRGB, IEC 61966-2-1."""
SUN_RADIUS_DEG = 0.27
MOST_RADIANCE = 60000.0


@dataclass(frozen=True, eq=False)
class Light:
    """An environment and what is known of it.

    Parameters
    ----------
    radiance : float32 (h, w, 3), linear sRGB, in the renderer's own order of directions, see `directions`.
    kind : name of the recipe.
    kelvin : colour temperature of the main light.
    """

    radiance: NDArray[np.float32]
    kind: str
    kelvin: float

    def colour_on(self, normal: Array) -> Array:
        """Return the linear sRGB irradiance on a surface facing `normal`, divided by pi: the colour of a white one."""
        d, share = directions(*self.radiance.shape[:2])
        weight = np.clip(d @ unit(normal), 0, None) * share
        return np.asarray((self.radiance * weight[..., None]).sum((0, 1)) / np.pi)


def directions(rows: int, columns: int) -> tuple[Array, Array]:
    """Return the unit vectors (h, w, 3) of the environment's pixels and their solid angles (h, w)."""
    theta = (np.arange(rows) + 0.5) * np.pi / rows
    phi = (np.arange(columns) + 0.5) * 2 * np.pi / columns
    t, p = np.meshgrid(theta, phi, indexing="ij")
    d = np.stack([np.sin(p) * np.sin(t), np.cos(t), -np.cos(p) * np.sin(t)], -1)
    return d, np.sin(t) * (np.pi / rows) * (2 * np.pi / columns)


def black_body(kelvin: float) -> Array:
    """Return the linear sRGB colour of a black body of 1,667-25,000 K, green = 1."""
    t = kelvin
    if t < 4000:
        x = -0.2661239e9 / t**3 - 0.2343589e6 / t**2 + 0.8776956e3 / t + 0.179910
        y = -0.9549476 * x**3 - 1.37418593 * x**2 + 2.09137015 * x - 0.16748867
    else:
        x = -3.0258469e9 / t**3 + 2.1070379e6 / t**2 + 0.2226347e3 / t + 0.240390
        y = 3.0817580 * x**3 - 5.87338670 * x**2 + 3.75112997 * x - 0.37001483
    rgb = XYZ_TO_RGB @ np.array([x / y, 1.0, (1 - x - y) / y])
    return np.maximum(rgb / rgb[1], 0.02)


@dataclass(frozen=True, eq=False)
class Sky:
    """Paints lights into an environment; irradiances are what a surface facing the light gets, over pi."""

    d: Array
    share: Array
    radiance: Array
    up: Array
    to_camera: Array

    def dome(self, rng: Rng, above: Array, below: Array, *, cloud: float) -> None:
        """Light from the whole surroundings, `above` to `below`, mottled by `cloud`."""
        height = step(self.d @ self.up, -0.35, uniform(rng, 0.2, 0.9))[..., None]
        mottle = np.exp(cloud * fractal(self.d, ratio(rng, 1.5, 5), rng, slope=1.4))[..., None]
        self.radiance[...] += (below + (above - below) * height) * mottle

    def blocks(self, rng: Rng, count: int, low: float, high: float) -> None:
        """Brighter and darker rectangles: shelves, doors, people, for mirrors to show."""
        mean = self.radiance.mean((0, 1))
        for _ in range(count):
            inside = self._rectangle(
                unit(rng.standard_normal(3)), uniform(rng, 0.1, 0.8), uniform(rng, 0.1, 0.8), uniform(rng, 0, 6.28), 0.01
            )
            colour = mean * ratio(rng, low, high) * np.exp(rng.normal(0, 0.1, 3))
            self.radiance[...] = self.radiance + (colour - self.radiance) * inside[..., None]

    def panel(
        self,
        towards: Array,
        half_w: float,
        half_h: float,
        turn: float,
        colour: Array,
        irradiance: float,
        edge: float = 0.04,
        bars: int = 0,
    ) -> None:
        """Add a rectangular light: window, soft box, tube. Sizes are tangents of half angles."""
        self._add(self._rectangle(towards, half_w, half_h, turn, edge, bars), towards, colour, irradiance)

    def spot(self, towards: Array, radius_deg: float, colour: Array, irradiance: float, edge: float = 0.2) -> None:
        """Add a round light: sun, lamp, torch, flash."""
        towards = unit(towards)
        angle = np.rad2deg(np.arccos(np.clip(self.d @ towards, -1, 1)))
        smallest = 100.0 / self.d.shape[0]  # at least a pixel
        radius = max(radius_deg, smallest)
        self._add(1 - step(angle, radius * (1 - edge), radius * (1 + edge)), towards, colour, irradiance)

    def _add(self, inside: Array, towards: Array, colour: Array, irradiance: float) -> None:
        received = float((inside * np.clip(self.d @ unit(towards), 0, None) * self.share).sum()) / np.pi
        if received > 0:
            self.radiance[...] += inside[..., None] * colour * (irradiance / received)

    def _rectangle(self, towards: Array, half_w: float, half_h: float, turn: float, edge: float, bars: int = 0) -> Array:
        q = self.d @ frame(towards, turn)
        z = np.clip(q[..., 2], 0.05, None)
        a, b = q[..., 0] / z / half_w, q[..., 1] / z / half_h
        inside = (1 - step(np.maximum(np.abs(a), np.abs(b)), 1 - edge, 1.0)) * (q[..., 2] > 0.05)
        if bars:
            inside = inside * (np.abs((a * bars / 2 + 0.5) % 1 - 0.5) > 0.06) * (np.abs(b) > 0.04)
        return np.asarray(inside)


def make_light(rng: Rng, kind: str, to_camera: Array, up: Array, *, rows: int = 192) -> Light:
    """Return a light of the named kind.

    Parameters
    ----------
    to_camera : unit vector from the subject to the lens, where a flash sits.
    up : the table's normal, away from which no lamp hangs.
    """
    d, share = directions(rows, 2 * rows)
    sky = Sky(d, share, np.zeros((rows, 2 * rows, 3)), unit(up), unit(to_camera))
    kelvin = RECIPES[kind](rng, sky)
    return Light(np.clip(sky.radiance, 0.002, MOST_RADIANCE).astype(np.float32), kind, kelvin)


def _above(rng: Rng, sky: Sky, low_deg: float = 20, high_deg: float = 85) -> Array:
    """A direction at a height between the two angles over the table."""
    height, around = np.deg2rad(uniform(rng, low_deg, high_deg)), uniform(rng, 0, 2 * np.pi)
    f = frame(sky.up)
    return np.asarray(f @ [np.cos(height) * np.cos(around), np.cos(height) * np.sin(around), np.sin(height)])


def _tinted(rng: Rng, low_k: float, high_k: float) -> tuple[Array, float]:
    """A lamp's colour with a small green-magenta error, and its colour temperature."""
    kelvin = 1e6 / uniform(rng, 1e6 / high_k, 1e6 / low_k)
    return black_body(kelvin) * np.array([1.0, np.exp(rng.normal(0, 0.025)), 1.0]), kelvin


def _room(rng: Rng, sky: Sky, colour: Array, level: float) -> None:
    walls = colour * np.exp(rng.normal(0, 0.06, 3))
    sky.dome(rng, walls * level, walls * level * uniform(rng, 0.2, 0.8), cloud=uniform(rng, 0.1, 0.6))
    sky.blocks(rng, int(rng.integers(3, 12)), 0.1, 3.0)


def _sun(rng: Rng, sky: Sky) -> float:
    blue, _ = _tinted(rng, 7500, 15000)
    warm, kelvin = _tinted(rng, 3800, 5900)
    sky.dome(
        rng, blue * uniform(rng, 0.15, 0.45), np.array([0.9, 1.0, 0.8]) * uniform(rng, 0.05, 0.2), cloud=uniform(rng, 0.05, 0.5)
    )
    sky.blocks(rng, int(rng.integers(0, 7)), 0.15, 1.5)
    sky.spot(_above(rng, sky, 18, 80), SUN_RADIUS_DEG, warm, uniform(rng, 0.8, 2.0))
    return kelvin


def _shade(rng: Rng, sky: Sky) -> float:
    colour, kelvin = _tinted(rng, 6500, 11000)
    sky.dome(rng, colour, colour * uniform(rng, 0.15, 0.6), cloud=uniform(rng, 0.05, 0.4))
    sky.blocks(rng, int(rng.integers(1, 9)), 0.05, 0.8)
    return kelvin


def _overcast(rng: Rng, sky: Sky) -> float:
    colour, kelvin = _tinted(rng, 5800, 7500)
    sky.dome(rng, colour, colour * uniform(rng, 0.3, 0.9), cloud=uniform(rng, 0.0, 0.2))
    return kelvin


def _lamp(rng: Rng, sky: Sky) -> float:
    colour, kelvin = _tinted(rng, 2600, 6800)
    _room(rng, sky, colour, uniform(rng, 0.08, 0.5))
    for _ in range(int(rng.integers(1, 4))):
        sky.spot(_above(rng, sky, 25, 88), ratio(rng, 1.0, 14), colour, uniform(rng, 0.4, 1.2), edge=uniform(rng, 0.1, 0.6))
    return kelvin


def _mixed(rng: Rng, sky: Sky) -> float:
    day, kelvin = _tinted(rng, 5500, 9500)
    lamp, _ = _tinted(rng, 2500, 4300)
    _room(rng, sky, 0.5 * (day + lamp), uniform(rng, 0.1, 0.4))
    sky.panel(
        _above(rng, sky, 5, 45),
        ratio(rng, 0.2, 0.9),
        ratio(rng, 0.2, 0.7),
        uniform(rng, 0, 6.28),
        day,
        uniform(rng, 0.4, 1.2),
        bars=int(rng.integers(0, 4)),
    )
    sky.spot(_above(rng, sky, 30, 88), ratio(rng, 1.5, 10), lamp, uniform(rng, 0.3, 1.0))
    return kelvin


def _flash(rng: Rng, sky: Sky) -> float:
    colour, kelvin = _tinted(rng, 5000, 6500)
    around, _ = _tinted(rng, 2700, 7500)
    _room(rng, sky, around, ratio(rng, 0.015, 0.25))
    sky.spot(sky.to_camera + rng.normal(0, 0.06, 3), uniform(rng, 0.8, 3.0), colour, 1.0)
    return kelvin


def _torch(rng: Rng, sky: Sky) -> float:
    colour, kelvin = _tinted(rng, 4500, 8500)
    around, _ = _tinted(rng, 2700, 6500)
    _room(rng, sky, around, ratio(rng, 0.02, 0.2))
    towards = unit(sky.to_camera + rng.normal(0, 0.5, 3)) if chance(rng, 0.6) else _above(rng, sky, 10, 60)
    sky.spot(towards, ratio(rng, 1.0, 6), colour, 1.0, edge=0.5)
    return kelvin


def _window(rng: Rng, sky: Sky) -> float:
    colour, kelvin = _tinted(rng, 5000, 9000)
    _room(rng, sky, colour * np.array([1.08, 1.0, 0.88]), uniform(rng, 0.05, 0.35))
    for _ in range(int(rng.integers(1, 3))):
        size = ratio(rng, 0.25, 1.1), ratio(rng, 0.25, 1.0)
        sky.panel(
            _above(rng, sky, 5, 65), *size, uniform(rng, 0, 6.28), colour, uniform(rng, 0.5, 1.3), bars=int(rng.integers(0, 5))
        )
    return kelvin


def _soft_box(rng: Rng, sky: Sky) -> float:
    colour, kelvin = _tinted(rng, 4800, 6500)
    sky.dome(rng, colour * 0.4, colour * 0.25, cloud=0.1)
    sky.panel(
        _above(rng, sky, 35, 85), uniform(rng, 0.5, 1.2), uniform(rng, 0.5, 1.2), uniform(rng, 0, 6.28), colour, 0.8, edge=0.5
    )
    return kelvin


def _tubes(rng: Rng, sky: Sky) -> float:
    colour, kelvin = _tinted(rng, 3300, 7000)
    colour = colour * np.array([0.97, 1.05, 0.97])
    _room(rng, sky, colour, uniform(rng, 0.1, 0.4))
    turn = uniform(rng, 0, 6.28)
    for _ in range(int(rng.integers(2, 5))):
        sky.panel(_above(rng, sky, 45, 88), ratio(rng, 0.4, 1.2), ratio(rng, 0.015, 0.05), turn, colour, uniform(rng, 0.2, 0.6))
    return kelvin


def _ring(rng: Rng, sky: Sky) -> float:
    colour, kelvin = _tinted(rng, 4500, 6500)
    _room(rng, sky, colour, uniform(rng, 0.05, 0.2))
    f = frame(sky.to_camera)
    for angle in np.arange(8) * np.pi / 4:
        sky.spot(f @ [0.28 * np.cos(angle), 0.28 * np.sin(angle), 1.0], 3.0, colour, 0.14)
    return kelvin


def _low_sun(rng: Rng, sky: Sky) -> float:
    blue, _ = _tinted(rng, 8000, 14000)
    warm, kelvin = _tinted(rng, 2500, 3600)
    sky.dome(rng, blue * uniform(rng, 0.15, 0.4), warm * uniform(rng, 0.03, 0.12), cloud=0.3)
    sky.spot(_above(rng, sky, 6, 20), 0.4, warm, uniform(rng, 1.0, 2.5))
    return kelvin


RECIPES: Mapping[str, Callable[[Rng, Sky], float]] = {
    "sun": _sun, "shade": _shade, "overcast": _overcast, "lamp": _lamp, "mixed": _mixed, "flash": _flash, "torch": _torch,
    "window": _window, "soft_box": _soft_box, "tubes": _tubes, "ring": _ring, "low_sun": _low_sun,
}  # fmt: skip
