"""Pixels per millimetre from the thread: its pitch is the one dimension known before the plug is.

The period is taken at the two silhouette edges, not at the crests facing the lens: those are nearer and read up to 10 % too
large at arm's length, the silhouette under 1 % (geometry of the perspective). The ratio of the two periods tells in turn how
far the lens was. Pitches: ISO 261; diameters: ISO 724.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from plugread.measure.axis import UprightPlug

Floats = NDArray[np.float64]

PITCH_MM = {"M14x1.25": 1.25, "M12x1.25": 1.25, "M10x1.0": 1.0, "M18x1.5": 1.5}
DIAMETER_MM = {"M14x1.25": 14.0, "M12x1.25": 12.0, "M10x1.0": 10.0, "M18x1.5": 18.0}
WIDTH_PITCHES = (8.6, 12.9)
"""Silhouette width over pitch lies between these for every thread above (9.6 to 12.0) with room for worn crests."""
SMALL_THREAD_PITCHES, LARGE_THREAD_PITCHES = 10.15, 11.1
"""Outside these ratios the thread may be M12 or M10, or M18, instead of M14x1.25 (10.45): the user must say which."""
TURNS_NEEDED = 3.5
SURE_ENOUGH = 0.35
OUTLINE_PITCHES = (-0.2, 0.3)
"""Strip along the mean outline that shows crests against the ground, in pitches from inside to outside."""
FRONT_RADII = (-0.5, -0.3, -0.1, 0.1, 0.3, 0.5)
"""Columns on which the crests facing the lens are counted, in radii from the axis."""
OUTLINE_DEPTH, WIDTH_NOISE, MOST_APART = 0.75, 0.02, 0.1
"""The mean outline of a thread lies this many pitches inside its diameter in all (crests and roots in turn; ISO 68-1: the groove
is 0.61 pitches deep), right to 2 % (1 sigma, our renders); past the last share, pitch and width contradict each other."""
CREST_REACH = 0.96
"""The crests that face the lens stand this share of the thread's radius before the silhouette."""
RATIO_NOISE = 0.012
"""1 sigma of the ratio of front to silhouette period (our renders)."""


@lru_cache(maxsize=1)
def usual_nearness() -> tuple[float, float]:
    """Return one over the usual distance from lens to plug (1/mm) and its 1 sigma, for where the thread does not tell."""
    text = resources.files("plugread.measure").joinpath("lens.toml").read_text(encoding="utf-8")
    row = tomllib.loads(text)["nearness"]
    return float(row["usual"]), float(row["spread"])


@dataclass(frozen=True)
class Scale:
    """Pixels per millimetre with its 95 % relative spread, and how it was found; `px_per_mm` None = could not, see `why`.

    `nearness` is one over the distance from lens to plug in 1/mm, with 1 sigma; `width_pitches` the silhouette's width over the
    pitch; `sureness` the share of the strip's changes that the thread explains.
    """

    px_per_mm: float | None
    relative_spread: float
    why: str | None
    width_pitches: float | None = None
    sureness: float = 0.0
    nearness: tuple[float, float] = field(default_factory=usual_nearness)


def thread_scale(plug: UprightPlug, thread: str | None = None) -> Scale:
    """Return the scale at the plug's axis.

    Parameters
    ----------
    plug : the firing end turned upright.
    thread : "M14x1.25" and so on; None = judge by width over pitch, M14x1.25 unless that contradicts it.
    """
    sides = _silhouette(plug)
    if sides is None:
        return Scale(None, 1.0, "no thread in view to take the scale from")
    rows, left, right = sides
    width = float(np.median(right - left))
    strips = [_strip(plug, rows, edge, width, sign) for edge, sign in ((left, -1), (right, 1))]
    period, sure = _common_period(strips, width / WIDTH_PITCHES[1], width / WIDTH_PITCHES[0])
    turns = (rows[1] - rows[0]) / period
    ratio = width / period
    if thread is None and not SMALL_THREAD_PITCHES < ratio < LARGE_THREAD_PITCHES and sure >= SURE_ENOUGH:
        size = "M12x1.25 or M10x1.0" if ratio < SMALL_THREAD_PITCHES else "M18x1.5"
        why = f"the thread may be {size} instead of M14x1.25; say which it is, the pitch is the scale"
        return Scale(None, 1.0, why, ratio, sure)
    size = thread or "M14x1.25"
    across = width / (DIAMETER_MM[size] - OUTLINE_DEPTH * PITCH_MM[size])
    if sure < SURE_ENOUGH or turns < TURNS_NEEDED:
        return _by_width(across, thread, turns, ratio, sure)
    along = period / PITCH_MM[size]
    if abs(along / across - 1) > MOST_APART:
        why = f"the thread's turns and its width do not belong to one {size} thread; say which size it is, or show more of it"
        return Scale(None, 1.0, why, ratio, sure)
    nearness = _nearness(_front_strips(plug, rows, left, right), period, DIAMETER_MM[size] / 2)
    spread = 2 * (0.004 + 0.02 * (1 - sure) ** 2 + 0.15 * (0.25 / turns) ** 2)
    return Scale(along, spread, None, ratio, sure, nearness)


