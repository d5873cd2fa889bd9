"""The light of a photo without a reference: what the plug's bare metal, the whole picture and the camera's own balance say.

Three votes are weighed by how far each is usually off. The metal of shell and thread is the best of them: nickel is nearly grey
and always there. Whole picture: shades of grey (Finlayson, Trezzi, "Shades of Gray and Colour Constancy", Color Imaging Conf.
2004). Typical error 4-5 degrees, that is 7-10 dE00: enough to tell soot from tan, never white from light tan.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.photo.references import load_references
from plugread.pixels import Codes, Mask, decoded_box, map_box, shrunk_codes, to_linear
from plugread.records import PARTS, FiringEnd, Photo, White

Floats = NDArray[np.float64]
Votes = tuple[tuple[Floats, float], ...]

_SIDE_PX = 256  # size the light is estimated at
_PICTURE_NORM, _METAL_NORM = 5, 3  # Minkowski norms; 5 as in the source, 3 is best for metal in our own trials
# Reflectance of nickel at normal incidence, linear sRGB: Johnson, Christy, Phys. Rev. B 9 (1974) 5056, from memory.
_NICKEL = np.array([0.660, 0.609, 0.526])
# Usual error of each vote, log units of red or blue over green; and what a plug's metal averages to (linear, in units of a white
# surface in the same light) and how far that is followed. Fitted on rendered photos, our own.
_METAL_OFF, _PICTURE_OFF, _CAMERA_OFF, _SHEET_OFF, _FAR = 0.10, 0.20, 0.22, 0.05, 0.45
_METAL_LEVEL, _PICTURE_LEVEL, _FOLLOWED = 0.37, 0.50, 0.9
_LIGHT_LIMITS = (0.35, 2.8)  # red and blue over green of any light a balanced photo still shows; our own
_LEAST_PIXELS = 120
_ADVICE = "no reference in the photo: put white paper, or paper and a grey card, beside the plug in the same light"


@dataclass(frozen=True, eq=False)
class Estimate:
    """The light as estimated.

    `light` is its colour, linear RGB with green = 1, shape (3,); `gain` brings white to 1; `source` says what it rests on;
    `votes` are (log red and blue over green of shape (2,), usual error).
    """

    light: Floats
    gain: float
    source: str
    votes: Votes

    def joined_by(self, surface: Floats) -> Floats:
        """Return the light's colour once a surface (linear RGB, shape (3,)) taken for white or grey has voted as well."""
        return _light((*self.votes, (_log_chroma(surface), _SHEET_OFF)))


def estimated_white(photo: Photo, guess: Estimate, why: str | None = None) -> White:
    """Return the correction by estimate; its `spread_lab` is wide and `level_known` is False."""
    return White(
        method="estimated",
        detail=f"light estimated from {guess.source}",
        gains=guess.gain / guess.light,
        power=np.ones(3),
        matrix=np.eye(3),
        level_known=False,
        spread_lab=load_references().spread["estimated"],
        why=why or _ADVICE,
    )


def estimate_light(photo: Photo, ends: Sequence[FiringEnd]) -> Estimate:
    """Return the light as the picture, the plugs' metal and the camera's balance suggest it."""
    picture = _norm(_usable_pixels(photo), _PICTURE_NORM)
    votes: Votes = ((np.zeros(2), _CAMERA_OFF), (_log_chroma(picture), _PICTURE_OFF))
    gain = (_PICTURE_LEVEL / max(picture[1], 1e-4)) ** _FOLLOWED
    metal_pixels = _metal_pixels(photo, ends)
    if len(metal_pixels) < _LEAST_PIXELS:
        return Estimate(_light(votes), _within(gain), "the whole picture", votes)
    metal = _norm(metal_pixels, _METAL_NORM)
    votes = (*votes, (_log_chroma(metal / _NICKEL), _METAL_OFF))
    gain = np.sqrt(gain * (_METAL_LEVEL / max(metal[1], 1e-4)) ** _FOLLOWED)
    return Estimate(_light(votes), _within(gain), "the plug's metal and the whole picture", votes)


def plug_mask(photo: Photo, ends: Sequence[FiringEnd], size: tuple[int, int]) -> Mask:
    """Return where the found plugs lie, on a grid of `size` (w, h) laid over the whole photo."""
    ground = ("background", "sheet")
    mask = np.zeros(size[::-1], bool)
    for end in ends:
        covered, rows, columns = _on_grid(photo, end, ground, size)
        mask[rows, columns] |= covered < 0.5
    return mask


