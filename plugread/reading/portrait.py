"""One photo as the learner sees it: its features, its fingerprint, and what the colour rules made of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.pixels import crop_codes, grown_box
from plugread.records import FiringEnd, Photo

_CELLS = 16
_AROUND = 0.5
"""The fingerprint covers the nose box grown by this share: the plug, not the table it lies on."""


@dataclass(frozen=True, eq=False)
class Portrait:
    """Features (n,) and fingerprint (bool of shape (256,)); both None, with the reason in `why`, where the photo gave none.

    `rules` is the likelihood of each look by the colour rules alone, `white` how the light was taken out.
    """

    vector: NDArray[np.float64] | None
    fingerprint: NDArray[np.bool_] | None
    rules: Mapping[str, float]
    white: str | None
    why: str | None = None


def fingerprint(photo: Photo, end: FiringEnd) -> NDArray[np.bool_]:
    """Return the difference hash of the firing end: whether each of 16 x 16 cells is brighter than its left neighbour."""
    codes = crop_codes(photo, grown_box(end.nose_box, _AROUND, photo.size))
    grey = codes.astype(np.float32).mean(-1)
    small = cv2.resize(grey, (_CELLS + 1, _CELLS), interpolation=cv2.INTER_AREA)
    return np.asarray(small[:, 1:] > small[:, :-1]).ravel()
