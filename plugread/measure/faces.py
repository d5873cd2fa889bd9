"""The two faces of the spark gap: how far apart strap and centre electrode stand, to a fraction of a pixel.

The part map says where the faces are, the photo at full size says exactly where their edges run. The distance is looked for over
the tip of the centre electrode only: where the strap bends down beside it, a plug turned a little looks closed in.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.measure.axis import UprightPlug
from plugread.measure.edges import Edge, follow

Floats = NDArray[np.float64]
SURE = 0.5
MOST_GAP_MM = 3.0
SHUT = "no light between strap and centre: the gap is bridged, shut or hidden"
FAR = "strap and centre electrode are too far apart to be a gap; the strap may be missing or hidden"
NOT_OVER = "the strap does not stand over the centre electrode in this view; turn the plug so that the gap shows"
HIDDEN = "strap and centre electrode are not both in view"
UNSURE = "strap and centre electrode cannot be told apart surely enough here; use a wire gauge"
FAINT = "the edges of strap and centre do not stand out; hold plain white paper behind the gap"
LEAST_GAP_MM = 0.15
"""Nearer faces than this are called shut: deposits and the map's own cells are as wide."""
ACROSS_MM, IN_FRONT_MM, BEHIND_MM = 2.2, 3.4, 0.7
"""The window looked at: to either side of the tip's middle, in front of the tip, behind it."""
TIP_STEP_MM, TIP_CORE = 0.35, 0.85
"""Columns whose face stands no further behind the foremost than this are the tip; its middle share is used (round corners)."""
LEAST_OVER_MM = 0.25
"""The strap must stand over this much of the tip."""
EDGE_REACH_MM, EDGE_BLUR_MM = 0.03, 0.018
"""How far the map's edge is usually off, and the blur before the steepest place is looked for."""
LEAST_CLEARNESS, CLEAR_SHARE = 4.0, 0.35
"""Slope over that of the gap's light from which an edge counts as seen, and the share of the columns where it must be."""
SURE_MM, SURE_ENOUGH = (0.1, 0.4), 0.9
"""Behind each face, from here to there, the part map must hold the metal for what it is with this mean probability: below it the
marked edges were up to 0.7 mm off."""
PLAIN_SHARE, PLAINLY_SEEN = 0.85, 0.5
"""Where both edges stand out in this share of the columns, a probability of the second is enough (side views of training
families: seven more gaps read, none of them outside its interval)."""
NEAREST_QUANTILE, SMOOTH_MM = 0.05, 0.08
"""A wire gauge stops at the nearest places: this quantile of the distances, after a running median of this width."""


@dataclass(frozen=True, eq=False)
class Faces:
    """What was found between the faces; upright pixels.

    Parameters
    ----------
    distance_px : between the two edges in the photo; `map_distance_px` the same from the part map alone.
    noise_px : 1 sigma of the distance from the scatter of the columns; `roughness_px` how uneven it is over the tip.
    tip_radius_px : half the width of the tip.
    strap_point, centre_point : where the faces are nearest, (u, v).
    """

    distance_px: float
    map_distance_px: float
    noise_px: float
    roughness_px: float
    tip_radius_px: float
    strap_point: tuple[float, float]
    centre_point: tuple[float, float]


@dataclass(frozen=True, eq=False)
class _Window:
    """Cut-out about the gap: picture (h, w, 3), strap and centre probability (h, w), its corner (u, v) in upright pixels."""

    picture: NDArray[np.float32]
    strap: NDArray[np.float32]
    centre: NDArray[np.float32]
    corner: tuple[int, int]


