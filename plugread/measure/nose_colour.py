"""Nose colour: CIELAB of the lit ceramic, with lightness and hue given separate 95 % spreads.

Most of a nose lies in the shade of the shell, so its middle pixel is far too dark while its hue is right. Lightness is therefore
taken from the lit pixels, and hue from the same; what the metal beside them tells of their light (`lit.py`) is then taken out.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.colour import linear_srgb_to_lab
from plugread.measure.lit import LUMINANCE, cues_of, load_lit
from plugread.pixels import Mask, apply_white, clipped, crop_codes, crop_valid, grown_box, part_on, to_linear
from plugread.records import Box, FiringEnd, Measured, Photo, White

Floats = NDArray[np.float64]

# All fitted on rendered photos whose ceramic is known (our own): probabilities tried for the mask in the end; pixels it
# must hold; share of brightest pixels taken as glints; the lit band; the percentile reported as lightness.
_SURE = (0.8, 0.65, 0.5)
# First the find decides: of a find believed more than this, cells of the first probability, drawn in by the first share of the
# mask's size; of a doubtful one the second pair. Measured on training photos: 0.92 of the worst tenth's pixels are nose, and
# 0.80 of a middling nose is used; one limit for all gave 0.87 and 0.81.
_BELIEVED, _SURE_FIND, _SURE_DOUBTFUL = 0.75, (0.85, 0.01), (0.97, 0.02)
_MIN_PIXELS, _MOST_PIXELS = 60, 60_000
_GLINT_SHARE, _LIT, _LIGHTNESS_AT = 2.0, (70.0, 95.0), 82.0
# How much worse L* is when two lights (sun and shade) lie on the nose: two groups then explain this share of its variance.
_TWO_LIGHTS, _TWO_LIGHTS_FACTOR = 0.75, 1.4


@dataclass(frozen=True, eq=False)
class NoseColour:
    """L*, a*, b* with spread, the pixels used (bool over `mask_box`, full-size pixels), raw cues; or None and `why`."""

    lightness: Measured | None
    a: Measured | None
    b: Measured | None
    mask: Mask | None
    mask_box: Box | None
    features: dict[str, float]
    why: str | None = None


def measure(photo: Photo, end: FiringEnd, white: White) -> NoseColour:
    """Return the colour of the nose under D65, 2 degrees.

    Without a reference in the photo L* is only as good as the exposure: compare plugs in the same light, not across photos.
    """
    nose = seen_nose(photo, end, white)
    if nose is None:
        return NoseColour(None, None, None, None, None, {}, "too little of the ceramic nose can be seen for a colour")
    light = load_lit().of(white)
    value = light.corrected(nose.colour, nose.cues)
    features = _features(nose.lab, nose.lit)
    spread = _spread(nose.lab[nose.lit], white, light.spread[end.view], features["two_lights"])
    how = f"lit ceramic, {white.detail}"
    lightness, a, b = (Measured(float(value[k]), float(spread[k]), unit, how) for k, unit in enumerate(("L*", "a*", "b*")))
    return NoseColour(lightness, a, b, _full_size(nose.mask, nose.box), nose.box, features)


@dataclass(frozen=True, eq=False)
class SeenNose:
    """The nose as it looks under the white, before its own light is considered.

    Parameters
    ----------
    lab : float64 of shape (n, 3), sure pixels; `lit` bool of shape (n,), those without glint and shade.
    colour : L*, a*, b* of the lit pixels.
    cues : what tells the light on it, see `lit.cues_of`.
    mask : bool on the decoded pixels of `box`, the pixels used.
    """

    lab: Floats
    lit: Mask
    colour: Floats
    cues: dict[str, float]
    mask: Mask
    box: Box


def seen_nose(photo: Photo, end: FiringEnd, white: White) -> SeenNose | None:
    """Return the nose as it looks under the white, or None where too little of it is sure."""
    box = grown_box(end.nose_box, 0.1, photo.size)
    usable = nose_mask(photo, end, box)
    if usable is None:
        return None
    every = max(1, int(usable.sum()) // _MOST_PIXELS)
    linear = apply_white(white, to_linear(photo, crop_codes(photo, box)[usable][::every]))
    lab = linear_srgb_to_lab(linear)
    lit = _lit(lab)
    colour = np.array([np.percentile(lab[lit, 0], _within(_LIGHTNESS_AT)), *np.median(lab[lit, 1:], axis=0)])
    return SeenNose(lab, lit, colour, cues_of(photo, end, white, linear @ LUMINANCE), usable, box)


def nose_mask(photo: Photo, end: FiringEnd, box: Box) -> Mask | None:
    """Return the ceramic pixels of a box on the decoded grid, sure ones only and drawn in from the edge; None if too few."""
    chance = part_on(photo, end.parts, "nose", box)
    open_pixels = crop_valid(photo, box) & ~clipped(photo, box)
    first, share = _SURE_FIND if end.score > _BELIEVED else _SURE_DOUBTFUL
    for least in (first, *_SURE):
        mask = _drawn_in(chance > least, share) & open_pixels
        if mask.sum() >= _MIN_PIXELS:
            return mask
    return None


def _drawn_in(mask: Mask, share: float) -> Mask:
    """Draw the mask in by a share of its size: strap, bore and glints hide at the edge."""
    reach = max(1, round(share * np.sqrt(mask.sum())))
    smaller = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 3) > reach
    return smaller if smaller.sum() >= _MIN_PIXELS else mask


def _lit(lab: Floats) -> Mask:
    """Return the pixels between the 70th and 97th percentile of L* once glints are dropped."""
    top = np.percentile(lab[:, 0], 100 - _GLINT_SHARE)
    body = lab[:, 0] <= top
    low, high = np.percentile(lab[body, 0], _LIT)
    return np.asarray(body & (lab[:, 0] >= low) & (lab[:, 0] <= high))


def _within(percentile: float) -> float:
    """Return the percentile inside the lit band that is `percentile` of the whole."""
    return 100 * (percentile - _LIT[0]) / (_LIT[1] - _LIT[0])


def _features(lab: Floats, lit: Mask) -> dict[str, float]:
    lightness = lab[:, 0]
    ab_spread = np.percentile(lab[lit, 1:], 84, axis=0) - np.percentile(lab[lit, 1:], 16, axis=0)
    return {
        "two_lights": two_groups(lightness),
        "shade_depth": float(np.median(lab[lit, 0]) - np.percentile(lightness, 20)),
        "patchiness": float(np.hypot(*ab_spread) / 2),
        "lit_l_spread": float(np.std(lab[lit, 0])),
    }


def two_groups(values: Floats) -> float:
    """Return the share of variance (0-1) that splitting the values in two explains best, 0 when the groups lie under 25 L* apart.

    Source: Otsu, IEEE Trans. SMC 9 (1979) 62, the separability measure.
    """
    sample = np.sort(values)[:: max(1, len(values) // 2000)]
    total = np.cumsum(sample)
    n = np.arange(1, len(sample))
    low, high = total[:-1] / n, (total[-1] - total[:-1]) / (len(sample) - n)
    between = n * (len(sample) - n) * (high - low) ** 2 / len(sample) ** 2
    k = int(between.argmax())
    return float(between[k] / max(sample.var(), 1e-9)) if high[k] - low[k] > 25 else 0.0


def _spread(lit: Floats, white: White, left: tuple[float, float, float], two_lights: float) -> Floats:
    """Return 95 % half-widths of L*, a*, b*: what the fitted light leaves, never less than the white does, and texture."""
    scatter = lit.std(axis=0) / np.sqrt(max(len(lit) / 40, 1)) * 2
    uneven = _TWO_LIGHTS_FACTOR if two_lights > _TWO_LIGHTS else 1.0
    own = np.maximum(left, white.spread_lab) * np.array([uneven, 1.0, 1.0])
    return np.asarray(np.hypot(own, scatter))


def _full_size(mask: Mask, box: Box) -> Mask:
    """Return the mask on full-size pixels, shape (h, w) of the box."""
    if mask.shape == (box[3], box[2]):
        return mask
    return np.asarray(cv2.resize(mask.astype(np.uint8), (box[2], box[3]), interpolation=cv2.INTER_NEAREST) > 0)
