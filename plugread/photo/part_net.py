"""Runs a shipped net on a picture or a crop and gives its answers as probabilities.

The net looks at RGB and answers for cells of 2 x 2 of its input pixels; how it was made stands in `models/locator/train`.
Only OpenCV's `cv2.dnn` is used. Weights are checked against the hash in the model card before they are loaded.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.errors import ModelError
from plugread.nets import AGAIN, card_of, net_of, softmax
from plugread.records import KEY_POINTS, PARTS

Floats = NDArray[np.float32]

CELL_PX = 2
"""Input pixels for one cell of the answer, each way."""


@dataclass(frozen=True, eq=False)
class Answer:
    """What the net says of one crop; maps have (h / 2, w / 2) cells.

    Parameters
    ----------
    parts : float32 of shape (9, h, w), probabilities, channels as `PARTS`.
    heats : float32 of shape (5, h, w), 0-1, channels `KEY_POINTS` and the nose centre.
    offsets : float32 of shape (2, h, w): (x, y) in cells from each cell to the nose centre of its own plug.
    views, qualities : name -> probability for the whole crop.
    """

    parts: Floats
    heats: Floats
    offsets: Floats
    views: Mapping[str, float]
    qualities: Mapping[str, float]

    def mirrored(self) -> Answer:
        """Return the answer for the picture mirrored left to right."""
        turned = self.offsets[:, :, ::-1] * np.array([-1, 1], np.float32)[:, None, None]
        return Answer(self.parts[..., ::-1], self.heats[..., ::-1], turned, self.views, self.qualities)

    def averaged(self, other: Answer) -> Answer:
        """Return the mean of two answers for the same crop."""
        half = np.float32(0.5)
        parts, heats = half * (self.parts + other.parts), half * (self.heats + other.heats)
        offsets = half * (self.offsets + other.offsets)
        views = {name: (p + other.views[name]) / 2 for name, p in self.views.items()}
        qualities = {name: (p + other.qualities[name]) / 2 for name, p in self.qualities.items()}
        return Answer(parts, heats, offsets, views, qualities)


class PartNet:
    """One loaded net; safe to share between threads (they take turns)."""

    def __init__(self, net: Any, card: Mapping[str, Any]) -> None:
        self._net, self._card, self._turn = net, card, threading.Lock()

    def answer(self, rgb: NDArray[np.uint8], size: tuple[int, int]) -> Answer:
        """Return the answer for a crop (h, w, 3), encoded RGB, resized to `size` (width, height) first.

        Width and height are multiples of the card's `multiple_of`.
        """
        way = cv2.INTER_AREA if size[0] < rgb.shape[1] else cv2.INTER_LINEAR
        small = cv2.resize(rgb, size, interpolation=way)
        given = self._card["input"]
        mean = (given["mean"] * 255,) * 3
        blob = cv2.dnn.blobFromImage(small, given["gain"] / 255, mean=mean, swapRB=False, crop=False)
        with self._turn:
            self._net.setInput(blob)
            dense, whole = self._net.forward(["dense", "whole"])
        return self._named(np.asarray(dense)[0], np.asarray(whole).ravel())

    def _named(self, dense: Floats, whole: Floats) -> Answer:
        layout, names = self._card["dense"], self._card["whole"]
        parts, heats, offsets = np.split(dense, [len(PARTS), len(PARTS) + len(layout["heats"])])
        views, qualities = np.split(whole, [len(names["views"])])
        return Answer(
            softmax(parts),
            np.asarray(1 / (1 + np.exp(-np.clip(heats, -30, 30))), np.float32),
            offsets * np.float32(layout["offset_cells"]),
            dict(zip(names["views"], softmax(views).tolist(), strict=True)),
            dict(zip(names["qualities"], softmax(qualities).tolist(), strict=True)),
        )


def shipped_nets(folder: Path) -> tuple[str, ...]:
    """Return the kinds of net that a model folder's card lists; empty if there is no card that can be read."""
    try:
        return tuple(json.loads((folder / "card.json").read_text(encoding="utf-8"))["nets"])
    except (OSError, ValueError, KeyError, TypeError):
        return ()


def shipped_net(folder: Path, kind: str = "fine") -> PartNet:
    """Return a net of a model folder, loaded once for all who look with it; the fine one where the card lists no such kind.

    Errors as for `load_net`.
    """
    return _kept_net(folder, kind if kind in shipped_nets(folder) else "fine")


@lru_cache(maxsize=4)
def _kept_net(folder: Path, kind: str) -> PartNet:
    return load_net(folder, kind)


def load_net(folder: Path, kind: str) -> PartNet:
    """Return the net `kind` ("fine" or "quick") of a model folder; the fine one where the card lists no quick one.

    Raises
    ------
    ModelError
        The card or the weights are missing, damaged, or made for other parts than this program knows.
    """
    what = f"the locator {kind!r}"
    card = card_of(folder, what)
    nets, dense = (table if isinstance(table := card.get(name), dict) else {} for name in ("nets", "dense"))
    known = tuple(dense.get("parts", ())), tuple(dense.get("heats", ()))[: len(KEY_POINTS)]
    if known != (PARTS, KEY_POINTS):
        raise ModelError(f"the locator in {folder} tells other parts apart than this program", AGAIN)
    return PartNet(net_of(folder, nets.get(kind) or nets.get("fine"), what), card)
