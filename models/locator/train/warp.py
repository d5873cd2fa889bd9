"""Where the camera stands: random crop, zoom, turn, flip and tilt of rendered pictures, with all targets carried along."""

from __future__ import annotations

import math
from typing import NamedTuple

import torch
from torch import Tensor
from torch.nn import functional as nnf

from models.locator.train.shards import Scenes

ZOOM = (0.7, 2.1)
"""Range of the zoom, 1 = the picture's height fills the crop."""

CLOSE_SHARE, CLOSER = 0.22, (1.2, 1.7)
"""So many crops come closer still by a factor from this range: the finder takes a second look at the electrodes."""

TILT = 0.22
"""Largest perspective shortening from the middle to the edge of a crop."""

IGNORED = 255
"""Part index of cells that lie outside the picture."""


class View(NamedTuple):
    """How output pixels map to source pixels: source = centre + matrix @ p / (1 + tilt . p), p from the crop's middle."""

    matrix: Tensor
    tilt: Tensor
    centre: Tensor
    size: tuple[int, int]
    """Height and width of the crop, pixels."""


class Warped(NamedTuple):
    """Crops and their targets; maps and points are in cells of 2 x 2 crop pixels."""

    linear: Tensor
    """float32 (n, 3, h, w)."""
    parts: Tensor
    """int64 (n, h / 2, w / 2), `IGNORED` outside the picture."""
    plug: Tensor
    keys: Tensor
    """float32 (n, 8, 5, 2) cells, nan = absent."""
    view: Tensor


def uniform(n: int, low: float, high: float, device: torch.device) -> Tensor:
    """Return n numbers spread evenly over low to high."""
    return torch.rand(n, device=device) * (high - low) + low


def random_view(scenes: Scenes, size: int) -> View:
    """Return a square view of each picture, half of them aimed near a firing end."""
    n, device = len(scenes.image), scenes.image.device
    height = scenes.image.shape[-2]
    zoom = torch.exp(uniform(n, math.log(ZOOM[0]), math.log(ZOOM[1]), device)) * size / height
    zoom = zoom * torch.where(torch.rand(n, device=device) < CLOSE_SHARE, uniform(n, *CLOSER, device), 1.0)
    quarter = torch.randint(0, 4, (n,), device=device) * (math.pi / 2) + torch.randn(n, device=device) * 0.12
    turn = torch.where(torch.rand(n, device=device) < 0.55, quarter, uniform(n, 0, 2 * math.pi, device))
    flip = torch.where(torch.rand(n, device=device) < 0.5, -1.0, 1.0)
    stretch = torch.exp(torch.randn(n, device=device) * 0.05)
    cos, sin = torch.cos(turn) / zoom, torch.sin(turn) / zoom
    matrix = torch.stack([cos * flip * stretch, -sin, sin * flip * stretch, cos], -1).view(n, 2, 2)
    tilt = uniform(2 * n, -TILT, TILT, device).view(n, 2) * (torch.rand(n, 1, device=device) < 0.5) / (size / 2)
    return View(matrix, tilt, _aims(scenes, zoom, size), (size, size))


def whole_view(scenes: Scenes, width: int) -> View:
    """Return each whole picture, scaled to `width` pixels."""
    n, device = len(scenes.image), scenes.image.device
    h, w = scenes.image.shape[-2:]
    matrix = torch.eye(2, device=device).expand(n, 2, 2) * (w / width)
    centre = torch.tensor([w / 2, h / 2], device=device).expand(n, 2)
    return View(matrix, torch.zeros(n, 2, device=device), centre, (width * h // w, width))


def warp(scenes: Scenes, view: View) -> Warped:
    """Return the crops of `view`."""
    height, width = view.size
    grid = _grid(scenes, view, (height, width))
    coarse = _grid(scenes, view, (height // 2, width // 2))
    linear = nnf.grid_sample(scenes.image.float(), grid, mode="bilinear", padding_mode="border", align_corners=False)
    labels = torch.stack([scenes.parts, scenes.plug], 1).float()
    parts, plug = nnf.grid_sample(labels, coarse, mode="nearest", padding_mode="border", align_corners=False).long().unbind(1)
    outside = (coarse.abs() > 1).any(-1)
    keys = _to_crop(scenes.keys, view)
    return Warped(linear, parts.masked_fill(outside, IGNORED), plug.masked_fill(outside, 0), keys, scenes.view.long())


def _aims(scenes: Scenes, zoom: Tensor, crop: int) -> Tensor:
    """Return the source points in the middle of the crops; most crops are kept inside the picture."""
    n, device = len(scenes.image), scenes.image.device
    size = torch.tensor(scenes.image.shape[:-3:-1], device=device)
    anywhere = size * (0.5 + (torch.rand(n, 2, device=device) - 0.5) * 0.6)
    known = torch.isfinite(scenes.keys[:, :, 4, 0])
    pick = (torch.rand(known.shape, device=device) + known).argmax(1)
    nose = scenes.keys[torch.arange(n, device=device), pick, 4] + torch.randn(n, 2, device=device) * 90.0 / zoom[:, None]
    aimed = known.any(1) & (torch.rand(n, device=device) < 0.55)
    aim = torch.where(aimed[:, None] & torch.isfinite(nose), nose, anywhere)
    half = torch.minimum((crop / 2 / zoom)[:, None], size / 2) * (torch.rand(n, 1, device=device) < 0.7)
    return torch.maximum(torch.minimum(aim, size - half), half)


def _grid(scenes: Scenes, view: View, shape: tuple[int, int]) -> Tensor:
    device = view.matrix.device
    (height, width), (h, w) = view.size, shape
    y, x = torch.meshgrid(torch.arange(h, device=device) + 0.5, torch.arange(w, device=device) + 0.5, indexing="ij")
    p = torch.stack([(x - w / 2) * (width / w), (y - h / 2) * (height / h)], -1).view(1, -1, 2)
    depth = 1 + p @ view.tilt[:, :, None]
    source = (p @ view.matrix.transpose(1, 2)) / depth + view.centre[:, None]
    full = torch.tensor(scenes.image.shape[:-3:-1], device=device)
    return (source / full * 2 - 1).view(-1, h, w, 2)


def _to_crop(keys: Tensor, view: View) -> Tensor:
    n, plugs, points, _ = keys.shape
    ray = (keys.reshape(n, -1, 2) - view.centre[:, None]) @ _inverse(view.matrix).transpose(1, 2)
    depth = 1 - ray @ view.tilt[:, :, None]
    p = ray / depth.clamp(min=0.05)
    height, width = view.size
    middle = torch.tensor([width / 2, height / 2], device=keys.device)
    return ((p + middle) / 2).view(n, plugs, points, 2)


def _inverse(matrix: Tensor) -> Tensor:
    """Return the inverses of (n, 2, 2); written out, as the library's own waits for the device."""
    a, b, c, d = matrix[:, 0, 0], matrix[:, 0, 1], matrix[:, 1, 0], matrix[:, 1, 1]
    adjoint = torch.stack([d, -b, -c, a], -1).view(-1, 2, 2)
    return adjoint / (a * d - b * c).view(-1, 1, 1)
