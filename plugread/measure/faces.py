"""The two faces of the spark gap: where strap and centre electrode come nearest, to a fraction of a pixel.

First the nearest points of the two part maps, then scan lines across the gap there; on each line the steepest place near
the map's edge counts as the face. Near means within about one cell of the map: further off stand bevels and shadows.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.measure.axis import UprightPlug

Floats = NDArray[np.float64]
SURE = 0.5
MOST_GAP_MM = 3.0
SHUT = "no light between strap and centre: the gap is bridged, shut or hidden"
LEAST_GAP_MM = 0.15
"""Nearer faces than this are called shut: deposits and the map's own cells are as wide."""
MOST_SLANT_DEG = 55.0
"""A gap that runs further off the axis than this belongs to a side electrode or is seen from the wrong side."""
LINE_REACH_MM = 0.8
"""Scan lines cover this much to either side of the nearest points."""
LIKE_NEAREST_MM = 0.05
"""Lines on which the faces are this much further apart than at the nearest still count towards the distance."""


@dataclass(frozen=True)
class Faces:
    """Distance between the faces, its noise, the centre's visible radius, the two nearest points (u, v); upright pixels."""

    distance_px: float
    noise_px: float
    centre_radius_px: float
    strap_point: tuple[float, float]
    centre_point: tuple[float, float]


def facing_faces(plug: UprightPlug, px_per_mm: float) -> Faces | str:
    """Return the faces of the gap, or the reason in words why they cannot be had."""
    strap, centre = plug.probability("strap"), plug.probability("centre")
    ends = nearest_points(strap, centre, px_per_mm)
    if isinstance(ends, str):
        return ends
    strap_point, centre_point = ends
    distance = float(np.hypot(*(centre_point - strap_point)))
    if distance < max(1.5, 0.5 * plug.step):
        return SHUT
    across = (centre_point - strap_point) / distance
    if abs(across[1]) < np.cos(np.radians(MOST_SLANT_DEG)):
        return "the strap does not stand over the centre electrode in this view; turn the plug so that the gap shows"
    lines = _lines(plug, (strap_point + centre_point) / 2, across, distance, px_per_mm)
    edges = _edges(*lines, sigma_px=max(0.8, 0.018 * px_per_mm), cell_px=plug.step)
    if edges is None:
        return SHUT
    apart, noise = _nearest(edges, LIKE_NEAREST_MM * px_per_mm)
    if apart < LEAST_GAP_MM * px_per_mm:
        return SHUT
    radius = 0.5 * float(np.sqrt(4 / np.pi * (centre > SURE).sum())) / 1.4
    return Faces(apart, noise, radius, _pair(strap_point), _pair(centre_point))


