"""What damage laid bare or left behind on a skin: fresh fracture, melted metal, bruises, cracks."""

from __future__ import annotations

import numpy as np

from sample_images.render.plug.piece import Site
from sample_images.render.plug.skin import Skin, varied


def marked(skin: Skin, site: Site, rng: np.random.Generator) -> None:
    """Paint the piece's damage marks, last of all: they are younger than the deposits."""
    marks = site.piece.marks
    fine = site.noise(1.6, rng, slope=0.8)
    if "melt" in marks:
        skin.cover(
            0.9 * marks["melt"], varied((0.34, 0.33, 0.33), fine, 0.15), roughness=0.27, metallic=1.0, clearcoat=0.0, sheen=0.0
        )
    if "bruise" in marks:
        skin.cover(
            0.9 * marks["bruise"], varied((0.68, 0.66, 0.63), fine, 0.06), roughness=0.22, metallic=1.0, clearcoat=0.0, sheen=0.0
        )
    if "fresh" in marks:
        skin.cover(marks["fresh"], varied((0.86, 0.85, 0.82), fine, 0.02), roughness=0.55, clearcoat=0.0, sheen=0.0, flatness=0.5)
        skin.cover(marks["fresh"], relief=0.008 * fine)
    if "seep" in marks:
        skin.film(0.45 * marks["seep"], (0.62, 0.52, 0.42))
    if "crack" in marks:
        skin.cover(
            0.92 * marks["crack"], np.array([0.035, 0.03, 0.026]), roughness=0.9, flatness=0.0, clearcoat=0.0, relief=-0.04
        )
