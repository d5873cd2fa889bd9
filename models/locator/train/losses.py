"""What counts as wrong, for each answer of the net."""

from __future__ import annotations

from typing import NamedTuple

import torch
from torch import Tensor
from torch.nn import functional as nnf

from models.locator.train.net import Answer
from models.locator.train.targets import FIRING_END, HEATS, NOSE, OFFSET_CELLS, PARTS, RIM, VIEWS
from models.locator.train.warp import IGNORED, Warped

PART_WEIGHTS = (1.0, 2.5, 3.0, 2.0, 2.0, 1.0, 1.0, 1.0, 1.0)
"""Small parts count for more, in the order of `PARTS`."""

TERMS = {"parts": 1.0, "dice": 0.5, "heat": 0.3, "offset": 0.6, "view": 0.15, "quality": 0.15}

HEAT_SIGMA_CELLS = 2.2

SPOILED_WEIGHT = 0.3
"""Weight of the dense answers on a spoiled picture, where truth cannot be seen."""

SEEN_CELLS, UNSEEN_CELLS, LEAST_NOSE_CELLS = 90, 15, 8
"""More cells of nose, centre, strap and rim than the first, some of them nose: a firing end is in the picture; fewer than the
second: none; between: undecided."""


class Targets(NamedTuple):
    """Targets of one batch; -1 in `view` = undecided, not trained on."""

    parts: Tensor
    heat: Tensor
    offset: Tensor
    owned: Tensor
    """Cells that belong to a firing end with a known nose centre."""
    view: Tensor
    quality: Tensor


def targets(warped: Warped, quality: Tensor) -> Targets:
    """Return what the net should say about the crops."""
    offset, owned = _offsets(warped)
    return Targets(warped.parts, _heat(warped), offset, owned, _view(warped), quality)


def loss(answer: Answer, want: Targets) -> Tensor:
    """Return the weighted sum of all terms for one batch."""
    dense, whole = answer.dense.float(), answer.whole.float()
    parts, heat, offset = dense.split([len(PARTS), len(HEATS), 2], 1)
    each = torch.where(want.quality == 0, 1.0, SPOILED_WEIGHT).view(-1, 1, 1)
    inside = (want.parts != IGNORED).float() * each
    terms = {
        "parts": _cross_entropy(parts, want.parts, inside),
        "dice": _dice(parts, want.parts, inside),
        "heat": _heat_loss(heat, want.heat, inside),
        "offset": _offset_loss(offset, want.offset, want.owned * inside),
        "view": nnf.cross_entropy(whole[:, : len(VIEWS)], want.view, ignore_index=-1, reduction="sum") / len(whole),
        "quality": nnf.cross_entropy(whole[:, len(VIEWS) :], want.quality),
    }
    return torch.stack([TERMS[name] * value for name, value in terms.items()]).sum()


def distillation(answer: Answer, teacher: Answer) -> Tensor:
    """Return how far the answer is from a larger net's: divergence of the parts, distance of the heat maps."""
    n = len(PARTS)
    own, other = answer.dense.float(), teacher.dense.float()
    parts = nnf.kl_div(nnf.log_softmax(own[:, :n], 1), nnf.softmax(other[:, :n], 1), reduction="none").sum(1).mean()
    heats = slice(n, n + len(HEATS))
    return 2.0 * parts + 20.0 * nnf.mse_loss(own[:, heats].sigmoid(), other[:, heats].sigmoid())


def _cross_entropy(parts: Tensor, want: Tensor, inside: Tensor) -> Tensor:
    weight = torch.tensor(PART_WEIGHTS, device=parts.device)
    cells = nnf.cross_entropy(parts, want, weight=weight, ignore_index=IGNORED, reduction="none") * inside
    scale = weight[want.clamp(max=len(PARTS) - 1)] * inside
    return cells.sum() / scale.sum().clamp(min=1)


def _dice(parts: Tensor, want: Tensor, inside: Tensor) -> Tensor:
    """One minus the Dice overlap, mean over the parts without the background, over the whole batch."""
    p = torch.softmax(parts, 1) * inside[:, None]
    t = nnf.one_hot(want.clamp(max=len(PARTS) - 1), len(PARTS)).permute(0, 3, 1, 2) * inside[:, None]
    both, either = (p * t).sum((0, 2, 3)), p.sum((0, 2, 3)) + t.sum((0, 2, 3))
    return (1 - (2 * both + 50) / (either + 50))[1:].mean()


