"""Finds firing ends: a first look at the whole picture, a closer look at each plug; doubtful finds are refused with the reason.

The closer look sees every firing end at about the same size. Where it is not sure, or does not agree with the first look, the
plug is looked at once more, mirrored, and the two closer looks are averaged; if these disagree as well the find is not
believed. What was learned, from which pictures, stands in `models/locator/card.json`.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from plugread.errors import PhotoError
from plugread.photo.doubt import nothing_found
from plugread.photo.firing_end import Candidate, judged
from plugread.photo.instances import instances
from plugread.photo.lineup import counted_once, empty_places, plugs_of_row
from plugread.photo.look import CloseLook, Seen
from plugread.photo.part_net import PartNet, shipped_net
from plugread.photo.pyramid import Pyramid
from plugread.photo.squares import LEAST_CROP_PX, Square, about, alike, around, rounded
from plugread.records import Box, FiringEnd, PartMap
from plugread.resources import models_dir

Picture = NDArray[np.uint8]
Kind = Literal["fine", "quick"]

# Sides in pixels of a net's input (our own choice, from scores against time): the whole picture, the same where many plugs
# are expected or were missed, and where a row still lacks some (a nose of a long row is a few cells wide before that); the
# square of a closer look, and the square where one closer look is not enough.
_WHOLE_PX: dict[Kind, tuple[int, int, int]] = {"fine": (512, 800, 1408), "quick": (448, 704, 1216)}
_LEAST_PX = 800  # up to here a smaller picture is enlarged; further enlarged, as a test showed, it misleads
_CLOSE_PX: dict[Kind, int] = {"fine": 448, "quick": 352}
_AGAIN_PX: dict[Kind, int] = {"fine": 576, "quick": 352}
_MANY, _MOST_LOOKS = 5, 20  # so many plugs expected are many; most closer looks at one picture
# The nose of the plug that a square is meant for lies within such a share of its side from its middle; nearer than the second
# share lies no nose but that one's, and what a closer look sees there of a plug cut off by its edge is not looked at by itself.
_ITS_OWN, _BESIDE = 0.25, 0.45


class Locator:
    """Finds firing ends with the shipped nets: one for the whole picture, another, or the same, for the closer looks."""

    def __init__(self, net: PartNet, kind: Kind, close: PartNet | None = None) -> None:
        self._net, self._kind = net, kind
        self._close = CloseLook(close or net, _CLOSE_PX[kind], _AGAIN_PX[kind])

    def locate(self, rgb: Picture, *, expected: int | None = None, box: Box | None = None) -> tuple[FiringEnd, ...]:
        """Return the firing ends of a picture, in order along the row.

        Parameters
        ----------
        rgb : uint8 of shape (h, w, 3), upright, encoded sRGB.
        expected : how many plugs it should show; if fewer are found, a finer first look follows. The count may still differ.
        box : x, y, width, height of the only part to look at; the whole picture by default.

        Raises
        ------
        PhotoError
            No believable firing end, with the reason and what to do.
        """
        if box is not None:
            return self._inside(rgb, box, expected)
        pyramid = Pyramid(rgb)
        sizes = [size for size in _WHOLE_PX[self._kind] if size <= max(_LEAST_PX, *rgb.shape[:2])]
        found: tuple[Candidate, ...] = ()
        tried: list[Square] = []
        for size in sizes[(expected or 1) >= _MANY :]:
            if size > _LEAST_PX and not _lacking(found, expected):
                break
            whole_size = _net_size(rgb, size)
            whole = self._net.answer(pyramid.whole(whole_size[0]), whole_size)
            seen = Seen((0.0, 0.0, pyramid.shape[1], pyramid.shape[0]), whole)
            squares = _first_squares(seen, rgb.shape)
            alone = len(squares) == 1
            found = counted_once((*found, *self._closer(pyramid, seen, _unknown(squares, found), alone=alone)))
            believed = sum(one.doubt is None for one in found)
            if believed == len(found) == 1 if expected is None else believed >= expected:
                break
            empty = [one for one in _between(found, rgb.shape) if not any(alike(one, other) for other in tried)]
            tried += empty
            found = counted_once((*found, *self._closer(pyramid, seen, list(empty), alone=False)))
        if ends := plugs_of_row(found, expected):
            return ends
        doubt = next((one.doubt for one in found if one.doubt), None)
        raise PhotoError(doubt.why, doubt.advice) if doubt else nothing_found(whole)

    def _inside(self, rgb: Picture, box: Box, expected: int | None) -> tuple[FiringEnd, ...]:
        x, y = max(box[0], 0), max(box[1], 0)
        part = np.ascontiguousarray(rgb[y : box[1] + box[3], x : box[0] + box[2]])
        if min(part.shape[:2]) < LEAST_CROP_PX:
            raise PhotoError(f"the box {box} is too small to look at", f"draw it at least {LEAST_CROP_PX} px wide and high")
        return tuple(_moved(end, x, y) for end in self.locate(part, expected=expected))

    def _closer(self, pyramid: Pyramid, before: Seen, waiting: list[Square], *, alone: bool) -> list[Candidate]:
        """Look at each square, and at plugs seen beside the one meant; `alone` where the look before saw one plug only."""
        seen: list[Square] = []
        found: list[Candidate] = []
        while waiting and len(seen) < 2 * _MOST_LOOKS:
            square = waiting.pop(0)
            if any(alike(square, other) for other in seen):
                continue
            seen.append(square)
            find = self._close.find(pyramid, square, before)
            if find is None:
                continue
            seen.append(find.square_of(find.mine, pyramid.shape))
            beside = [one for one in find.others if not any(other.holds(find.place(one), _BESIDE) for other in (*seen, *waiting))]
            waiting += [find.square_of(one, pyramid.shape) for one in beside]
            found.append(judged(find, before, alone=alone))
        return found


def load_locator(kind: Kind = "fine", folder: Path | None = None) -> Locator:
    """Return the locator: "fine" for measuring, "quick" for a preview; from the installed models unless a folder is given.

    The small net, where there is one, looks at whole pictures, and in a preview at everything. Without it the fine net does it
    all, in a preview on smaller pictures: it finds as many noses and marks them a little less sharply.

    Raises
    ------
    ModelError
        The shipped model is missing or damaged.
    """
    home = folder or models_dir() / "locator"
    return Locator(shipped_net(home, "quick"), kind, shipped_net(home, kind))


def _lacking(found: tuple[Candidate, ...], expected: int | None) -> bool:
    """Return whether a row may lack plugs for want of pixels; one plug that two looks do not show is not missed for that."""
    return len(found) > 1 and any(one.doubt for one in found) if expected is None else expected > 1


def _net_size(rgb: Picture, long_side: int) -> tuple[int, int]:
    """Return the net's input (width, height) for a whole picture; the nets have seen every turn, so upright stays upright."""
    height, width = rgb.shape[:2]
    scale = long_side / max(height, width)
    return rounded(width * scale), rounded(height * scale)


