"""What a phone makes of a scene: light, lens, noise, tone, sharpening, JPEG; drawn afresh for every picture.

Some pictures are spoiled on purpose (motion, defocus, blown out, far too dark), so that the net learns to say so.
All ranges are wide on purpose and are our own choice (no source): others' cameras must lie inside them.
"""

from __future__ import annotations

import math
import random
from typing import NamedTuple

import torch
from torch import Tensor
from torch.nn import functional as nnf

from models.locator.train.jpeg import jpeg
from models.locator.train.targets import QUALITIES
from models.locator.train.warp import uniform

SPOILED = {"blurred": 0.05, "blown_out": 0.03, "too_dark": 0.03}
"""Share of the pictures spoiled in each way."""

BLUR_RADIUS = 15
"""Half-width of the kernel that spoils by motion or defocus, pixels."""

MID_GREY = 0.18


class Shots(NamedTuple):
    """Encoded RGB (n, 3, h, w) in 0-1, rounded to 8 bits, and the quality of each (index into `QUALITIES`)."""

    rgb: Tensor
    quality: Tensor


def photographed(linear: Tensor, *, spoil: bool = True) -> Shots:
    """Return linear scenes (n, 3, h, w) as a phone would give them."""
    n, device = len(linear), linear.device
    spoiled = _drawn_qualities(n) if spoil else []
    quality = torch.tensor(spoiled + [0] * (n - len(spoiled)), device=device)
    x = _lit(linear.clamp(0, 60))
    x = _exposed(x, quality)
    return Shots(developed(x, spoiled.count(QUALITIES.index("blurred"))), quality)


def developed(exposed: Tensor, blurred: int = 0) -> Tensor:
    """Return what the phone makes of exposed light (n, 3, h, w), encoded; the first `blurred` pictures are spoiled."""
    n, device = len(exposed), exposed.device
    x = _tone_mapped_locally(exposed)
    x = x + _each(uniform(n, 0, 1, device)) ** 3 * 0.06  # haze and flare
    x = _noisy(_out_of_lens(x, blurred))
    x = jpeg(_toned(x), 40 + 58 * torch.rand(n, device=device))
    return torch.round(x * 255) / 255


def _each(values: Tensor) -> Tensor:
    return values.view(-1, 1, 1, 1)


def _sometimes(n: int, share: float, device: torch.device) -> Tensor:
    return (torch.rand(n, 1, 1, 1, device=device) < share).float()


def _drawn_qualities(n: int) -> list[int]:
    """Return the qualities of the spoiled pictures, blurred ones first; drawn here, so that the device need not be asked."""
    counts = {name: int(n * share + random.random()) for name, share in SPOILED.items()}
    return [QUALITIES.index(name) for name, count in counts.items() for _ in range(count)][:n]


def _lit(x: Tensor) -> Tensor:
    """Colour of the light and of a wrong white balance."""
    n = len(x)
    strength = 0.11 + 0.24 * _sometimes(n, 0.3, x.device)
    gains = torch.exp(torch.randn(n, 3, 1, 1, device=x.device) * strength)
    return x * gains / gains[:, 1:2]


