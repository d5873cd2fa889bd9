"""A firing end from a box that the user drew around the nose: inside it the ceramic is found by its colour, precision first."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.colour import linear_srgb_to_lab
from plugread.errors import PhotoError
from plugread.pixels import clip_box, crop_linear, crop_valid
from plugread.records import PARTS, Box, FiringEnd, PartMap, Photo

Floats = NDArray[np.float64]

# All our own choices: side of the map, smallest box, number of colours in the box, and how far a shade of the chosen colour may
# differ from it in hue and chroma (a*b* distance) before it counts as another part.
_MAP_SIDE, _MIN_BOX_PX, _COLOURS, _SAME_AB = 128, 8, 5, 7.0
# L* that a shaded part may lie below the chosen colour, and a lit part above it before it counts as a glint (and how soon).
_DARKER, _LIGHTER = 40.0, (20.0, 30.0)
# A nose fills the middle of its box: weight of a pixel falls to 1/e at this share of the half-width.
_MIDDLE = 0.75


def end_from_box(photo: Photo, box: Box) -> FiringEnd:
    """Return a firing end whose nose lies in `box` (x, y, w, h in upright full-size pixels).

    Only nose and background are told apart; view and key points stay unknown.

    Raises
    ------
    PhotoError
        if the box lies outside the photo or is too small to hold a nose.
    """
    inside = clip_box(box, photo.size)
    if min(inside[2:]) < _MIN_BOX_PX:
        raise PhotoError(
            f"the nose box {','.join(map(str, box))} covers {inside[2]} x {inside[3]} px of {photo.name}",
            f"draw it around the nose inside the {photo.size[0]} x {photo.size[1]} px picture, at least {_MIN_BOX_PX} px a side",
        )
    small, step = _shrunk(photo, inside)
    nose = _nose_probability(small)
    probability = np.zeros((len(PARTS), *nose.shape), np.float32)
    probability[PARTS.index("nose")] = nose
    probability[PARTS.index("background")] = 1 - nose
    parts = PartMap(probability, float(inside[0]), float(inside[1]), step)
    unknown = {"side": 0.0, "oblique": 0.0, "end": 0.0, "unknown": 1.0}
    return FiringEnd(inside, "unknown", unknown, parts, {}, score=1.0, agreement=1.0, by_hand=True)


def _shrunk(photo: Photo, box: Box) -> tuple[Floats, float]:
    """Return the box as linear sRGB of at most `_MAP_SIDE` px a side, NaN where invalid, and full-size pixels a cell."""
    linear, valid = crop_linear(photo, box), crop_valid(photo, box)
    linear = np.where(valid[..., None], linear, np.float32(np.nan))
    step = max(max(box[2:]) / _MAP_SIDE, float(photo.scale))
    size = (max(round(box[2] / step), 1), max(round(box[3] / step), 1))
    return cv2.resize(linear, size, interpolation=cv2.INTER_AREA).astype(np.float64), step


def _nose_probability(rgb_linear: Floats) -> NDArray[np.float32]:
    """Return the chance (0-1) of each cell to be ceramic: the colour that fills the middle, in all its shades."""
    scale = max(float(np.nanpercentile(rgb_linear, 97)), 1e-3) / 0.8
    lab = linear_srgb_to_lab(np.nan_to_num(cv2.GaussianBlur(rgb_linear, (0, 0), 1.0)) / scale)
    centres, labels = _colours(lab)
    weight = _middle_weight(lab.shape[:2])
    share = np.array([weight[labels == k].sum() for k in range(len(centres))])
    main = int(np.argmax(share * _ceramic_like(centres)))
    near = np.hypot(*(centres[:, 1:] - centres[main, 1:]).T)
    darker = centres[main, 0] - lab[..., 0]
    shade = np.maximum(darker / _DARKER, (-darker - _LIGHTER[0]) / _LIGHTER[1])
    distance = np.where(near[labels] < _SAME_AB, np.maximum(shade, 0), 1.0)
    texture = _texture(lab[..., 0])
    chance = np.clip(1.15 - distance - texture / 25, 0, 1) * (weight > 0.2)
    chance[np.isnan(rgb_linear).any(-1)] = 0.0
    return _largest(chance).astype(np.float32)


def _colours(lab: Floats) -> tuple[Floats, NDArray[np.int32]]:
    """Return k-means centres (k, 3) in Lab with L* at half weight, and the label of each cell."""
    data = (lab * [0.5, 1.0, 1.0]).reshape(-1, 3).astype(np.float32)
    count = min(_COLOURS, len(data))
    rule = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.2)
    cv2.setRNGSeed(1)
    _, labels, centres = cv2.kmeans(data, count, np.empty(0, np.int32), rule, 2, cv2.KMEANS_PP_CENTERS)
    return np.asarray(centres / [0.5, 1.0, 1.0], np.float64), np.asarray(labels, np.int32).reshape(lab.shape[:2])


def _middle_weight(shape: tuple[int, int]) -> Floats:
    y, x = (np.linspace(-1, 1, n) for n in shape)
    return np.asarray(np.exp(-(y[:, None] ** 2 + x[None] ** 2) / (2 * _MIDDLE**2)))


def _ceramic_like(centres: Floats) -> Floats:
    """Return a mild preference, 0.3-1: the darkest colour of a box with light ones is bore or shadow, the brightest a glint."""
    rank = np.argsort(np.argsort(centres[:, 0])) / max(len(centres) - 1, 1)
    return np.asarray(0.3 + 0.7 * np.clip(rank * 2.5, 0, 1))


def _texture(lightness: Floats) -> Floats:
    """Return local standard deviation of L* over 5 x 5 cells: edges of strap and bore stand out."""
    mean = cv2.blur(lightness, (5, 5))
    return np.asarray(np.sqrt(np.maximum(cv2.blur(lightness**2, (5, 5)) - mean**2, 0)))


def _largest(chance: Floats) -> Floats:
    """Keep the largest connected piece of likely cells and pieces at least a quarter of its size."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats((chance > 0.5).astype(np.uint8), connectivity=4)
    if count < 2:
        return chance
    areas = stats[1:, cv2.CC_STAT_AREA]
    kept = np.flatnonzero(areas >= areas.max() / 4) + 1
    return np.where(np.isin(labels, kept), chance, np.minimum(chance, 0.4))
