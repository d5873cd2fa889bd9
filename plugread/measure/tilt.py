"""How far the plug leans towards or away from the lens, and how that changes along its axis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Tilt:
    """Lean of the axis to the square line of sight in degrees (positive: firing end towards the lens), with its 95 % spread."""

    degrees: float
    spread: float


def further_out(tilt: Tilt, along_mm: float, nearness: tuple[float, float]) -> Tilt:
    """Return the lean as seen further out along the axis: a near lens looks at each place from another side.

    Parameters
    ----------
    tilt : the lean at one place of the axis.
    along_mm : how much further towards the firing end.
    nearness : one over the lens's distance in 1/mm, and its 1 sigma.
    """
    turned, unsure = (float(np.degrees(np.arctan(along_mm * part))) for part in nearness)
    return Tilt(tilt.degrees - turned, float(np.hypot(tilt.spread, 2 * unsure)))
