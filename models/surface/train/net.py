"""The surface net: a small stack of depthwise-separable convolutions; it answers for a whole crop at once."""

from __future__ import annotations

import torch
from torch import Tensor, nn

from models.locator.train.net import stage
from plugread.reading.surface import ANSWERS, SIDE_PX

CHANNELS, BLOCKS = (32, 64, 112, 192, 288), (2, 2, 3, 3)
DROPPED = 0.2


class SurfaceNet(nn.Module):
    """From crops (n, 3, side, side), encoded RGB about zero, to log-shares (n, answers): softmax makes them chances."""

    def __init__(self) -> None:
        super().__init__()
        c = CHANNELS
        stem = nn.Sequential(nn.Conv2d(3, c[0], 3, 2, 1, bias=False), nn.BatchNorm2d(c[0]), nn.ReLU())
        stages = (stage(c[k], c[k + 1], BLOCKS[k], kernel=5 if k else 3) for k in range(4))
        self.body = nn.Sequential(stem, *stages)
        self.mean, self.most = nn.AdaptiveAvgPool2d(1), nn.MaxPool2d(SIDE_PX // 32)
        self.head = nn.Sequential(nn.Dropout(DROPPED), nn.Linear(2 * c[4], len(ANSWERS)))

    def forward(self, rgb: Tensor) -> Tensor:
        """Return the log-shares; a small mark must show in the largest answer where the mean would drown it."""
        deep = self.body(rgb)
        whole = torch.cat([self.mean(deep), self.most(deep)], 1).flatten(1)
        return self.head(whole)
