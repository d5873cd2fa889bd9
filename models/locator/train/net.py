"""The network: a U-shaped net of depthwise-separable convolutions, in two sizes.

It answers, for each cell of two by two input pixels, which part it shows, where the key points are and which way the
nose of its own plug lies; and for the whole picture the view and whether it can be read. Only operators that
`cv2.dnn` runs quickly on a CPU are used: convolution, ReLU, addition, nearest-neighbour enlarging, global mean.

U-shape: Ronneberger et al., "U-Net", MICCAI 2015. Depthwise-separable blocks: Howard et al., "MobileNets",
arXiv 1704.04861.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import torch
from torch import Tensor, nn
from torch.nn import functional as nnf

from models.locator.train.targets import HEATS, OFFSETS, PARTS, QUALITIES, VIEWS

INPUT_MEAN, INPUT_GAIN = 0.45, 4.0
"""The net takes (RGB - mean) * gain of encoded RGB in 0-1; the run-time finder does the same."""

STRIDE = 32
"""Height and width of the input are multiples of this."""


class Answer(NamedTuple):
    """What the net says: `dense` of shape (n, 9 + 5 + 2, h / 2, w / 2), `whole` of shape (n, 4 + 4), both before softmax."""

    dense: Tensor
    whole: Tensor


@dataclass(frozen=True)
class Size:
    """Channels at strides 2, 4, 8, 16, 32 and blocks at the last four."""

    channels: tuple[int, int, int, int, int]
    blocks: tuple[int, int, int, int]


SIZES = {
    "fine": Size((40, 80, 160, 288, 400), (2, 3, 4, 4)),
    "quick": Size((24, 48, 88, 144, 216), (1, 2, 3, 3)),
    "smoke": Size((8, 16, 24, 32, 48), (1, 1, 1, 1)),
}


class Separable(nn.Module):
    """Depthwise, then 1x1 convolution, each with batch norm and ReLU; adds its input where the shapes agree."""

    def __init__(self, inside: int, outside: int, *, stride: int = 1, kernel: int = 3) -> None:
        super().__init__()
        self.depth = nn.Conv2d(inside, inside, kernel, stride, kernel // 2, groups=inside, bias=False)
        self.depth_norm = nn.BatchNorm2d(inside)
        self.point = nn.Conv2d(inside, outside, 1, bias=False)
        self.point_norm = nn.BatchNorm2d(outside)
        self.adds = inside == outside and stride == 1

    def forward(self, x: Tensor) -> Tensor:
        """Return features of shape (n, outside, h / stride, w / stride)."""
        y = self.point_norm(self.point(nnf.relu(self.depth_norm(self.depth(x)))))
        return nnf.relu(y + x) if self.adds else nnf.relu(y)


class Rise(nn.Module):
    """One step back up: narrow, enlarge twice, add the finer features, two blocks."""

    def __init__(self, deep: int, fine: int) -> None:
        super().__init__()
        self.narrow = nn.Sequential(nn.Conv2d(deep, fine, 1, bias=False), nn.BatchNorm2d(fine))
        self.blocks = nn.Sequential(Separable(fine, fine), Separable(fine, fine))

    def forward(self, deep: Tensor, fine: Tensor) -> Tensor:
        """Return features like `fine`, with what `deep` knows added."""
        return self.blocks(nnf.relu(nnf.interpolate(self.narrow(deep), scale_factor=2.0, mode="nearest") + fine))


class Locator(nn.Module):
    """The net in one of `SIZES`."""

    def __init__(self, size: Size) -> None:
        super().__init__()
        c = size.channels
        self.stem = nn.Sequential(nn.Conv2d(3, c[0], 3, 2, 1, bias=False), nn.BatchNorm2d(c[0]), nn.ReLU())
        self.down = nn.ModuleList(stage(c[i], c[i + 1], size.blocks[i], kernel=5 if i >= 2 else 3) for i in range(4))
        self.gate = nn.Sequential(nn.AdaptiveAvgPool2d(1), nn.Conv2d(c[4], c[4], 1), nn.Sigmoid())
        self.rise = nn.ModuleList(Rise(c[i + 1], c[i]) for i in (3, 2, 1, 0))
        self.dense = nn.Conv2d(c[0], len(PARTS) + len(HEATS) + OFFSETS, 1)
        self.whole = nn.Sequential(
            nn.AdaptiveAvgPool2d(1),
            nn.Conv2d(c[4], 96, 1),
            nn.ReLU(),
            nn.Conv2d(96, len(VIEWS) + len(QUALITIES), 1),
            nn.Flatten(),
        )

    def forward(self, x: Tensor) -> Answer:
        """Return the answers for normalised pictures (n, 3, h, w); h and w divide by `STRIDE`."""
        features = [self.stem(x)]
        for stage in self.down:
            features.append(stage(features[-1]))
        deep = features[-1]
        y = deep * self.gate(deep)
        for rise, fine in zip(self.rise, features[-2::-1], strict=True):
            y = rise(y, fine)
        return Answer(self.dense(y), self.whole(deep))


def stage(inside: int, outside: int, blocks: int, kernel: int) -> nn.Sequential:
    """Return a block that halves the picture and `blocks` more at that size."""
    first = Separable(inside, outside, stride=2)
    return nn.Sequential(first, *(Separable(outside, outside, kernel=kernel) for _ in range(blocks)))


def build(kind: str) -> Locator:
    """Return an untrained net; `kind` is a key of `SIZES`.

    The heat maps start near zero everywhere, as nearly all their cells are empty.
    """
    net = Locator(SIZES[kind])
    with torch.no_grad():
        assert net.dense.bias is not None
        net.dense.bias[len(PARTS) : len(PARTS) + len(HEATS)] = -4.0
    return net


def normalised(rgb: Tensor) -> Tensor:
    """Return encoded RGB (0-1) as the net takes it."""
    return (rgb - INPUT_MEAN) * INPUT_GAIN
