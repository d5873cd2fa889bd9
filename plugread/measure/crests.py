"""What the thread's crests tell of the view: period, how near the lens was, how far the plug leans.

Every turn of a thread crosses the side that faces the lens as the same curve. Seen square and from afar it is the helix alone,
v = -pitch / (2 pi) asin(x) for a right-hand thread (x in radii R from the axis). Leaning by phi adds an arc of z sin(phi), z the
height of the surface over the axis; a near lens at the distance h makes turns look larger by h / (h - z). So the phase of the
turns from column to column gives the lean, and their frequency the nearness (geometry of the perspective).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plugread.measure.lens import most_nearness, usual_nearness
from plugread.measure.periods import detrended, strongest_period
from plugread.measure.silhouette import FRONT, Silhouette
from plugread.measure.tilt import Tilt

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

HALF_WINDOW = 0.6
"""Share of the rows in each of the two windows whose phases are compared for the period."""
ARC_PITCHES, ARC_STEP, DRIFT_PITCHES, DRIFT_STEPS = 3.5, 0.025, 0.6, 25
"""Arcs tried, in pitches and their step; sideways drifts tried beside them (the axis is never quite straight)."""
LEAST_AGREEMENT, LEAST_TURNS, LEAST_STRENGTH = 0.9, 3.0, 0.4
"""Below this agreement of the columns with one curve (0-1), with fewer turns in view, or where they make up less of the middling
column's changes (0-1), the crests tell nothing."""
LEAN_NOISE_DEG, NEARNESS_NOISE, MANY_TURNS = 1.5, 0.0028, 10.0
"""1 sigma of arc and nearness (1/mm) on rendered photos (train and val) whose camera is known; with fewer turns in view than the
last the nearness is worse by the square of their share."""
MOST_OFF = 1.25
"""The period lies within this factor of the expected one: threads are 9.6 to 12 pitches wide."""


@dataclass(frozen=True)
class Crests:
    """What the crests tell: period in rows at the axis' distance, nearness (1/mm, 1 sigma), lean at the thread's middle row."""

    period: float
    nearness: tuple[float, float]
    lean: Tilt
    agreement: float
    """How well the columns agree with one curve, 0-1."""


def crests(columns: Floats, sides: Silhouette, radius_mm: float, expected: float) -> Crests | None:
    """Return what the columns of `front_columns` tell, or None where the turns do not follow one curve.

    Parameters
    ----------
    columns : float64 of shape (rows, m), standing at `FRONT`.
    radius_mm : of the thread.
    expected : period in rows that the thread's width lets expect; another size of thread may have another.
    """
    if len(columns) < LEAST_TURNS * expected:
        return None
    turns = detrended(columns, MOST_OFF * expected)
    turns /= turns.std(0) + 1e-6  # a column in the shade counts as much as one in the light
    counted, _ = strongest_period([turns], expected / MOST_OFF, expected * MOST_OFF)
    found = _followed(turns, sides, radius_mm, counted)
    return found if found is not None and 1 / MOST_OFF <= found.period / expected <= MOST_OFF else None


def _followed(columns: Floats, sides: Silhouette, radius_mm: float, start: float) -> Crests | None:
    """Return what turns of about the period `start` tell, or None where they do not follow one curve."""
    near, most = usual_nearness()[0] * radius_mm, most_nearness() * radius_mm
    phase, frequency, weight = _turns(columns, _expected(start, near))
    for _ in range(3):
        at_axis, near = _straight(frequency, weight, _surface(near)[0])
        near = float(np.clip(near, 0, most))
    arc, agreement = _arc(phase, weight, *_surface(near))
    if np.median(weight) < LEAST_STRENGTH or agreement < LEAST_AGREEMENT or at_axis <= 0:
        return None
    slope = arc / at_axis / (sides.width / 2 * np.sqrt(1 - near**2))
    lean = Tilt(float(np.degrees(np.arctan(slope))), 2 * LEAN_NOISE_DEG)
    turns = min(len(columns) * at_axis / MANY_TURNS, 1.0)
    nearness = (near / radius_mm, NEARNESS_NOISE / turns**2) if near < most else usual_nearness()  # nearer is a fit gone wrong
    return Crests(1 / at_axis, nearness, lean, agreement)


def _surface(near: float) -> tuple[Floats, Floats]:
    """Return of each column how high the surface stands over the axis, in radii, and its angle about the axis, radians.

    `near` is radius over distance. The ray through a column meets a circle; at the silhouette (x = 1) it touches it.
    """
    u = FRONT / np.sqrt(1 - near**2)
    slope = near * u
    height = (slope * u + np.sqrt(1 + slope**2 - u**2)) / (1 + slope**2)
    return height, np.arcsin(u - slope * height)


def _expected(period: float, near: float) -> Floats:
    """Return the frequency (turns per row) to expect of each column for the usual lens, if `period` is their mean."""
    height, _ = _surface(near)
    return np.asarray((1 - near * (height - height.mean())) / period)


def _turns(columns: Floats, expected: Floats) -> tuple[Complex, Floats, Floats]:
    """Return of each column its phase at the middle (unit complex), turns per row, and how strong the turns are (0-1)."""
    n, half = len(columns), int(HALF_WINDOW * len(columns))
    even = columns * np.exp(-2j * np.pi * (np.arange(n) - (n - 1) / 2)[:, None] * expected)
    window = np.hanning(half)[:, None]
    early, late = ((even[cut] * window).sum(0) for cut in (slice(0, half), slice(n - half, n)))
    windowed = even * np.hanning(n)[:, None]
    whole = windowed.sum(0)
    frequency = expected + np.angle(late * np.conj(early)) / (2 * np.pi * (n - half))
    strength = np.abs(whole) * np.sqrt(2 / (n * (np.abs(windowed) ** 2).sum(0) + 1e-9))
    return whole / (np.abs(whole) + 1e-12), frequency, strength


def _straight(frequency: Floats, weight: Floats, height: Floats) -> tuple[float, float]:
    """Return the frequency at the axis' distance and radius over distance: f (1 - near height), by a robust straight line."""
    design = np.stack([np.ones_like(height), -height], 1)
    kept = weight
    for _ in range(6):
        at_axis, loss = np.linalg.lstsq(design * kept[:, None], frequency * kept, rcond=None)[0]
        off = np.abs(frequency - design @ (at_axis, loss))
        kept = weight / (1 + (off / (2 * np.median(off) + 1e-9)) ** 2)
    return float(at_axis), float(loss / at_axis)


def _arc(phase: Complex, weight: Floats, height: Floats, angle: Floats) -> tuple[float, float]:
    """Return the arc's depth in pitches (positive: sags towards the hex) and how well the columns agree with it (0-1)."""
    turned = phase * weight * np.exp(-1j * angle)  # the helix taken out
    depths = np.arange(-ARC_PITCHES, ARC_PITCHES + ARC_STEP / 2, ARC_STEP)
    drifts = np.linspace(-DRIFT_PITCHES, DRIFT_PITCHES, DRIFT_STEPS)
    sideways = turned * np.exp(2j * np.pi * np.outer(drifts, FRONT))
    agreement = np.abs(np.exp(2j * np.pi * np.outer(depths, height)) @ sideways.T)
    best = np.unravel_index(agreement.argmax(), agreement.shape)
    return float(depths[best[0]]), float(agreement[best] / (weight.sum() + 1e-12))
