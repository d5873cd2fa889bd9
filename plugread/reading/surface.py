"""What a small net makes of a firing end's surface: how much it looks like each reading, by texture, shape and colour together.

The net sees a square about nose, electrodes and rim in corrected light, four times, turned and at two distances: no plug lies
upright, and what one look takes for a chip another does not. How it was taught, on rendered plugs alone, stands in
`models/surface/train`. Its answers are features of a taught model (`features.py`), never a reading by themselves. Only
OpenCV's `cv2.dnn` is used; weights are checked against the hash in their card before they are loaded.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plugread.colour import srgb_encode
from plugread.errors import ModelError
from plugread.nets import AGAIN, card_of, net_of, softmax
from plugread.pixels import apply_white, averaged, moved, to_linear
from plugread.records import PARTS, Box, FiringEnd, Photo, White
from plugread.resources import models_dir

Floats = NDArray[np.float64]

READINGS = (
    *("normal", "carbon_fouled", "oil_fouled", "fuel_wet", "coolant_wet", "coolant_crust", "additive_stain"),
    *("loose_powder", "ash_crust", "glazed", "lead_fouled", "lean_white", "overheated", "preignition_melt"),
    *("detonation_damage", "metal_specks", "worn", "gap_bridged", "splash_fouled", "nose_cracked"),
    *("nose_piece_missing", "struck"),
)
"""The looks it tells apart, in order."""

NOTHING = "no_firing_end"
ANSWERS = (*READINGS, NOTHING)
"""The net's answers, in order: one of the looks, or that this is no firing end at all."""

SIDE_PX = 224
"""Side of the square the net sees."""

REACH = 2.0
"""The square's side over the square root of the area of nose, electrodes and rim."""

NEARER = 1.2
"""Every other look is so much nearer (our own choice, on held-out renders: four looks are right in 84 of 100, one in 82)."""

LEAST_SHARE = 1e-4
"""Smaller shares count as this: the net was never taught to tell them apart."""

_FIRE = tuple(PARTS.index(name) for name in ("nose", "centre", "strap", "rim"))
_ABOUT_NOSE = 3.0
"""Where only a box round the nose is known: the square's side over the root of the box's area, as it mostly is where all is known
(median of 103 rendered plugs; 2.6 to 3.7 for eight in ten)."""
_EVERY = 2
"""So many cells are one step, each way: the square needs no more."""
_SURE, _FEWEST = 0.5, 12
"""A cell of the part map is the firing end's from this probability on; with fewer steps there is nothing to look at."""


class SurfaceNet:
    """The loaded net; safe to share between threads (they take turns)."""

    def __init__(self, net: Any, given: Mapping[str, float]) -> None:
        self._net, self._given, self._turn = net, given, threading.Lock()

    def shares(self, rgb: Floats) -> Floats:
        """Return the share of each of `ANSWERS` in what a crop shows: of shape (23,), sums to 1.

        Parameters
        ----------
        rgb : of shape (224, 224, 3), encoded RGB in 0-1, corrected light.
        """
        blob = ((rgb - self._given["mean"]) * self._given["gain"]).transpose(2, 0, 1)[None]
        with self._turn:
            self._net.setInput(np.ascontiguousarray(blob, np.float32))
            said = np.asarray(self._net.forward()).ravel()
        return softmax(said).astype(np.float64)


def log_shares(photo: Photo, end: FiringEnd, white: White) -> dict[str, float]:
    """Return the natural log of each answer's share, -9.2 to 0; empty where the firing end is too small to be looked at.

    Raises
    ------
    ModelError
        The weights are missing or damaged.
    """
    box = square_about(end)
    if box is None:
        return {}
    net = shipped_net(models_dir() / "surface")
    mean = np.mean([np.log(np.maximum(net.shares(rgb), LEAST_SHARE)) for rgb in looks(photo, box, white)], axis=0)
    shares = softmax(mean)
    return dict(zip(ANSWERS, np.log(np.maximum(shares, LEAST_SHARE)).tolist(), strict=True))


def square_about(end: FiringEnd) -> Box | None:
    """Return the full-size square the net is to see; it may reach beyond the photo. None if hardly any firing end shows."""
    if end.by_hand:
        x, y, w, h = end.nose_box
        side = _ABOUT_NOSE * math.sqrt(w * h)
        return round(x + (w - side) / 2), round(y + (h - side) / 2), max(round(side), 1), max(round(side), 1)
    parts, step = end.parts, _EVERY * end.parts.step
    rows, columns = np.nonzero(parts.probability[:, ::_EVERY, ::_EVERY][list(_FIRE)].sum(0) > _SURE)
    if len(rows) < _FEWEST:
        return None
    side = REACH * math.sqrt(len(rows)) * step
    x, y = parts.x0 + (columns.mean() + 0.5) * step, parts.y0 + (rows.mean() + 0.5) * step
    return round(x - side / 2), round(y - side / 2), max(round(side), 1), max(round(side), 1)


def looks(photo: Photo, box: Box, white: White) -> tuple[Floats, ...]:
    """Return four looks at a square of the photo, each as of `crop`: by quarter turns, every other one `NEARER`."""
    x, y, w, h = box
    cut_x, cut_y = round(w * (1 - 1 / NEARER) / 2), round(h * (1 - 1 / NEARER) / 2)
    whole = crop(photo, box, white)
    near = crop(photo, (x + cut_x, y + cut_y, w - 2 * cut_x, h - 2 * cut_y), white)
    return whole, np.rot90(near), np.rot90(whole, 2), np.rot90(near, 3)


def crop(photo: Photo, box: Box, white: White) -> Floats:
    """Return a box of the photo in corrected light as the net sees it: (224, 224, 3), encoded, 0-1; edges are continued."""
    x, y, w, h = (side / photo.scale for side in box)
    rows, columns = photo.rgb.shape[:2]
    left, top = max(int(x), 0), max(int(y), 0)
    piece = photo.rgb[top : min(math.ceil(y + h) + 1, rows), left : min(math.ceil(x + w) + 1, columns)]
    shrink = min(1.0, SIDE_PX / max(w, h))
    small = averaged(piece, (max(round(piece.shape[1] * shrink), 1), max(round(piece.shape[0] * shrink), 1)))
    ratio = np.array([piece.shape[1] / small.shape[1], piece.shape[0] / small.shape[0]])
    step = np.array([w, h]) / SIDE_PX
    move = np.column_stack([np.diag(step / ratio), (np.array([x - left, y - top]) + step / 2) / ratio - 0.5])
    linear = to_linear(photo, moved(small, move, (SIDE_PX, SIDE_PX)))
    return np.asarray(srgb_encode(np.clip(apply_white(white, linear), 0.0, 1.0)))


@lru_cache(maxsize=1)
def shipped_net(folder: Path) -> SurfaceNet:
    """Return the net of a model folder, loaded once.

    Raises
    ------
    ModelError
        The card or the weights are missing, damaged, or made for other readings than this program knows.
    """
    what = "the surface net"
    card = card_of(folder, what)
    net = net_of(folder, card, what)
    if tuple(card.get("answers", ())) != ANSWERS:
        raise ModelError(f"{what} tells other readings apart than this program", AGAIN)
    return SurfaceNet(net, card["input"])