def nearest_points(strap: NDArray[np.float32], centre: NDArray[np.float32], px_per_mm: float) -> tuple[Floats, Floats] | str:
    """Return the nearest points (u, v) of strap and centre electrode, averaged over the closest few, or the reason why not."""
    strap_rim, centre_rim = _outline(strap, 0.3 * px_per_mm**2), _outline(centre, 0.05 * px_per_mm**2)
    if strap_rim is None or centre_rim is None:
        return "strap and centre electrode are not both in view"
    apart = np.hypot(*(strap_rim[:, None] - centre_rim[None]).transpose(2, 0, 1))
    closest = np.unravel_index(np.argsort(apart, axis=None)[: max(5, len(centre_rim) // 25)], apart.shape)
    if apart.min() > MOST_GAP_MM * px_per_mm:
        return "strap and centre electrode are too far apart to be a gap; the strap may be missing or hidden"
    return strap_rim[closest[0]].mean(0), centre_rim[closest[1]].mean(0)


def _outline(probability: NDArray[np.float32], least_px: float) -> Floats | None:
    """Return points (n, 2) on the outline of the largest patch, at most about 600 of them."""
    count, label, stats, _ = cv2.connectedComponentsWithStats((probability > SURE).astype(np.uint8))
    if count < 2:
        return None
    largest = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    if stats[largest, cv2.CC_STAT_AREA] < least_px:
        return None
    lines, _ = cv2.findContours((label == largest).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    points = np.concatenate([line[:, 0] for line in lines]).astype(np.float64)
    return np.asarray(points[:: max(1, len(points) // 600)])


def _lines(
    plug: UprightPlug, middle: Floats, across: Floats, distance: float, px_per_mm: float
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Resample picture, strap and centre so that rows run across the gap from strap to centre; the middle row is mid-gap."""
    half_rows = int(distance / 2 + max(0.5 * px_per_mm, 3 * plug.step)) + 4
    half_columns = int(LINE_REACH_MM * px_per_mm)
    along = np.array([across[1], -across[0]])
    corner = middle - half_rows * across - half_columns * along
    to_upright = np.stack([along, across, corner], -1)
    size = (2 * half_columns + 1, 2 * half_rows + 1)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    planes = (plug.rgb, plug.probability("strap"), plug.probability("centre"))
    picture, strap, centre = (
        np.asarray(cv2.warpAffine(plane, to_upright, size, flags=flags, borderMode=cv2.BORDER_REPLICATE), np.float32)
        for plane in planes
    )
    return picture, strap, centre


def _edges(
    picture: NDArray[np.float32], strap: NDArray[np.float32], centre: NDArray[np.float32], *, sigma_px: float, cell_px: float
) -> Floats | None:
    """Return (n, 3): column, row of the strap's face, row of the centre's face, for each line that shows both."""
    slope = steepness(picture, sigma_px)
    middle = len(picture) // 2
    found = []
    for column in range(picture.shape[1]):
        above = np.nonzero(strap[:middle, column] > SURE)[0]
        below = np.nonzero(centre[middle:, column] > SURE)[0]
        if len(above) == 0 or len(below) == 0:
            continue
        upper = _steepest_near(slope[:, column], float(above[-1]) + 0.5, cell_px, (0, middle))
        lower = _steepest_near(slope[:, column], float(below[0] + middle) - 0.5, cell_px, (middle, len(picture) - 1))
        found.append((column, upper, lower))
    return np.array(found) if len(found) >= 3 else None


def steepness(picture: NDArray[np.float32], sigma_px: float) -> Floats:
    """Return the colour change along the rows for each pixel, after a Gaussian of `sigma_px`; float64 of shape (h, w)."""
    size = int(np.ceil(3 * sigma_px)) * 2 + 1
    smooth = cv2.GaussianBlur(picture, (1, size), sigmaX=0.01, sigmaY=sigma_px, borderType=cv2.BORDER_REPLICATE)
    change = np.gradient(smooth.astype(np.float64), axis=0)
    return np.asarray(np.sqrt((change**2).sum(-1)))


def _steepest_near(slope: Floats, expected: float, cell_px: float, limits: tuple[int, int]) -> float:
    """Return the row of the steepest place near `expected`, weighing nearness, refined by a parabola."""
    width = 0.8 * cell_px + 1.0
    first, last = max(limits[0], int(expected - 2.5 * width), 1), min(limits[1], int(expected + 2.5 * width), len(slope) - 2)
    if last <= first:
        return expected
    rows = np.arange(first, last + 1)
    k = int(rows[np.argmax(slope[rows] * np.exp(-0.5 * ((rows - expected) / width) ** 2))])
    a, b, c = slope[k - 1], slope[k], slope[k + 1]
    bend = a - 2 * b + c
    return float(k + np.clip(0.5 * (a - c) / bend, -0.5, 0.5)) if bend < 0 else float(k)


def _nearest(edges: Floats, tolerance_px: float) -> tuple[float, float]:
    """Return the distance over the lines where the faces are nearest, and its noise."""
    apart = edges[:, 2] - edges[:, 1]
    window = max(3, len(apart) // 8) | 1
    padded = np.pad(apart, window // 2, mode="edge")
    smooth = np.median(np.lib.stride_tricks.sliding_window_view(padded, window), axis=1)
    near = smooth <= smooth.min() + tolerance_px
    value = float(np.median(apart[near]))
    scatter = 1.4826 * float(np.median(np.abs(apart[near] - value)))
    return value, scatter / np.sqrt(max(1.0, near.sum() / window)) + 0.15


def _pair(point: Floats) -> tuple[float, float]:
    return float(point[0]), float(point[1])
