"""The period that strips of a picture share, as the turns of a thread do."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def common_period(strips: Sequence[Floats], shortest: float, longest: float) -> tuple[float, float]:
    """Return the period in rows shared by all strips (rows, columns), and the share of the band's power at it (0-1)."""
    return strongest_period([detrended(strip, longest) for strip in strips], shortest, longest)


def strongest_period(even: Sequence[Floats], shortest: float, longest: float) -> tuple[float, float]:
    """Return the same of strips that are `detrended` already."""
    n = len(even[0])
    padded = 1 << int(np.ceil(np.log2(n * 8)))
    power = np.zeros(padded // 2 + 1)
    window = np.hanning(n)[:, None]
    for strip in even:
        spectrum = (np.abs(np.fft.rfft(strip * window, padded, axis=0)) ** 2).sum(1)
        power += spectrum / (spectrum.sum() + 1e-12)
    frequency = np.arange(len(power)) / padded
    band = (frequency >= 1 / longest) & (frequency <= 1 / shortest)
    if band.sum() < 3:
        return longest, 0.0
    # the first harmonic belongs to the same thread: its power counts for the period
    score = power + 0.5 * np.interp(2 * frequency, frequency, power)
    best = int(np.argmax(np.where(band, score, 0.0)))
    peak = _parabola(power, best) / padded
    near = np.abs(frequency - peak) < 2 / n
    wide = (frequency > 0.6 / longest) & (frequency < 1.6 / shortest)
    return 1 / peak, float(power[near & wide].sum() / (power[wide].sum() + 1e-12))


def detrended(strip: Floats, longest: float) -> Floats:
    """Take out of each column everything slower than the period: a moving mean over about two of the longest."""
    width = max(3, int(2 * longest) | 1)
    if len(strip) <= width:
        return np.asarray(strip - strip.mean(0))
    return np.asarray(strip - cv2.blur(strip, (1, width), borderType=cv2.BORDER_REFLECT_101))


def _parabola(power: Floats, k: int) -> float:
    """Return the sub-bin place of the peak at bin k."""
    if not 0 < k < len(power) - 1:
        return float(k)
    a, b, c = power[k - 1], power[k], power[k + 1]
    bend = a - 2 * b + c
    return float(k + 0.5 * (a - c) / bend) if bend < 0 else float(k)
