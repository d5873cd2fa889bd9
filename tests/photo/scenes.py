"""Drawn scenes with known surfaces and light: a dark bench, sheets, a plug of two parts, all flat."""

from __future__ import annotations

import cv2
import numpy as np

from plugread.colour import srgb_encode
from plugread.records import PARTS, FiringEnd, PartMap, Photo

DAY = np.ones(3)
LAMP = np.array([1.35, 1.0, 0.62])
NICKEL = np.array([0.660, 0.609, 0.526])
SIZE = (480, 640)
PLUG = (240, 180, 160, 120)
NOSE = (280, 210, 60, 60)


class Scene:
    """Reflectance of a picture, linear, and the plug in it."""

    def __init__(self, bench: tuple[float, float, float] = (0.085, 0.075, 0.06), seed: int = 1) -> None:
        rough = np.exp(np.random.default_rng(seed).normal(0, 0.25, (*SIZE, 1)))
        self.surface = np.array(bench) * cv2.GaussianBlur(rough, (0, 0), 1.2)[..., None]
        self.light = np.ones((*SIZE, 1))
        self._paint(PLUG, 0.37 * NICKEL / NICKEL[1])

    def _paint(self, box: tuple[int, int, int, int], colour: np.ndarray) -> None:
        x, y, w, h = box
        self.surface[y : y + h, x : x + w] = colour

    def nose(self, linear: np.ndarray) -> Scene:
        """Paint the nose."""
        self._paint(NOSE, linear)
        return self

    def sheet(self, corners: list[tuple[int, int]], colour: float | tuple[float, float, float]) -> Scene:
        """Lay a plain sheet."""
        mask = cv2.fillPoly(np.zeros(SIZE, np.uint8), [np.array(corners, np.int32)], (1,)) > 0
        self.surface[mask] = colour
        return self

    def slope(self, change: float) -> Scene:
        """Let the light fall by `change` across the picture's width."""
        self.light = self.light * np.linspace(1 + change / 2, 1 - change / 2, SIZE[1])[None, :, None]
        return self

    def photo(self, light: np.ndarray = DAY, *, exposure: float = 1.0, tone: float = 1.0) -> Photo:
        """The scene as a camera stores it: light, exposure, tone curve (a power), 8 bit sRGB codes, faint noise."""
        linear = np.clip(self.surface * self.light * light * exposure, 0, None) ** tone
        noise = np.random.default_rng(5).normal(0, 0.6, linear.shape)
        codes = np.clip(srgb_encode(np.clip(linear, 0, 1)) * 255 + noise, 0, 255)
        return Photo("scene.jpg", codes.round().astype(np.uint8), 1, SIZE[::-1], np.eye(3))


def end() -> FiringEnd:
    """The firing end of a `Scene`: a nose inside metal."""
    probability = np.zeros((len(PARTS), *SIZE), np.float32)
    for name, (x, y, w, h) in (("thread", PLUG), ("nose", NOSE)):
        probability[:, y : y + h, x : x + w] = 0
        probability[PARTS.index(name), y : y + h, x : x + w] = 1
    probability[0] = 1 - probability[1:].sum(0)
    views = {"side": 0.9, "oblique": 0.05, "end": 0.05, "unknown": 0.0}
    return FiringEnd(NOSE, "side", views, PartMap(probability, 0.0, 0.0, 1.0), {}, 0.9, 0.9)


PAPER_CORNERS = [(30, 40), (190, 25), (200, 160), (40, 170)]
CARD_CORNERS = [(440, 300), (590, 320), (580, 440), (430, 425)]