def _exposed(x: Tensor, quality: Tensor) -> Tensor:
    """Exposure by the whole picture, by its middle, or between; the spoiled ones far off."""
    n, _, h, w = x.shape
    level = x.mean(1, keepdim=True)
    whole = level.clamp(max=1.0).mean((1, 2, 3))
    middle = level[:, :, h // 5 : -h // 5, w // 5 : -w // 5].clamp(max=1.5).mean((1, 2, 3))
    share = torch.rand(n, device=x.device)
    metered = (whole * share + middle * (1 - share)).clamp(min=1e-4)
    stops = 0.5 * torch.randn(n, device=x.device).clamp(-2, 2) - 0.1
    stops = torch.where(quality == QUALITIES.index("blown_out"), uniform(n, 2.3, 3.6, x.device), stops)
    stops = torch.where(quality == QUALITIES.index("too_dark"), -uniform(n, 3.2, 4.8, x.device), stops)
    return x * _each(MID_GREY * torch.exp(stops) / metered)


def _tone_mapped_locally(x: Tensor) -> Tensor:
    n, _, h, w = x.shape
    broad = nnf.avg_pool2d(x.mean(1, keepdim=True).clamp(0, 4), 16)
    broad = nnf.interpolate(broad, size=(h, w), mode="bilinear", align_corners=False)
    power = _each(uniform(n, 0, 0.5, x.device)) * _sometimes(n, 0.5, x.device)
    return x * ((broad + 0.02) / 0.2) ** -power


def _out_of_lens(x: Tensor, blurred: int) -> Tensor:
    """Softness of any lens; the first `blurred` pictures are moved or out of focus."""
    n, device = len(x), x.device
    sigma = torch.exp(uniform(n, math.log(0.3), math.log(1.8), device))
    longer = torch.where(torch.rand(n, device=device) < 0.2, uniform(n, 1, 2.2, device), torch.ones(n, device=device))
    x = _gaussian(x, sigma, sigma * longer)
    if blurred == 0:
        return x
    kernel = torch.where(torch.rand(blurred, 1, 1, device=device) < 0.6, _motion(blurred, device), _disc(blurred, device))
    return torch.cat([_convolved(x[:blurred], kernel), x[blurred:]])


def _gaussian(x: Tensor, sigma_x: Tensor, sigma_y: Tensor) -> Tensor:
    """Blur each picture by its own amounts: two matrix products, many times quicker than convolutions in groups."""
    h, w = x.shape[-2:]
    return _bands(sigma_y, h)[:, None] @ x @ _bands(sigma_x, w)[:, None].transpose(-1, -2)


def _bands(sigma: Tensor, size: int) -> Tensor:
    """Return (n, size, size): rows of weights that average neighbours, cut off at four sigmas and at the border."""
    t = torch.arange(size, device=sigma.device, dtype=torch.float32)
    far = (t[:, None] - t[None]).abs() / sigma.view(-1, 1, 1)
    weight = torch.where(far < 4, torch.exp(-(far**2) / 2), 0.0)
    return weight / weight.sum(-1, keepdim=True)


def _plane(device: torch.device) -> tuple[Tensor, Tensor]:
    t = torch.arange(-BLUR_RADIUS, BLUR_RADIUS + 1, device=device, dtype=torch.float32)
    y, x = torch.meshgrid(t, t, indexing="ij")
    return x, y


def _motion(n: int, device: torch.device) -> Tensor:
    x, y = _plane(device)
    angle, half = uniform(n, 0, math.pi, device).view(-1, 1, 1), uniform(n, 6, BLUR_RADIUS, device).view(-1, 1, 1)
    along, across = x * torch.cos(angle) + y * torch.sin(angle), y * torch.cos(angle) - x * torch.sin(angle)
    kernel = (half + 0.5 - along.abs()).clamp(0, 1) * (1.2 - across.abs()).clamp(0, 1)
    return kernel / kernel.sum((1, 2), keepdim=True)


def _disc(n: int, device: torch.device) -> Tensor:
    x, y = _plane(device)
    radius = uniform(n, 5, 12, device).view(-1, 1, 1)
    kernel = (radius + 0.5 - torch.hypot(x, y)).clamp(0, 1)
    return kernel / kernel.sum((1, 2), keepdim=True)


def _convolved(x: Tensor, kernel: Tensor) -> Tensor:
    """Convolve each picture with its own kernel by way of the spectrum (edges wrap into a mirrored border)."""
    r, (h, w) = BLUR_RADIUS, x.shape[-2:]
    padded = nnf.pad(x, (r, r, r, r), mode="reflect")
    shape = padded.shape[-2:]
    spectrum = torch.fft.rfft2(padded) * torch.fft.rfft2(kernel[:, None], s=shape)
    blurred = torch.fft.irfft2(spectrum, s=shape).roll((-r, -r), (-2, -1))
    return blurred[..., r : r + h, r : r + w].clamp(min=0)


def _noisy(x: Tensor) -> Tensor:
    """Shot and read noise, part of it in coarse colour blotches."""
    n, _, h, w = x.shape
    shot = torch.exp(uniform(n, -6.9, -3.7, x.device)).view(-1, 1, 1, 1)
    read = torch.exp(uniform(n, -7.0, -4.0, x.device)).view(-1, 1, 1, 1)
    coarse = nnf.interpolate(
        torch.randn(n, 3, h // 2, w // 2, device=x.device), size=(h, w), mode="bilinear", align_corners=False
    )
    noise = torch.randn_like(x) * 0.6 + coarse * _each(uniform(n, 0, 0.8, x.device))
    return x + noise * torch.sqrt(shot**2 * x.clamp(min=0) + read**2)


def _toned(x: Tensor) -> Tensor:
    """Highlight shoulder, gamma, contrast, saturation (some grey), sharpening, black level."""
    n, device = len(x), x.device
    knee = _each(uniform(n, 0.001, 0.35, device))
    x = x.clamp(min=0)
    x = torch.where(x > 1 - knee, 1 - knee + knee * torch.tanh((x - 1 + knee) / knee), x).clamp(1e-5, 1)
    x = x ** (1 / _each(uniform(n, 1.9, 2.6, device)))
    x = x - _each(uniform(n, -0.35, 0.7, device)) * torch.sin(2 * math.pi * x) / (2 * math.pi)
    grey = x.mean(1, keepdim=True)
    x = grey + (x - grey) * _each(uniform(n, 0.5, 1.5, device)) * (1 - _sometimes(n, 0.04, device))
    width = torch.full((n,), 1.2, device=device)
    x = x + (x - _gaussian(x, width, width)) * _each(uniform(n, 0, 1.4, device))
    return (x + _each(uniform(n, -0.02, 0.04, device))).clamp(0, 1)
