"""What light falls on the nose, compared with what the white reference says falls beside the plug.

A nose stands in its shell's shade, or faces the window more squarely than the paper on the bench does: its lightness is then
wrong although the paper is right, and a red cloth beside it tints it. The plug's own metal next to it stands in the same light
and is nearly the same grey on every plug: how bright and how coloured rim, strap, thread and centre look, and how the nose's own
light varies, tells part of the difference. The nose's own look enters as well: cameras paint colours stronger than they are, and
no ceramic is blue. The weights are fitted on rendered training photos (`tests/bench/fit_lit.py`); what they leave open stands
beside them and is wide: a photo cannot tell a grey surface in full light from a white one in shade.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plugread.colour import lab_to_linear_srgb, linear_srgb_to_lab
from plugread.pixels import apply_white, clipped, crop_codes, decoded_box, grown_box, parts_over, to_linear
from plugread.records import FiringEnd, Photo, White

Floats = NDArray[np.float64]

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
WHITEST = 100.0
"""L* of a perfect diffuser: a nose that faces the lamp more squarely than the paper reads above it, which no ceramic is."""
NEIGHBOURS = ("rim", "thread", "strap", "centre")
AROUND, SURE, LEAST_CELLS = 1.2, 0.8, 60
"""Neighbours are looked at this far around the nose (in noses), where they are this sure, from so many pixels."""
BRIGHT, COLOURED = 75.0, (50.0, 92.0)
"""Percentile of luminance that counts as a part's brightness, and the percentiles between which its colour is taken."""
MOST = {"light": 1.2, "red": 0.35, "blue": 0.5}
"""No correction goes further (natural logarithms)."""
_EVERY = 3000  # pixels of a part that suffice for a percentile
_DARKEST = 0.003


@dataclass(frozen=True)
class Line:
    """One fitted sum: `weights` by cue, of the difference from `usual`, plus `offset`; cues that are missing count as usual."""

    offset: float
    weights: Mapping[str, float]
    usual: Mapping[str, float]

    def of(self, cues: Mapping[str, float], most: float) -> float:
        """Return the sum for a nose's cues, held within `most`."""
        total = sum(w * (cues.get(name, self.usual[name]) - self.usual[name]) for name, w in self.weights.items())
        return float(np.clip(self.offset + total, -most, most))


@dataclass(frozen=True)
class Light:
    """Fitted corrections for one kind of white.

    Parameters
    ----------
    lines : "light" for luminance, "red" and "blue" for these channels over green; natural logarithms.
    spread : by view, 95 % half-widths of L*, a*, b* that are left, those of the white included.
    """

    lines: Mapping[str, Line]
    spread: Mapping[str, tuple[float, float, float]]

    def corrected(self, colour: Floats, cues: Mapping[str, float]) -> Floats:
        """Return L*, a*, b* in the light of the reference; L* stays within 0 to 100."""
        light, red, blue = (self.lines[name].of(cues, MOST[name]) for name in ("light", "red", "blue"))
        linear = np.maximum(lab_to_linear_srgb(colour), 1e-4)
        tinted = linear * np.exp([red, 0.0, blue])
        lab = np.asarray(linear_srgb_to_lab(tinted * np.exp(light) * (linear @ LUMINANCE) / (tinted @ LUMINANCE)))
        return np.array([np.clip(lab[0], 0.0, WHITEST), lab[1], lab[2]])


@dataclass(frozen=True)
class LitTable:
    """Corrections where a reference gave the level, and where it was estimated."""

    reference: Light
    estimated: Light

    def of(self, white: White) -> Light:
        """Return the correction that belongs to a white."""
        return self.reference if white.level_known else self.estimated


@lru_cache(maxsize=1)
def load_lit() -> LitTable:
    """Return the package's fitted corrections."""
    rows = tomllib.loads(resources.files("plugread.measure").joinpath("lit.toml").read_text(encoding="utf-8"))
    return LitTable(_light(rows["reference"]), _light(rows["estimated"]))


def _light(row: dict[str, Any]) -> Light:
    lines = {name: Line(float(row[name]["offset"]), row[name]["weights"], row[name]["usual"]) for name in MOST}
    return Light(lines, {view: (float(v[0]), float(v[1]), float(v[2])) for view, v in row["spread"].items()})


def cues_of(photo: Photo, end: FiringEnd, white: White, nose_luminance: Floats) -> dict[str, float]:
    """Return what tells the light on the nose: natural logarithms of corrected light, and the view as 0 or 1.

    Parameters
    ----------
    nose_luminance : of the nose's pixels, corrected, shape (n,).
    """
    low, middle, lit, high = np.log(np.maximum(np.percentile(nose_luminance, [10, 50, 82, 95]), _DARKEST))
    cues = {"nose": float(lit), "nose_shade": float(lit - low), "nose_even": float(lit - middle), "nose_glare": float(high - lit)}
    cues |= {view: float(end.view == view) for view in ("oblique", "end")}
    for name, pixels in _neighbours(photo, end, white):
        luminance = pixels @ LUMINANCE
        level, low, high = np.percentile(luminance, [BRIGHT, *COLOURED])
        cues[name] = float(np.log(max(float(level), _DARKEST)))
        cues |= _tint(name, pixels[(luminance >= low) & (luminance <= high)].mean(0))
    return cues


def _tint(name: str, linear: Floats) -> dict[str, float]:
    """Return red and blue over green, natural logarithms."""
    red, green, blue = np.log(np.maximum(linear, _DARKEST))
    return {f"{name}_red": float(red - green), f"{name}_blue": float(blue - green)}


def _neighbours(photo: Photo, end: FiringEnd, white: White) -> Iterator[tuple[str, Floats]]:
    """Yield each part beside the nose that is seen well enough, and its corrected linear pixels (n, 3)."""
    box = grown_box(end.nose_box, AROUND, photo.size)
    every = max(1, round(np.sqrt(box[2] * box[3] / photo.scale**2) / 400))
    codes, open_pixels = crop_codes(photo, box)[::every, ::every], ~clipped(photo, box)[::every, ::every]
    x, y, _, _ = decoded_box(photo, box)
    (height, width), step = open_pixels.shape, every * photo.scale
    covered = (x * photo.scale, y * photo.scale, width * step, height * step)
    for name in NEIGHBOURS:
        chosen = (parts_over(end.parts, (name,), covered, (width, height)) > SURE) & open_pixels
        if chosen.sum() >= LEAST_CELLS:
            few = codes[chosen][:: max(1, int(chosen.sum()) // _EVERY)]
            yield name, apply_white(white, to_linear(photo, few))
