"""The spark gap in millimetres, from a side view: thread pitch for the scale, electrode edges at full resolution.

The gap is the nearest distance between the two faces, as a wire gauge would find it. Says why where it cannot be measured: not a
side view, leaning too far, thread not countable, too few pixels, blurred, electrodes not found, bridged.
The visible gap is g cos(phi) - (w/2 + r) sin(phi): leaning always makes it look smaller. The lean is that of the line of sight
at the gap, which for a near lens differs by some degrees from that at the shell.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from plugread.measure.axis import UprightPlug, upright
from plugread.measure.closer import Look, closer
from plugread.measure.faces import Faces, facing_faces
from plugread.measure.scale import Scale, thread_scale
from plugread.measure.tilt import Tilt, further_out
from plugread.records import FiringEnd, Measured, Photo, Quality

MAX_LEAN_DEG = 6.0
"""Up to here the lean of the line of sight at the gap is corrected for."""
USUAL_LEAN_DEG = 5.0
"""1 sigma of the lean of plugs held square by eye (our guess); what the thread tells is weighed with it."""
MIN_PX_PER_MM = 15.0
MAX_BLUR_MM = 0.16
SIDE_SURE = 0.5
STRAP_LEVER_MM, TIP_LEVER = 0.6, 0.6
"""How much of the gap a lean hides, per sine: something for the strap's width, something of the tip's radius. Square edges would
hide half the strap (1.2 mm) and all of the radius; worn and rounded ones hide less (fitted on our renders)."""
ROUGH_SHARE, BETWEEN_SHARE, MOST_BETWEEN_MM = 1.0, 1.5, 0.25
"""Shares that go into the spread: of the unevenness over the tip (lumps seen in line may stand behind one another), and of the
difference between the edges by the part map and in the photo; past the last (mm) they contradict each other."""
MOST_SPREAD_MM = 0.2
"""Books give gaps 0.1 mm apart: a wider half-width is not worth showing."""
EDGE_MM = 0.02
"""What counts as the edge of a rounded or dirty face differs by about this much between observers (our estimate)."""


@dataclass(frozen=True)
class GapFound:
    """The gap or the reason why not; where it was measured (x, y on strap and centre, full-size pixels); pixels per mm."""

    gap: Measured | None
    why: str | None
    line: tuple[float, float, float, float] | None = None
    px_per_mm: float | None = None


def measure_gap(
    photo: Photo, end: FiringEnd, quality: Quality, thread: str | None = None, look: Look | None = None
) -> tuple[Measured | None, str | None]:
    """Return the gap, or None and the reason; parameters as for `find_gap`."""
    found = find_gap(photo, end, quality, thread, look)
    return found.gap, found.why


def find_gap(photo: Photo, end: FiringEnd, quality: Quality, thread: str | None = None, look: Look | None = None) -> GapFound:
    """Return the gap, or the reason why it cannot be had, with what was found on the way.

    Parameters
    ----------
    photo : decoded at full size; a reduced decode has too few pixels.
    end : the firing end found in it.
    quality : its sharpness and scale.
    thread : the thread size if the user told it.
    look : the net, for a closer look at the electrodes; None = the firing end's own part map has to do.
    """
    if end.view in ("end", "oblique") or end.view_probability.get("side", 1.0) < SIDE_SURE:
        return GapFound(None, "turn the plug side-on to measure the gap")
    plug = upright(photo, end)
    if plug is None:
        return GapFound(None, "the plug's axis was not found; show more of the thread")
    scale = thread_scale(plug, thread)
    if scale.px_per_mm is None:
        return GapFound(None, scale.why)
    full = scale.px_per_mm * plug.shrink
    reason = _unfit(full, scale, quality)
    if reason:
        return GapFound(None, reason, px_per_mm=full)
    near = closer(plug, scale.px_per_mm, look) if look else None
    near_plug, corner = near or (plug, (0, 0))
    faces = facing_faces(near_plug, scale.px_per_mm)
    if isinstance(faces, str):
        return GapFound(None, faces, px_per_mm=full)
    row = corner[1] + (faces.strap_point[1] + faces.centre_point[1]) / 2
    gap, why = _gap(faces, *_at_gap(photo, plug, row, scale))
    return GapFound(gap, why, _on_photo(near_plug, faces), full)


def _on_photo(plug: UprightPlug, faces: Faces) -> tuple[float, float, float, float]:
    """Return x, y of the strap's and the centre's nearest point, full-size pixels."""
    (xs, xc), (ys, yc) = plug.to_photo @ np.array([[*faces.strap_point, 1.0], [*faces.centre_point, 1.0]]).T
    return float(xs), float(ys), float(xc), float(yc)


def _at_gap(photo: Photo, plug: UprightPlug, row: float, scale: Scale) -> tuple[Scale, Tilt]:
    """Return scale and lean at the gap's row: it stands in front of the thread, where the one was counted and the other seen.

    Along an axis that leans towards a near lens, lengths grow with the square of the nearness (geometry of the perspective). The
    lens is taken to look at the middle of the picture.
    """
    assert scale.px_per_mm is not None
    assert scale.lean is not None
    along_mm = (scale.row - row) / scale.px_per_mm
    lean = _lean(further_out(scale.lean, along_mm, scale.nearness))
    gap = plug.to_photo @ np.array([plug.rgb.shape[1] / 2, row, 1.0])
    towards_hex = plug.to_photo[:, 1] / np.hypot(*plug.to_photo[:, 1])
    beyond_mm = float((np.array(photo.size) / 2 - gap) @ towards_hex) / (scale.px_per_mm * plug.shrink)
    to_plane = np.radians(lean.degrees) + beyond_mm * scale.nearness[0]
    reach, unsure = (2 * along_mm * part for part in scale.nearness)
    doubts = reach * np.radians(lean.spread / 2), unsure * np.sin(to_plane), unsure * scale.nearness[0] * beyond_mm
    spread = float(np.hypot(scale.relative_spread, 2 * np.linalg.norm(doubts)))
    return replace(scale, px_per_mm=scale.px_per_mm * (1 + reach * float(np.sin(to_plane))), relative_spread=spread), lean


def _lean(seen: Tilt) -> Tilt:
    """Return the lean weighed with how plugs are held."""
    noise = seen.spread / 2
    trust = USUAL_LEAN_DEG**2 / (USUAL_LEAN_DEG**2 + noise**2)
    return Tilt(trust * seen.degrees, 2 * float(np.sqrt(trust)) * noise)


def _unfit(px_per_mm: float, scale: Scale, quality: Quality) -> str | None:
    if px_per_mm < MIN_PX_PER_MM:
        return f"too small in the picture ({px_per_mm:.0f} pixels per mm, {MIN_PX_PER_MM:.0f} needed); move closer"
    if scale.lean is None:
        return "how far the plug leans cannot be told; show more of the thread, clean, sharp and evenly lit"
    blur_mm = quality.blur_px / px_per_mm
    if blur_mm > MAX_BLUR_MM:
        return f"edges are {blur_mm:.2f} mm wide from blur; hold still and let the camera focus on the gap"
    return None


def _gap(faces: Faces, scale: Scale, lean: Tilt) -> tuple[Measured | None, str | None]:
    """Turn the faces' distance into millimetres, corrected for leaning, with the spread from scale, edges and lean."""
    assert scale.px_per_mm is not None
    if abs(lean.degrees) > MAX_LEAN_DEG:
        found = f"the gap is seen {abs(lean.degrees):.0f} degrees off square"
        return None, f"{found}; hold the plug square to the lens, the gap in the middle of the picture"
    between = abs(faces.distance_px - faces.map_distance_px) / scale.px_per_mm
    if between > MOST_BETWEEN_MM:
        return None, f"two ways to find the electrodes' edges differ by {between:.2f} mm; hold plain white paper behind the gap"
    lever_mm = STRAP_LEVER_MM + TIP_LEVER * min(faces.tip_radius_px / scale.px_per_mm, 1.4)
    hidden, unsure = _hidden_by_lean(lean)
    value = faces.distance_px / scale.px_per_mm + lever_mm * hidden
    parts = (
        scale.relative_spread * value,
        2 * faces.noise_px / scale.px_per_mm,
        2 * EDGE_MM,
        BETWEEN_SHARE * between,
        ROUGH_SHARE * faces.roughness_px / scale.px_per_mm,
        2 * lever_mm * unsure,
    )
    spread = float(np.hypot.reduce(parts))
    if spread > MOST_SPREAD_MM:
        return None, f"the gap can only be told to {spread:.2f} mm here (rough, dirty or leaning electrodes); use a wire gauge"
    return Measured(float(value), spread, "mm", "photo: thread pitch and electrode edges"), None


def _hidden_by_lean(tilt: Tilt) -> tuple[float, float]:
    """Return mean and 1 sigma of |sin(lean)| for a lean that is only known with a spread."""
    leans = np.radians(tilt.degrees + tilt.spread / 2 * np.linspace(-2.5, 2.5, 41))
    weight = np.exp(-0.5 * np.linspace(-2.5, 2.5, 41) ** 2)
    hidden = np.abs(np.sin(leans))
    mean = float(np.average(hidden, weights=weight))
    return mean, float(np.sqrt(np.average((hidden - mean) ** 2, weights=weight)))
