"""Rendered close-ups, what is held of them, and random crops of them as a phone would give them.

Held is a square region about each firing end, `HELD` times as wide as what the net is to see of it, so that a crop may lie
askew, and at the net's scale, so that twice as many fit the memory.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import cv2
import numpy as np
import torch
from torch import Tensor
from torch.nn import functional as nnf

from models.locator.train.camera import developed
from models.locator.train.shards import Arrays, light
from models.locator.train.warp import uniform
from plugread.reading.surface import REACH, SIDE_PX

HELD = 1.6
HELD_PX = round(HELD * SIDE_PX)
LEAST_PIXELS = 250
"""Firing ends with fewer pixels are left out: something stands before them."""

PAPER = 0.85
"""Linear level of a white sheet in a picture that is exposed as usual."""

LIGHT_KNOWN, KNOWN, GUESSED = 0.5, (0.04, 0.15), (0.14, 0.40)
"""Share of the crops whose light was taken out by a sheet; what is left of its colour and level then, and where it was guessed:
standard deviations of the logarithm."""

SIZE, SHIFT, TILT = 0.13, 0.06, 0.15
"""Spread of the crop's size (logarithm) and place (sides) against the firing end as labelled, and of the tilt across a crop."""

BLURRED = 0.03
"""Share of the crops that are moved or out of focus."""


class CloseUps(NamedTuple):
    """Regions about firing ends."""

    image: Tensor
    """float16 (n, 3, `HELD_PX`, `HELD_PX`), linear; edges are continued."""
    white: Tensor
    amounts: Tensor


def close_ups_of(file: Arrays, wanted: np.ndarray) -> tuple[CloseUps, np.ndarray]:
    """Return the pictures of a shard on which a firing end is to be seen, and which of those wanted these are."""
    squares = [square_of(fire) for fire in file["fire"][wanted]]
    seen = np.isfinite([side for _, _, side in squares])
    kept, images = wanted[seen], file["image"][wanted]
    held = [region(image, square) for image, square, shows in zip(images, squares, seen, strict=True) if shows]
    white, amounts = (torch.from_numpy(file[name][kept]) for name in ("white", "amounts"))
    image = light(np.array(held, np.float16).reshape(-1, HELD_PX, HELD_PX, 3))
    return CloseUps(image, white, amounts), kept


def region(image: np.ndarray, square: tuple[float, float, float]) -> np.ndarray:
    """Return what is held of a picture (h, w, 3) whose firing end fills `square`: (`HELD_PX`, `HELD_PX`, 3), float32."""
    x, y, side = square
    step = side / SIDE_PX
    first = 0.5 * (1 - HELD_PX)  # middle of the first pixel, from the middle of the region
    move = np.array([[step, 0, x - 0.5 + first * step], [0, step, y - 0.5 + first * step]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(image.astype(np.float32), move, (HELD_PX, HELD_PX), flags=how, borderMode=cv2.BORDER_REPLICATE)


def square_of(fire: np.ndarray) -> tuple[float, float, float]:
    """Return the middle (x, y) and the side of the square about a firing end, pixels; nan where too little of it shows."""
    rows, columns = np.nonzero(fire)
    if len(rows) < LEAST_PIXELS:
        return math.nan, math.nan, math.nan
    return columns.mean() + 0.5, rows.mean() + 0.5, REACH * math.sqrt(len(rows))


def random_crops(pictures: CloseUps) -> Tensor:
    """Return a crop of each picture (n, 3, side, side), turned and mirrored at random, as encoded RGB in 0-1."""
    balanced = _balanced(pictures)
    return developed(_cropped(balanced, shaken=True), round(len(balanced) * BLURRED))


def plain_crops(pictures: CloseUps) -> Tensor:
    """Return the upright crop of each picture in exactly corrected light, encoded by a plain power."""
    exact = pictures.image.float() / pictures.white[:, :, None, None].clamp(min=1e-4) * PAPER
    return _cropped(exact, shaken=False).clamp(0, 1) ** (1 / 2.2)


def _balanced(pictures: CloseUps) -> Tensor:
    """Return the pictures in light that was taken out as well as a user's photo lets it be."""
    n, device = len(pictures.image), pictures.image.device
    known = torch.rand(n, 1, device=device) < LIGHT_KNOWN
    colour, level = (torch.where(known, a, b) for a, b in zip(KNOWN, GUESSED, strict=True))
    error = torch.randn(n, 3, device=device) * colour + torch.randn(n, 1, device=device) * level
    gain = PAPER * torch.exp(error) / pictures.white.clamp(min=1e-4)
    return pictures.image.float() * gain[:, :, None, None]


def _cropped(linear: Tensor, *, shaken: bool) -> Tensor:
    n, device, half = len(linear), linear.device, float(shaken)
    turn = uniform(n, 0, 2 * math.pi, device) * half
    flip = torch.where((torch.rand(n, device=device) < 0.5) & shaken, -1.0, 1.0)
    side = SIDE_PX * torch.exp(torch.randn(n, device=device) * SIZE * half)
    stretch = torch.exp(torch.randn(n, device=device) * 0.05 * half)
    cos, sin = torch.cos(turn) * side / 2, torch.sin(turn) * side / 2
    matrix = torch.stack([cos * flip * stretch, -sin, sin * flip * stretch, cos], -1).view(n, 2, 2)
    middle = HELD_PX / 2 + torch.randn(n, 2, device=device) * SHIFT * half * SIDE_PX
    tilt = torch.randn(n, 2, 1, device=device) * TILT * half
    at = (torch.arange(SIDE_PX, device=device) + 0.5) * (2 / SIDE_PX) - 1
    y, x = torch.meshgrid(at, at, indexing="ij")
    place = torch.stack([x, y], -1).view(1, -1, 2)
    source = (place @ matrix.transpose(1, 2)) / (1 + place @ tilt).clamp(min=0.4) + middle[:, None]
    full = torch.tensor(linear.shape[:-3:-1], device=device)
    grid = (source / full * 2 - 1).view(n, SIDE_PX, SIDE_PX, 2)
    return nnf.grid_sample(linear, grid, mode="bilinear", padding_mode="border", align_corners=False)