def _by_width(px_per_mm: float, thread: str | None, turns: float, ratio: float, sure: float) -> Scale:
    """Return the scale from the thread's width where its turns cannot be counted: only for a thread that the user told."""
    if thread is not None:
        return Scale(px_per_mm, 2 * WIDTH_NOISE, None, ratio, sure)
    if turns < TURNS_NEEDED:
        why = f"only {turns:.0f} turns of the thread are in view; show more of the thread, or say which size it is"
    else:
        why = "the thread's turns cannot be counted here (dirt, blur or shade); clean it, move closer, or say which size it is"
    return Scale(None, 1.0, why, ratio, sure)


def _front_strips(plug: UprightPlug, rows: tuple[int, int], left: Floats, right: Floats) -> list[Floats]:
    """Return grey values along lines on the side of the thread that faces the lens, each of shape (rows, 1)."""
    grey, middle, radius = plug.grey, (left + right) / 2, (right - left) / 2
    strips = []
    for share in FRONT_RADII:
        u = np.rint((middle + share * radius)[:, None] + np.arange(-3, 4)).astype(int)
        values = grey[np.arange(*rows)[:, None], np.clip(u, 0, grey.shape[1] - 1)]
        strips.append(values.mean(1, keepdims=True, dtype=np.float64))
    return strips


def _nearness(front: list[Floats], period: float, radius_mm: float) -> tuple[float, float]:
    """Return one over the lens's distance (1/mm) and its 1 sigma: crests facing the lens look larger by h / (h - r).

    The measured ratio is weighed with what is usual; where the front cannot be counted only the usual is left.
    """
    seen, sure = _common_period(front, 0.98 * period, 1.3 * period)
    if sure < SURE_ENOUGH:
        return usual_nearness()
    usual, spread = usual_nearness()
    step_mm = CREST_REACH * radius_mm
    measured, noise = (1 - period / seen) / step_mm, RATIO_NOISE / step_mm
    weights = np.array([1 / noise**2, 1 / spread**2])
    value = float(np.average([measured, usual], weights=weights))
    return max(value, 0.0), float(weights.sum() ** -0.5)


def _silhouette(plug: UprightPlug) -> tuple[tuple[int, int], Floats, Floats] | None:
    """Return the rows of the thread and its left and right edges there as straight lines (u at each row)."""
    body = plug.probability("thread") > 0.5
    widths = body.sum(1)
    full = widths > 0.75 * np.percentile(widths[widths > 0], 90) if (widths > 0).any() else widths > 0
    rows = np.nonzero(full)[0]
    if len(rows) < 40:
        return None
    first, last = int(np.percentile(rows, 2)), int(np.percentile(rows, 98))
    span = np.arange(first, last)
    lefts = body[rows].argmax(1).astype(np.float64)
    rights = body.shape[1] - body[rows, ::-1].argmax(1).astype(np.float64)
    return (first, last), _line(rows, lefts, span), _line(rows, rights, span)


def _line(rows: NDArray[np.int_], edge: Floats, span: NDArray[np.int_]) -> Floats:
    keep = np.abs(edge - np.median(edge)) < 0.1 * (edge.max() - edge.min() + 8) + 6
    slope, offset = np.polyfit(rows[keep], edge[keep], 1)
    return np.asarray(slope * span + offset)


def _strip(plug: UprightPlug, rows: tuple[int, int], edge: Floats, width: float, outward: int) -> Floats:
    """Return grey values along one silhouette, shape (rows, columns), columns from inside to outside, following the edge line."""
    grey = plug.grey
    pitch = width / 11
    offsets = np.arange(OUTLINE_PITCHES[0] * pitch, OUTLINE_PITCHES[1] * pitch, max(1.0, pitch / 24)) * outward
    u = edge[:, None] + offsets[None]
    columns = np.clip(np.rint(u).astype(int), 0, grey.shape[1] - 1)
    return np.asarray(grey[np.arange(*rows)[:, None], columns], dtype=np.float64)


def _common_period(strips: list[Floats], shortest: float, longest: float) -> tuple[float, float]:
    """Return the period in rows shared by all strips, and the share of the band's power at it (0-1)."""
    n = len(strips[0])
    padded = 1 << int(np.ceil(np.log2(n * 8)))
    power = np.zeros(padded // 2 + 1)
    window = np.hanning(n)[:, None]
    for strip in strips:
        values = _detrended(strip, longest)
        spectrum = (np.abs(np.fft.rfft(values * window, padded, axis=0)) ** 2).sum(1)
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


def _detrended(strip: Floats, longest: float) -> Floats:
    """Take out everything slower than the thread: a moving mean over about two turns."""
    width = max(3, int(2 * longest) | 1)
    kernel = np.ones(width) / width
    padded = np.pad(strip, ((width // 2, width // 2), (0, 0)), mode="reflect") if len(strip) > width else None
    if padded is None:
        return np.asarray(strip - strip.mean(0))
    slow = np.apply_along_axis(lambda column: np.convolve(column, kernel, mode="valid"), 0, padded)
    return np.asarray(strip - slow)


def _parabola(power: Floats, k: int) -> float:
    """Return the sub-bin place of the peak at bin k."""
    if not 0 < k < len(power) - 1:
        return float(k)
    a, b, c = power[k - 1], power[k], power[k + 1]
    bend = a - 2 * b + c
    return float(k + 0.5 * (a - c) / bend) if bend < 0 else float(k)
