"""How well a net marks the parts of pictures it was not trained on, scored on the training device.

The finder as shipped (two passes, merging, refusals) is scored by `models.locator.train.evaluate`.
"""

from __future__ import annotations

import random
from collections.abc import Mapping

import numpy as np
import torch
from torch import Tensor

from models.locator.train.camera import photographed
from models.locator.train.losses import targets
from models.locator.train.net import Locator, normalised
from models.locator.train.shards import Scenes, batches
from models.locator.train.targets import NOSE, PARTS, QUALITIES, VIEWS
from models.locator.train.warp import IGNORED, warp, whole_view

LEAST_CELLS = 40
"""A picture counts for the nose figures if at least this many cells show nose."""

COLOUR_PROBABILITY = 0.9
"""Cells surer than this count as the colour mask."""


@torch.no_grad()
def scores(net: Locator, scenes: Scenes, *, width: int, seed: int = 5) -> dict[str, object]:
    """Return the figures of `net` on whole pictures, scaled to `width`, each through a camera drawn from `seed`."""
    net.eval()
    device = scenes.image.device
    torch.manual_seed(seed)
    random.seed(seed)
    rows: list[Tensor] = []
    confusion = torch.zeros(len(PARTS), len(PARTS), device=device)
    for batch in batches(scenes, 16):
        warped = warp(batch, whole_view(batch, width))
        shots = photographed(warped.linear)
        want = targets(warped, shots.quality)
        with torch.autocast(device.type, dtype=torch.bfloat16, enabled=device.type == "cuda"):
            answer = net(normalised(shots.rgb).contiguous(memory_format=torch.channels_last))
        p = torch.softmax(answer.dense[:, : len(PARTS)].float(), 1)
        confusion += _confusion(p.argmax(1), want.parts, shots.quality == 0)
        rows.append(_row(p[:, NOSE], want.parts == NOSE, want.view, answer.whole.float(), shots.quality))
    table = torch.cat(rows).cpu().numpy()
    union = confusion.sum(0) + confusion.sum(1) - confusion.diag()
    part_iou = (confusion.diag() / union.clamp(min=1)).tolist()
    return {"width": width, "part_iou": dict(zip(PARTS, np.round(part_iou, 3).tolist(), strict=True)), **_summary(table)}


def _confusion(found: Tensor, want: Tensor, use: Tensor) -> Tensor:
    n = len(PARTS)
    inside = (want != IGNORED) & use.view(-1, 1, 1)
    return torch.bincount(want[inside] * n + found[inside], minlength=n * n).view(n, n).float()


def _row(nose: Tensor, truth: Tensor, view: Tensor, whole: Tensor, quality: Tensor) -> Tensor:
    """Return (n, 8): true cells, IoU, precision and recall of the colour mask, view, said view, quality, said quality."""
    cells = (1, 2)
    found, sure = nose > 0.5, nose > COLOUR_PROBABILITY
    true = truth.sum(cells)
    iou = (found & truth).sum(cells) / (found | truth).sum(cells).clamp(min=1)
    precision = torch.where(sure.sum(cells) > 0, (sure & truth).sum(cells) / sure.sum(cells).clamp(min=1), torch.nan)
    recall = (sure & truth).sum(cells) / true.clamp(min=1)
    said_view, said_quality = whole[:, : len(VIEWS)].argmax(1), whole[:, len(VIEWS) :].argmax(1)
    return torch.stack([t.double() for t in (true, iou, precision, recall, view, said_view, quality, said_quality)], 1)


def _summary(table: np.ndarray) -> dict[str, object]:
    true, iou, precision, recall, view, said_view, quality, said_quality = table.T
    good = (true >= LEAST_CELLS) & (quality == 0)
    known = (view >= 0) & (quality == 0)
    return {
        "pictures": int(good.sum()),
        "nose_iou": _figures(iou[good]),
        "nose_iou_by_view": {name: _figures(iou[good & (view == k)]) for k, name in enumerate(VIEWS) if k},
        "share_above_half": _mean(iou[good] > 0.5),
        "colour_precision": {"median": _quantile(precision[good], 0.5), "worst_tenth": _quantile(precision[good], 0.1)},
        "colour_recall": _mean(recall[good]),
        "view_right": _mean(view[known] == said_view[known]),
        "quality_right": {name: _mean(said_quality[quality == k] == k) for k, name in enumerate(QUALITIES)},
    }


def _figures(values: np.ndarray) -> Mapping[str, float | int | None]:
    return {"n": len(values), "median": _quantile(values, 0.5), "mean": _mean(values)}


def _mean(values: np.ndarray) -> float | None:
    return round(float(np.mean(values)), 3) if len(values) else None


def _quantile(values: np.ndarray, share: float) -> float | None:
    values = np.nan_to_num(values, nan=0.0)
    return round(float(np.quantile(values, share)), 3) if len(values) else None
