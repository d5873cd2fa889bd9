"""What else may be in a picture: foreign backgrounds, things in front, and photos without any plug."""

from __future__ import annotations

import math
from pathlib import Path

import cv2
import numpy as np
import torch
from torch import Tensor
from torch.nn import functional as nnf

from models.locator.train.shards import Scenes
from models.locator.train.targets import PARTS, SHEET
from models.locator.train.warp import IGNORED, Warped, uniform

FOREIGN_BACKGROUND, OCCLUDED, PHOTO, RECOLOURED = 0.4, 0.15, 0.06, 0.2
"""Shares of the pictures that get their neighbour's background (if that shows no plug), things in front, are a photo without
a plug, or have each part's colour changed by itself, so that shape counts as well as colour."""

COLOUR_STRETCH, LEVEL_STRETCH = 0.35, 0.5
"""Standard deviations of the logarithm of a recoloured part's channels and of its level."""

HELD_OUT = ("coffee", "page", "china", "gravel", "motorcycle_right")
"""Photos kept for testing: a net is never trained on them."""


def load_photos(path: Path | None, shape: tuple[int, int], device: torch.device, *, held_out: bool = False) -> Tensor | None:
    """Return photos without a plug as linear float16 (n, 3, h, w), or None without a file.

    The file holds one encoded picture (JPEG bytes) a name; see `models.locator.train.negatives`.
    """
    if path is None or not path.is_file():
        return None
    with np.load(path) as file:
        names = sorted(name for name in file.files if (name.split("-")[0] in HELD_OUT) == held_out)
        pictures = [cv2.imdecode(file[name], cv2.IMREAD_COLOR)[..., ::-1] for name in names]
    resized = np.stack([cv2.resize(p, shape[::-1], interpolation=cv2.INTER_AREA) for p in pictures])
    linear = (torch.from_numpy(resized).float() / 255) ** 2.2
    return linear.permute(0, 3, 1, 2).half().to(device)


def with_photos(scenes: Scenes, photos: Tensor | None) -> Scenes:
    """Return the batch with a few pictures replaced by photos that show no plug."""
    if photos is None:
        return scenes
    n, device = len(scenes.image), scenes.image.device
    chosen = torch.rand(n, device=device) < PHOTO
    photo = photos[torch.randint(0, len(photos), (n,), device=device)]
    return Scenes(
        torch.where(chosen.view(-1, 1, 1, 1), photo, scenes.image),
        scenes.parts.masked_fill(chosen.view(-1, 1, 1), 0),
        scenes.plug.masked_fill(chosen.view(-1, 1, 1), 0),
        scenes.keys.masked_fill(chosen.view(-1, 1, 1, 1), math.nan),
        scenes.view.masked_fill(chosen.view(-1, 1), 0),
    )


def mixed(warped: Warped) -> Warped:
    """Return the crops, some with parts of another colour, foreign backgrounds and things in front."""
    return _with_occluders(_with_backgrounds(_recoloured(warped)))


def _recoloured(warped: Warped) -> Warped:
    n, device = len(warped.linear), warped.linear.device
    drawn = torch.randn(n, 3, len(PARTS), device=device) * COLOUR_STRETCH
    drawn = drawn + torch.randn(n, 1, len(PARTS), device=device) * LEVEL_STRETCH
    chosen = torch.rand(n, 1, 1, device=device) < RECOLOURED
    gains = torch.exp(torch.where(chosen, drawn, 0.0))
    part = warped.parts.clamp(max=len(PARTS) - 1).flatten(1)
    cells = gains.gather(2, part[:, None].expand(-1, 3, -1)).view(n, 3, *warped.parts.shape[1:])
    share = nnf.interpolate(cells, size=warped.linear.shape[-2:], mode="bilinear", align_corners=False)
    return warped._replace(linear=warped.linear * share)


def _with_backgrounds(warped: Warped) -> Warped:
    n, device = len(warped.linear), warped.linear.device
    free = ((warped.parts == 0) | (warped.parts == SHEET) | (warped.parts == IGNORED))[:, None]
    other, other_free = warped.linear.roll(1, 0), free.roll(1, 0).all(-1, keepdim=True).all(-2, keepdim=True)
    chosen = other_free & (torch.rand(n, 1, 1, 1, device=device) < FOREIGN_BACKGROUND)
    replaced = free & chosen
    share = nnf.interpolate(replaced.float(), size=warped.linear.shape[-2:], mode="bilinear", align_corners=False)
    parts = torch.where(replaced[:, 0], warped.parts.roll(1, 0), warped.parts)
    return warped._replace(linear=warped.linear * (1 - share) + other * share, parts=parts)


def _with_occluders(warped: Warped, pieces: int = 2) -> Warped:
    linear, parts, plug = warped.linear, warped.parts, warped.plug
    n, device = len(linear), linear.device
    for _ in range(pieces):
        cover = _ellipse(n, linear.shape[-2:], device) & (torch.rand(n, device=device) < OCCLUDED / pieces).view(-1, 1, 1)
        colour = torch.rand(n, 3, 1, 1, device=device) ** 2.2 * torch.exp(torch.randn(n, 1, 1, 1, device=device) * 0.7)
        linear = torch.where(cover[:, None], colour, linear)
        small = cover[:, 1::2, 1::2]
        parts, plug = parts.masked_fill(small & (parts != IGNORED), 0), plug.masked_fill(small, 0)
    return warped._replace(linear=linear, parts=parts, plug=plug)


def _ellipse(n: int, shape: torch.Size, device: torch.device) -> Tensor:
    h, w = shape
    y, x = torch.meshgrid(torch.arange(h, device=device), torch.arange(w, device=device), indexing="ij")
    u, v = x - uniform(n, 0, w, device).view(-1, 1, 1), y - uniform(n, 0, h, device).view(-1, 1, 1)
    angle = uniform(n, 0, math.pi, device).view(-1, 1, 1)
    a, b = (torch.exp(uniform(n, math.log(0.02), math.log(0.25), device)).view(-1, 1, 1) * w for _ in range(2))
    power = torch.where(torch.rand(n, 1, 1, device=device) < 0.5, 2.0, 8.0)
    along, across = u * torch.cos(angle) + v * torch.sin(angle), v * torch.cos(angle) - u * torch.sin(angle)
    return (along / a).abs() ** power + (across / b).abs() ** power < 1
