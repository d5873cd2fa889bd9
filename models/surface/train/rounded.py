"""The net with few bits a weight: what is shipped, and the noise that prepares the net for it.

A weight's sign, power of two and `KEPT_BITS` of its fraction are kept; as float16 these pack to half their size. The net learns
with weights that are off by as much at random, so rounding costs it next to nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import torch

from models.locator.train.export import folded
from models.surface.train.net import SurfaceNet

KEPT_BITS = 2
NOISE = 2.0 ** -(KEPT_BITS + 1)
"""Largest share by which rounding changes a weight."""


def coarsened(net: SurfaceNet) -> SurfaceNet:
    """Return the net with batch norms folded and its large weights rounded to `KEPT_BITS` of fraction."""
    net = folded(net)
    steps = 2 ** (KEPT_BITS + 1)
    for parameter in net.parameters():
        if parameter.ndim > 1:
            fraction, exponent = torch.frexp(parameter.data)
            parameter.data = torch.ldexp(torch.round(fraction * steps) / steps, exponent).half().float()
    return net


@contextmanager
def noisy(net: SurfaceNet) -> Iterator[None]:
    """Have the large weights off by up to `NOISE`, each by its own share; afterwards they are as they were."""
    large = [parameter for parameter in net.parameters() if parameter.ndim > 1]
    true = [parameter.detach().clone() for parameter in large]
    with torch.no_grad():
        for parameter in large:
            parameter.mul_(1 + NOISE * (2 * torch.rand_like(parameter) - 1))
    yield
    with torch.no_grad():
        for parameter, value in zip(large, true, strict=True):
            parameter.copy_(value)
