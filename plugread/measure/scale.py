"""Pixels per millimetre from the thread: its pitch is the one dimension known before the plug is.

The period is taken at the two silhouette edges and, apart from them, from the crests that face the lens, brought to the axis'
distance (`crests.py`); the one that fits the thread's width is believed. A thread's designation names its diameter and pitch
(ISO 261).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from plugread.measure.axis import UprightPlug
from plugread.measure.crests import Crests, crests
from plugread.measure.lens import usual_nearness
from plugread.measure.periods import common_period
from plugread.measure.silhouette import Silhouette, front_columns, outline_strips, silhouette
from plugread.measure.tilt import Tilt

USUAL = "M14x1.25"
"""Taken where no thread is told and the width does not contradict it."""
WIDTH_PITCHES = (8.6, 12.9)
"""Silhouette width over pitch lies between these for every thread above (9.6 to 12.0) with room for worn crests."""
SMALL_THREAD_PITCHES, LARGE_THREAD_PITCHES = 10.15, 11.1
"""Outside these ratios the thread may be M12 or M10, or M18, instead of M14x1.25 (10.45): the user must say which."""
TURNS_NEEDED = 3.5
SURE_ENOUGH = 0.35
OUTLINE_DEPTH, WIDTH_NOISE, MOST_APART = 0.75, 0.02, 0.1
"""The mean outline of a thread lies this many pitches inside its diameter in all (crests and roots in turn; ISO 68-1: the groove
is 0.61 pitches deep), right to 2 % (1 sigma, our renders); past the last share, pitch and width contradict each other."""


@dataclass(frozen=True)
class Scale:
    """Pixels per millimetre with its 95 % relative spread, and how it was found; `px_per_mm` None = could not, see `why`.

    `width_pitches` is the silhouette's width over the pitch; `sureness` the share of the strips' changes that the thread
    explains; `nearness` one over the distance from lens to plug in 1/mm, with 1 sigma; `lean` that of the line of sight at
    `row`, None = could not be told.
    """

    px_per_mm: float | None
    relative_spread: float
    why: str | None
    width_pitches: float | None = None
    sureness: float = 0.0
    nearness: tuple[float, float] = field(default_factory=usual_nearness)
    lean: Tilt | None = None
    row: float = 0.0


def thread_scale(plug: UprightPlug, thread: str | None = None) -> Scale:
    """Return the scale at the plug's axis, and what the thread tells of the view.

    Parameters
    ----------
    plug : the firing end turned upright.
    thread : "M14x1.25" and so on; None = judge by width over pitch, M14x1.25 unless that contradicts it.
    """
    sides = silhouette(plug)
    if sides is None:
        return Scale(None, 1.0, "no thread in view to take the scale from")
    diameter_mm, pitch_mm = _millimetres(thread or USUAL)
    across = sides.width / (diameter_mm - OUTLINE_DEPTH * pitch_mm)
    period, sure, front = _period(plug, sides, diameter_mm / 2, across * pitch_mm)
    found = _scale(sides, across, period, sure, thread)
    if front is None:
        return replace(found, row=sides.middle_row)
    return replace(found, row=sides.middle_row, nearness=_weighed(front.nearness), lean=front.lean)


def _millimetres(size: str) -> tuple[float, float]:
    """Return diameter and pitch of a thread designated like "M14x1.25"."""
    diameter, pitch = size.removeprefix("M").split("x")
    return float(diameter), float(pitch)


def _scale(sides: Silhouette, across: float, period: float, sure: float, thread: str | None) -> Scale:
    """Return the scale from the turns' period if it can be believed, else from the width, `across` pixels per mm."""
    size = thread or USUAL
    turns, ratio, along = (sides.last - sides.first) / period, sides.width / period, period / _millimetres(size)[1]
    if thread is None and not SMALL_THREAD_PITCHES < ratio < LARGE_THREAD_PITCHES and sure >= SURE_ENOUGH:
        other = "M12x1.25 or M10x1.0" if ratio < SMALL_THREAD_PITCHES else "M18x1.5"
        why = f"the thread may be {other} instead of M14x1.25; say which it is, the pitch is the scale"
        return Scale(None, 1.0, why, ratio, sure)
    if sure < SURE_ENOUGH or turns < TURNS_NEEDED:
        return _by_width(across, thread, turns, ratio, sure)
    if abs(along / across - 1) > MOST_APART:
        why = f"the thread's turns and its width do not belong to one {size} thread; say which size it is, or show more of it"
        return Scale(None, 1.0, why, ratio, sure)
    spread = 2 * (0.004 + 0.02 * (1 - sure) ** 2 + 0.15 * (0.25 / turns) ** 2)
    return Scale(along, spread, None, ratio, sure)


def _period(plug: UprightPlug, sides: Silhouette, radius_mm: float, expected: float) -> tuple[float, float, Crests | None]:
    """Return the period in rows, of two ways the one nearer to `expected`, how sure it is (0-1), and what the crests tell."""
    within = sides.width / WIDTH_PITCHES[1], sides.width / WIDTH_PITCHES[0]
    outline = common_period(outline_strips(plug, sides), *within)
    front = crests(front_columns(plug, sides), sides, radius_mm, expected)
    if front is None:
        return *outline, None
    ways = [(front.period, front.agreement), *([outline] if outline[1] >= SURE_ENOUGH else [])]
    period, sure = min(ways, key=lambda way: abs(np.log(way[0] / expected)))
    return period, sure, front


def _weighed(seen: tuple[float, float]) -> tuple[float, float]:
    """Return the nearness weighed with what is usual, and its 1 sigma."""
    (value, noise), (usual, spread) = seen, usual_nearness()
    weights = np.array([1 / noise**2, 1 / spread**2])
    return float(np.average([value, usual], weights=weights)), float(weights.sum() ** -0.5)


def _by_width(px_per_mm: float, thread: str | None, turns: float, ratio: float, sure: float) -> Scale:
    """Return the scale from the thread's width where its turns cannot be counted: only for a thread that the user told."""
    if thread is not None:
        return Scale(px_per_mm, 2 * WIDTH_NOISE, None, ratio, sure)
    if turns < TURNS_NEEDED:
        why = f"only {turns:.0f} turns of the thread are in view; show more of the thread, or say which size it is"
    else:
        why = "the thread's turns cannot be counted here (dirt, blur or shade); clean it, move closer, or say which size it is"
    return Scale(None, 1.0, why, ratio, sure)
