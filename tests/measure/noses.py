"""Drawn noses: a ceramic cylinder of a known colour in known light, with what can lie on it."""

from __future__ import annotations

import cv2
import numpy as np

from plugread.colour import lab_to_linear_srgb, srgb_encode
from plugread.records import PARTS, FiringEnd, PartMap, Photo, Quality, White

PX_PER_MM = 30.0
SIZE = (300, 360)
BOX = (105, 80, 150, 150)  # 5 x 5 mm
PERFECT = White("paper", "white paper", np.ones(3), np.ones(3), np.eye(3), True, (4.0, 2.0, 3.0))
SHARP = Quality(2.0, 0.5, 0.0, PX_PER_MM)


class Nose:
    """Linear picture of a nose of colour `lab` on dark metal, `shade` darker (share) at its left edge than at its right.

    The metal glints unless the light is `flat`.
    """

    def __init__(self, lab: tuple[float, float, float], shade: float = 0.0, *, flat: bool = False) -> None:
        self.linear = np.full((*SIZE, 3), 0.12)
        x, y, w, h = BOX
        fall = 1 - shade * np.linspace(1, 0, w)[None, :, None]
        self.linear[y : y + h, x : x + w] = lab_to_linear_srgb(lab) * fall
        for k in range(0 if flat else 12):
            self.disc(-0.42, 0.4 * k, 0.2, 0.7).disc(5.42, 0.4 * k, 0.2, 0.7)

    def disc(self, x_mm: float, y_mm: float, across_mm: float, linear: float | tuple[float, float, float]) -> Nose:
        """Put a soft-edged disc at a place on the nose, mm from its upper left corner."""
        centre = (BOX[0] + x_mm * PX_PER_MM, BOX[1] + y_mm * PX_PER_MM)
        yy, xx = np.mgrid[: SIZE[0], : SIZE[1]]
        far = np.hypot(xx - centre[0], yy - centre[1]) - across_mm * PX_PER_MM / 2
        share = np.clip(0.5 - far, 0, 1)[..., None]
        self.linear = self.linear * (1 - share) + np.array(linear) * share
        return self

    def discs(self, n: int, across_mm: float, linear: float | tuple[float, float, float], seed: int = 0) -> Nose:
        """Scatter discs over the middle of the nose, at least 0.8 mm apart."""
        places = [(0.9 + 0.8 * (k % 5), 0.9 + 0.8 * (k // 5)) for k in range(25)]
        for k in np.random.default_rng(seed).permutation(25)[:n]:
            self.disc(*places[k], across_mm, linear)
        return self

    def lumps(self, amount: float, size_mm: float = 0.3, seed: int = 0) -> Nose:
        """Roughen the nose: lightness varies by `amount` over `size_mm`."""
        rough = np.random.default_rng(seed).normal(0, 1, SIZE)
        rough = cv2.GaussianBlur(rough, (0, 0), size_mm * PX_PER_MM / 2)
        self.linear *= np.exp(amount * rough / rough.std())[..., None]
        return self

    def photo(self, noise: float = 0.5, blur_px: float = 0.7) -> Photo:
        """The picture in 8 bit codes."""
        soft = cv2.GaussianBlur(np.clip(self.linear, 0, 1), (0, 0), blur_px)
        codes = srgb_encode(soft) * 255 + np.random.default_rng(9).normal(0, noise, soft.shape)
        return Photo("nose.jpg", np.clip(codes, 0, 255).round().astype(np.uint8), 1, SIZE[::-1], np.eye(3))


def end(view: str = "side", *, scale: float = 1.0) -> FiringEnd:
    """The firing end of a `Nose`, `scale` full-size pixels for one pixel of the drawing."""
    probability = np.zeros((len(PARTS), *SIZE), np.float32)
    x, y, w, h = BOX
    probability[PARTS.index("nose"), y : y + h, x : x + w] = 1
    probability[PARTS.index("rim")] = 1 - probability[PARTS.index("nose")]
    views = {name: float(name == view) for name in ("side", "oblique", "end", "unknown")}
    box = (round(x * scale), round(y * scale), round(w * scale), round(h * scale))
    return FiringEnd(box, view, views, PartMap(probability, 0.0, 0.0, scale), {}, 0.9, 0.9)