def facing_faces(plug: UprightPlug, px_per_mm: float) -> Faces | str:
    """Return the faces of the gap, or the reason in words why they cannot be had."""
    window = _window(plug, px_per_mm)
    if isinstance(window, str):
        return window
    faces = _map_edges(window, px_per_mm)
    if isinstance(faces, str):
        return faces
    columns, strap_rows, centre_rows = faces
    behind = np.linspace(*SURE_MM, 5)[:, None] * px_per_mm
    sure = _mean_at(window.strap, strap_rows - behind, columns), _mean_at(window.centre, centre_rows + behind, columns)
    seen = _photo_edges(window, columns, strap_rows, centre_rows, plug.step, px_per_mm)
    clear = [edge.clearness >= LEAST_CLEARNESS for edge in seen]
    plain = min(float(part.mean()) for part in clear)
    if min(sure) < (SURE_ENOUGH if plain < PLAIN_SHARE else PLAINLY_SEEN):
        return UNSURE
    if plain < CLEAR_SHARE:
        return FAINT
    rows = [_bridged(edge.rows, part) for edge, part in zip(seen, clear, strict=True)]
    return _measured(window.corner, columns, (strap_rows, centre_rows), (rows[0], rows[1]), px_per_mm)


def _mean_at(chance: NDArray[np.float32], rows: Floats, columns: NDArray[np.int_]) -> float:
    """Return the mean of a map at rows (n, w) of its columns (w,)."""
    return float(chance[np.clip(np.rint(rows).astype(int), 0, len(chance) - 1), columns[None]].mean())


def _bridged(rows: Floats, clear: NDArray[np.bool_]) -> Floats:
    """Return the edge with columns where it does not stand out drawn straight between their neighbours."""
    columns = np.arange(len(rows))
    return np.asarray(np.interp(columns, columns[clear], rows[clear]))


def _window(plug: UprightPlug, px_per_mm: float) -> _Window | str:
    strap, centre = plug.probability("strap"), plug.probability("centre")
    tip = _tip(centre, px_per_mm)
    if tip is None or (strap > SURE).sum() < 0.3 * px_per_mm**2:
        return HIDDEN
    u, v = tip
    left, right = round(u - ACROSS_MM * px_per_mm), round(u + ACROSS_MM * px_per_mm)
    top, bottom = round(v - IN_FRONT_MM * px_per_mm), round(v + BEHIND_MM * px_per_mm)
    left, top = max(left, 0), max(top, 0)
    cut = (slice(top, bottom), slice(left, right))
    return _Window(plug.rgb[cut], strap[cut], centre[cut], (left, top))


def _tip(centre: NDArray[np.float32], px_per_mm: float) -> tuple[float, float] | None:
    """Return (u, v) of the middle of the foremost face of the centre electrode, or None where too little of it is seen."""
    count, label, stats, _ = cv2.connectedComponentsWithStats((centre > SURE).astype(np.uint8))
    if count < 2:
        return None
    largest = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    if stats[largest, cv2.CC_STAT_AREA] < 0.05 * px_per_mm**2:
        return None
    rows, columns = np.nonzero(label == largest)
    foremost = float(np.percentile(rows, 1))
    return float(np.median(columns[rows <= foremost + TIP_STEP_MM * px_per_mm])), foremost


def _map_edges(window: _Window, px_per_mm: float) -> tuple[NDArray[np.int_], Floats, Floats] | str:
    """Return columns over the tip, and in each the rows of strap and centre face by the part map, between its cells."""
    centre, strap = window.centre > SURE, window.strap > SURE
    has = np.flatnonzero(centre.any(0))
    first = centre.argmax(0)[has]
    tip = has[first <= np.percentile(first, 5) + TIP_STEP_MM * px_per_mm]
    if len(tip) < 4:
        return HIDDEN
    trim = round((1 - TIP_CORE) / 2 * np.ptp(tip))
    core = tip[(tip >= tip[0] + trim) & (tip <= tip[-1] - trim)]
    over = _under_strap(core, centre, strap) or _under_strap(tip, centre, strap)
    if len(over) < max(LEAST_OVER_MM * px_per_mm, 4):
        return NOT_OVER
    columns, strap_last = np.array(over).T
    rows = centre.argmax(0)[columns]
    apart = (rows - strap_last) / px_per_mm
    if np.median(apart) > MOST_GAP_MM:
        return FAR
    if np.percentile(apart, 25) < LEAST_GAP_MM:
        return SHUT
    whole = np.arange(columns[0], columns[-1] + 1)
    upper = _crossing(window.strap, columns, strap_last, strap_last + 1)
    lower = _crossing(window.centre, columns, rows, rows - 1)
    return whole, np.interp(whole, columns, upper), np.interp(whole, columns, lower)