def sheet_chance(photo: Photo, ends: Sequence[FiringEnd], size: tuple[int, int]) -> NDArray[np.float32]:
    """Return how likely each cell of a grid of `size` (w, h) is paper or card by the finder, 0-1; nan where it did not look.

    The closer looks say it near the plugs, the look at the whole picture everywhere else.
    """
    chance = np.full(size[::-1], np.nan, np.float32)
    for end in ends:
        if end.by_hand:
            continue
        if end.sheets is not None:
            chance = np.fmax(chance, cv2.resize(end.sheets, size, interpolation=cv2.INTER_LINEAR))
        sheet, rows, columns = _on_grid(photo, end, ("sheet",), size)
        told = np.where(sheet > 0, sheet, np.nan)  # exactly 0 stands where the finder was not asked
        chance[rows, columns] = np.fmax(chance[rows, columns], told)
    return chance


# ---- votes -----------------------------------------------------------------------------------------------


def _light(votes: Votes) -> Floats:
    """Return the weighted mean of the votes (log red and blue over green), those far from the others counting little."""
    values = np.array([v for v, _ in votes])
    weights = np.array([1 / off**2 for _, off in votes])
    middle = np.average(values, axis=0, weights=weights)
    for _ in range(4):
        far = np.hypot(*(values - middle).T) / _FAR
        middle = np.average(values, axis=0, weights=weights / (1 + far**2))
    return np.asarray(np.clip(np.exp([middle[0], 0.0, middle[1]]), *_LIGHT_LIMITS))


def _log_chroma(rgb: Floats) -> Floats:
    safe = np.log(np.maximum(rgb, 1e-5))
    return np.asarray(np.clip(safe[[0, 2]] - safe[1], np.log(_LIGHT_LIMITS[0]), np.log(_LIGHT_LIMITS[1])))


def _norm(pixels: Floats, power: int) -> Floats:
    raised = pixels.copy()
    for _ in range(power - 1):  # several times quicker than ** for a whole power
        raised *= pixels
    return np.asarray(raised.mean(axis=0) ** (1 / power))


def _within(gain: float) -> float:
    return float(np.clip(gain, 0.4, 6.0))


# ---- pixels ----------------------------------------------------------------------------------------------


def _usable_pixels(photo: Photo) -> Floats:
    """Return pixels (n, 3) of the whole photo, linear: neither clipped nor black nor transparent; all if little is left."""
    codes = shrunk_codes(photo, _SIDE_PX)
    usable = _exposed(codes)
    if photo.valid is not None:
        usable &= cv2.resize(photo.valid.astype(np.uint8), codes.shape[1::-1], interpolation=cv2.INTER_NEAREST) > 0
    chosen = usable if usable.mean() > 0.01 else np.ones_like(usable)
    return np.maximum(to_linear(photo, codes[chosen]).astype(np.float64), 0.0)


def _metal_pixels(photo: Photo, ends: Sequence[FiringEnd]) -> Floats:
    """Return pixels (n, 3) of rim, thread and hex of all plugs, linear, unclipped."""
    codes = shrunk_codes(photo, 2 * _SIDE_PX)
    size = (codes.shape[1], codes.shape[0])
    metal = np.zeros(codes.shape[:2], bool)
    for end in ends:
        chance, rows, columns = _on_grid(photo, end, ("rim", "thread", "hex"), size)
        metal[rows, columns] |= chance > 0.7
    chosen = metal & _exposed(codes)
    return np.maximum(to_linear(photo, codes[chosen]).astype(np.float64), 0.0)


def _exposed(codes: Codes) -> Mask:
    top = np.iinfo(codes.dtype).max
    bright, dark = int(np.ceil(0.97 * top)) - 1, int(0.02 * top)
    inside, black = cv2.inRange(codes, (0, 0, 0), (bright,) * 3), cv2.inRange(codes, (0, 0, 0), (dark,) * 3)
    return np.asarray((inside > 0) & (black == 0))


def _on_grid(
    photo: Photo, end: FiringEnd, names: tuple[str, ...], size: tuple[int, int]
) -> tuple[NDArray[np.float32], slice, slice]:
    """Return the summed probability of parts on the cells of a grid over the photo, and which rows and columns these are."""
    kx, ky = size[0] / photo.rgb.shape[1], size[1] / photo.rgb.shape[0]
    x, y, w, h = decoded_box(photo, map_box(end.parts))
    x0, y0, x1, y1 = round(x * kx), round(y * ky), round((x + w) * kx), round((y + h) * ky)
    if x1 <= x0 or y1 <= y0:
        return np.zeros((0, 0), np.float32), slice(0, 0), slice(0, 0)
    chance = end.parts.probability[[PARTS.index(name) for name in names]].sum(axis=0, dtype=np.float32)
    resized = np.asarray(cv2.resize(chance, (x1 - x0, y1 - y0), interpolation=cv2.INTER_LINEAR), np.float32)
    return resized, slice(y0, y1), slice(x0, x1)
