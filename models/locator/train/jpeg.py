"""The loss of a JPEG file, on many pictures at once: 8 x 8 cosine transform, 4:2:0, the standard's example tables.

Source: ITU-T T.81 (1992), tables K.1 and K.2 and section A.3.3; the quality scale is the one commonly used with them
(common practice, no source). Entropy coding loses nothing and is left out.
"""

from __future__ import annotations

import math

import torch
from torch import Tensor
from torch.nn import functional as nnf

LUMA = (
    (16, 11, 10, 16, 24, 40, 51, 61), (12, 12, 14, 19, 26, 58, 60, 55), (14, 13, 16, 24, 40, 57, 69, 56),
    (14, 17, 22, 29, 51, 87, 80, 62), (18, 22, 37, 56, 68, 109, 103, 77), (24, 35, 55, 64, 81, 104, 113, 92),
    (49, 64, 78, 87, 103, 121, 120, 101), (72, 92, 95, 98, 112, 100, 103, 99),
)  # fmt: skip
CHROMA_CORNER = ((17, 18, 24, 47), (18, 21, 26, 66), (24, 26, 56, 99), (47, 66, 99, 99))
"""The rest of the chroma table is 99."""


def jpeg(rgb: Tensor, quality: Tensor) -> Tensor:
    """Return encoded RGB (n, 3, h, w) in 0-1 as it comes back from a JPEG of `quality` (n,), 1-100; h and w divide by 16."""
    y, cb, cr = _to_ycc(rgb * 255)
    luma, chroma = _tables(quality, rgb.device)
    y = _quantised(y - 128, luma) + 128
    halved = nnf.avg_pool2d(torch.stack([cb, cr], 1), 2)
    coarse = torch.stack([_quantised(halved[:, k], chroma) for k in range(2)], 1)
    cb, cr = nnf.interpolate(coarse, scale_factor=2.0, mode="bilinear", align_corners=False).unbind(1)
    back = torch.stack([y + 1.402 * cr, y - 0.344136 * cb - 0.714136 * cr, y + 1.772 * cb], 1)
    return (back / 255).clamp(0, 1)


def _to_ycc(rgb: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    r, g, b = rgb.unbind(1)
    y = 0.299 * r + 0.587 * g + 0.114 * b
    return y, (b - y) / 1.772, (r - y) / 1.402


def _tables(quality: Tensor, device: torch.device) -> tuple[Tensor, Tensor]:
    scale = torch.where(quality < 50, 5000 / quality, 200 - 2 * quality).view(-1, 1, 1) / 100
    luma = torch.tensor(LUMA, device=device, dtype=torch.float32)
    chroma = torch.full((8, 8), 99.0, device=device)
    chroma[:4, :4] = torch.tensor(CHROMA_CORNER, device=device, dtype=torch.float32)
    return (luma * scale).round().clamp(1, 255), (chroma * scale).round().clamp(1, 255)


def _quantised(plane: Tensor, table: Tensor) -> Tensor:
    n, h, w = plane.shape
    basis = _cosines(plane.device)
    blocks = plane.reshape(n, h // 8, 8, w // 8, 8).transpose(2, 3)
    steps = table[:, None, None]
    kept = torch.round(basis @ blocks @ basis.T / steps) * steps
    return (basis.T @ kept @ basis).transpose(2, 3).reshape(n, h, w)


def _cosines(device: torch.device) -> Tensor:
    k = torch.arange(8, device=device, dtype=torch.float32)
    rows = torch.cos((2 * k[None] + 1) * k[:, None] * math.pi / 16) * 0.5
    rows[0] /= math.sqrt(2)
    return rows