def _heat_loss(heat: Tensor, want: Tensor, inside: Tensor) -> Tensor:
    cells = nnf.binary_cross_entropy_with_logits(heat, want, reduction="none") * (1 + 30 * want) * inside[:, None]
    return cells.sum() / (inside.sum() * len(HEATS)).clamp(min=1)


def _offset_loss(offset: Tensor, want: Tensor, weight: Tensor) -> Tensor:
    cells = nnf.smooth_l1_loss(offset, want, beta=0.05, reduction="none").sum(1) * weight
    return cells.sum() / weight.sum().clamp(min=1)


def _cells(shape: torch.Size, device: torch.device) -> tuple[Tensor, Tensor]:
    h, w = shape
    y, x = torch.meshgrid(torch.arange(h, device=device) + 0.5, torch.arange(w, device=device) + 0.5, indexing="ij")
    return x, y


def _heat(warped: Warped) -> Tensor:
    """Return (n, 5, h, w): a round hill of height 1 at each key point."""
    x, y = _cells(warped.parts.shape[-2:], warped.parts.device)
    heat = torch.zeros(len(warped.parts), len(HEATS), *x.shape, device=x.device)
    for k in range(warped.keys.shape[1]):
        point = torch.nan_to_num(warped.keys[:, k], nan=-1e4)[..., None, None]
        far = (x - point[:, :, 0]) ** 2 + (y - point[:, :, 1]) ** 2
        heat = torch.maximum(heat, torch.exp(-far / (2 * HEAT_SIGMA_CELLS**2)))
    return heat


def _offsets(warped: Warped) -> tuple[Tensor, Tensor]:
    """Return (n, 2, h, w) from each cell to its plug's nose centre in `OFFSET_CELLS`, and which cells count (n, h, w)."""
    n, h, w = warped.parts.shape
    x, y = _cells(warped.parts.shape[-2:], warped.parts.device)
    plugs = warped.keys.shape[1]
    centre = torch.cat([torch.full((n, 1, 2), float("nan"), device=x.device), warped.keys[:, :, 4]], 1)
    number = torch.where(warped.plug <= plugs, warped.plug, 0).view(n, -1, 1).expand(-1, -1, 2)
    mine = centre.gather(1, number).view(n, h, w, 2)
    offset = torch.stack([mine[..., 0] - x, mine[..., 1] - y], 1) / OFFSET_CELLS
    part = warped.parts
    owned = ((part >= 1) & (part <= max(FIRING_END)) & torch.isfinite(mine[..., 0])).float()
    return torch.nan_to_num(offset, nan=0.0).clamp(-3, 3), owned


def _view(warped: Warped) -> Tensor:
    """Return the view of the largest firing end; -1 where hardly anything shows or two of like size disagree."""
    end = (warped.parts >= NOSE) & (warped.parts <= RIM)
    cells, nose = _cells_by_plug(warped, end), _cells_by_plug(warped, warped.parts == NOSE)
    size, order = cells.sort(1, descending=True)
    view = warped.view.gather(1, order)
    rival = ((size > 0.5 * size[:, :1]) & (view != view[:, :1]) & (size > 0)).any(1)
    hidden = (nose.gather(1, order)[:, 0] < LEAST_NOSE_CELLS) & (view[:, 0] > 0)
    decided = torch.where(rival | hidden | (size[:, 0] < SEEN_CELLS), -1, view[:, 0])
    return torch.where(end.sum((1, 2)) < UNSEEN_CELLS, 0, decided)


def _cells_by_plug(warped: Warped, chosen: Tensor) -> Tensor:
    """Return (n, plugs): how many of the chosen cells belong to each plug."""
    n, plugs = warped.view.shape
    number = torch.where(chosen & (warped.plug <= plugs), warped.plug, 0).view(n, -1)
    cells = torch.zeros(n, plugs + 1, device=number.device)
    return cells.scatter_add_(1, number, torch.ones_like(number, dtype=cells.dtype))[:, 1:]
