"""The known surfaces a photo may hold: paper, grey card, chart; and what each correction leaves unsure."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plugread.colour import D65_XY, adapt, lab_to_xyz, xy_to_xyz, xyz_to_linear_srgb

Spread = tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class References:
    """Reflectance of paper and card (0-1); chart patches as linear sRGB of shape (24, 3) and the rows that are neutral.

    `body` is width and length of a plug behind its thread, in thread widths. `spread` maps estimated, paper, card, both, chart ->
    95 % half-widths of L*, a*, b*. `sheet_middle` and `sheet_weight` by sign, and `sheet_bias`, weigh what speaks for a sheet.
    """

    paper: float
    card: float
    chart_rgb: NDArray[np.float64]
    neutral_rows: tuple[int, ...]
    spread: dict[str, Spread]
    body: tuple[float, float]
    sheet_middle: dict[str, float]
    sheet_weight: dict[str, float]
    sheet_bias: float

    def sheet_chance(self, signs: Mapping[str, float]) -> float:
        """Return how likely a plain area with these signs is paper or a card, 0-1; a sign that is nan counts neither way."""
        told = [weight * (signs[name] - self.sheet_middle[name]) for name, weight in self.sheet_weight.items()]
        return float(1 / (1 + np.exp(-(self.sheet_bias + np.nansum(told)))))


@lru_cache(maxsize=1)
def load_references() -> References:
    """Return the package's reference surfaces."""
    text = resources.files("plugread.photo").joinpath("references.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)
    spread = {name: _triple(row["lab"]) for name, row in rows["spread"].items()}
    chart = rows["chart"]
    return References(
        paper=float(rows["paper"]["reflectance"]),
        card=float(rows["card"]["reflectance"]),
        chart_rgb=_chart_rgb(chart),
        neutral_rows=tuple(chart["neutral_rows"]),
        spread=spread,
        body=(float(rows["body"]["width"]), float(rows["body"]["length"])),
        sheet_middle=dict(zip(rows["sheet"]["signs"], rows["sheet"]["middle"], strict=True)),
        sheet_weight=dict(zip(rows["sheet"]["signs"], rows["sheet"]["weight"], strict=True)),
        sheet_bias=float(rows["sheet"]["bias"]),
    )


def _chart_rgb(chart: dict[str, Any]) -> NDArray[np.float64]:
    """Return the patches seen under D65: Lab D50 -> XYZ -> Bradford -> linear sRGB (some outside 0-1)."""
    white = xy_to_xyz((chart["white_xy"][0], chart["white_xy"][1]))
    xyz = lab_to_xyz(np.array(chart["lab"]), white)
    return xyz_to_linear_srgb(adapt(xyz, white, xy_to_xyz(D65_XY), "bradford"))


def _triple(values: list[float]) -> Spread:
    return float(values[0]), float(values[1]), float(values[2])
