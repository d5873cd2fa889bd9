"""How far the plug leans towards or away from the lens, from the arc of the shell's front edge.

A circle of radius R seen edge-on is a straight line; leaning by phi opens it to an arc of depth R sin(phi). The near edge,
where the thread begins, sags towards the hex when the firing end leans towards the lens.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plugread.measure.axis import UprightPlug


@dataclass(frozen=True)
class Tilt:
    """Lean of the axis in degrees (positive: firing end towards the lens), with its 95 % spread."""

    degrees: float
    spread: float


UNKNOWN_SPREAD_DEG = 6.0
"""Spread where the front edge cannot be followed."""


def axis_tilt(plug: UprightPlug) -> Tilt:
    """Return the lean of the plug's axis to the line of sight's plane, at the shell's front edge."""
    edge = _front_edge(plug)
    if edge is None:
        return Tilt(0.0, UNKNOWN_SPREAD_DEG)
    u, v, radius = edge
    arc = np.sqrt(np.clip(1 - (u / radius) ** 2, 0, None))
    design = np.stack([np.ones_like(u), u, arc], -1)
    weights = np.ones(len(u))
    solution = np.zeros(3)
    for _ in range(5):
        root = np.sqrt(weights)[:, None]
        solution = np.linalg.lstsq(design * root, v * root[:, 0], rcond=None)[0]
        off = np.abs(v - design @ solution)
        weights = 1 / (1 + (off / (2 * np.median(off) + 0.5)) ** 2)
    depth = solution[2]
    noise = 1.4826 * float(np.median(np.abs(v - design @ solution))) + 0.5 * plug.step
    sine = float(np.clip(depth / radius, -1, 1))
    spread = float(np.degrees(2 * noise / radius)) + 0.8
    return Tilt(float(np.degrees(np.arcsin(sine))), min(spread, UNKNOWN_SPREAD_DEG))


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


def _front_edge(plug: UprightPlug) -> tuple[NDArray[np.float64], NDArray[np.float64], float] | None:
    """Return (u from the axis, v of the first threaded row there, radius), all in pixels."""
    body = plug.probability("thread") > 0.5
    widths = body.sum(1)
    if not (widths > 0).any():
        return None
    radius = float(np.percentile(widths[widths > 0], 90)) / 2
    middle = plug.rgb.shape[1] / 2
    columns = np.arange(int(middle - 0.8 * radius), int(middle + 0.8 * radius))
    columns = columns[(columns >= 0) & (columns < body.shape[1])]
    first = np.argmax(body[:, columns], axis=0).astype(np.float64)
    kept = body[:, columns].any(0)
    if kept.sum() < 20 or radius < 8:
        return None
    return columns[kept] - middle + 0.5, first[kept], radius