def _first_squares(seen: Seen, shape: tuple[int, ...]) -> list[Square]:
    """Return the squares to look at for the plugs of a first look."""
    cell = seen.covers[2] / seen.answer.parts.shape[2], seen.covers[3] / seen.answer.parts.shape[1]
    return [around(one, cell, (0.0, 0.0), shape) for one in instances(seen.answer)]


def _unknown(squares: list[Square], found: tuple[Candidate, ...]) -> list[Square]:
    """Return the squares without those that show a believed find: it was looked at closely before."""
    believed = [one.centre for one in found if one.doubt is None]
    return [one for one in squares if not any(one.holds(nose, _ITS_OWN) for nose in believed)]


def _between(found: tuple[Candidate, ...], shape: tuple[int, ...]) -> list[Square]:
    """Return the squares to look at where a row has room for plugs that were missed."""
    return [about(x, y, reach, shape) for x, y, reach in empty_places(found, shape)]


def _moved(end: FiringEnd, x: int, y: int) -> FiringEnd:
    left, top, width, height = end.nose_box
    parts = PartMap(end.parts.probability, end.parts.x0 + x, end.parts.y0 + y, end.parts.step)
    points = {name: (px + x, py + y, sure) for name, (px, py, sure) in end.key_points.items()}
    box = (left + x, top + y, width, height)
    return FiringEnd(box, end.view, end.view_probability, parts, points, end.score, end.agreement, end.by_hand)