def _under_strap(columns: NDArray[np.int_], centre: NDArray[np.bool_], strap: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return (column, last row of the strap above the centre) of those columns where the strap stands above it."""
    found = []
    for column in columns:
        rows = np.flatnonzero(strap[: int(centre[:, column].argmax()), column])
        if len(rows):
            found.append((int(column), int(rows[-1])))
    return found


def _crossing(
    chance: NDArray[np.float32], columns: NDArray[np.int_], inside: NDArray[np.int_], outside: NDArray[np.int_]
) -> Floats:
    """Return the row between `inside` and `outside` where the probability passes SURE."""
    a = chance[inside, columns].astype(np.float64)
    b = chance[np.clip(outside, 0, len(chance) - 1), columns].astype(np.float64)
    share = np.clip((a - SURE) / np.maximum(a - b, 1e-6), 0, 1)
    return np.asarray(inside + share * (outside - inside))


def _photo_edges(
    window: _Window, columns: NDArray[np.int_], strap_rows: Floats, centre_rows: Floats, cell_px: float, px_per_mm: float
) -> tuple[Edge, Edge]:
    """Follow both faces in the photo itself."""
    picture = window.picture[:, columns]
    reach = max(EDGE_REACH_MM * px_per_mm, 0.6 * cell_px + 1.0)
    reach = min(reach, 0.3 * float(np.median(centre_rows - strap_rows)))
    blur = max(0.8, EDGE_BLUR_MM * px_per_mm)
    middle = (strap_rows + centre_rows) / 2
    upper, lower = (follow(picture, rows, middle, reach_px=reach, sigma_px=blur) for rows in (strap_rows, centre_rows))
    return upper, lower


def _measured(
    corner: tuple[int, int],
    columns: NDArray[np.int_],
    by_map: tuple[Floats, Floats],
    by_photo: tuple[Floats, Floats],
    px_per_mm: float,
) -> Faces | str:
    apart = _apart(*by_photo, px_per_mm)
    distance, map_distance = (float(np.quantile(d, NEAREST_QUANTILE)) for d in (apart, _apart(*by_map, px_per_mm)))
    if distance < LEAST_GAP_MM * px_per_mm:
        return SHUT
    nearest = int(np.argmin(np.abs(apart - distance)))
    raw = by_photo[1] - by_photo[0]
    window = max(3.0, SMOOTH_MM * px_per_mm)
    noise = 1.4826 * float(np.median(np.abs(raw - apart))) / np.sqrt(max(1.0, 0.2 * len(raw) / window)) + 0.15
    rough = float(np.quantile(apart, 0.5) - distance)
    u, v = columns[nearest] + corner[0], corner[1]
    strap, centre = ((float(u), float(v + rows[nearest])) for rows in by_photo)
    return Faces(distance, map_distance, noise, rough, 0.5 * len(columns) / TIP_CORE, strap, centre)


def _apart(strap: Floats, centre: Floats, px_per_mm: float) -> Floats:
    """Return the distance from each place of the centre's face to the strap's face, smoothed along the face."""
    width = max(3, round(SMOOTH_MM * px_per_mm)) | 1
    upper, lower = (_running_median(rows, width) for rows in (strap, centre))
    reach = min(round(0.5 * px_per_mm), len(upper) - 1)
    options = [np.hypot(_moved(upper, d) - lower, d) for d in range(-reach, reach + 1)]
    return np.asarray(np.min(options, axis=0))


def _moved(rows: Floats, by: int) -> Floats:
    """Return the rows of the columns `by` further, infinity beyond the ends."""
    moved = np.full(len(rows), np.inf)
    if by >= 0:
        moved[: len(rows) - by] = rows[by:]
    else:
        moved[-by:] = rows[:by]
    return moved


def _running_median(values: Floats, width: int) -> Floats:
    padded = np.pad(values, width // 2, mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1))
