"""The spark gap in millimetres, from a side view: thread pitch for the scale, electrode edges at full resolution.

The gap is the nearest distance between the two faces, as a wire gauge would find it. Says why where it cannot be measured: not a
side view, leaning too far, thread not countable, too few pixels, blurred, electrodes not found, bridged.
The visible gap is g cos(phi) - (w/2 + r) sin(phi): leaning always makes it look smaller.
"""

from __future__ import annotations

import numpy as np

from plugread.measure.axis import upright
from plugread.measure.faces import Faces, facing_faces
from plugread.measure.scale import Scale, thread_scale
from plugread.measure.tilt import Tilt, axis_tilt
from plugread.records import PARTS, FiringEnd, Measured, Photo, Quality

MAX_TILT_DEG = 5.0
SENSELESS_TILT_DEG = 25.0
"""A side view cannot lean this far: the arc found is not the shell's."""
MIN_PX_PER_MM = 15.0
MAX_BLUR_MM = 0.12
SIDE_SURE = 0.5
STRAP_HALF_WIDTH_MM = 1.25
"""Half the depth of a common strap (2.2 to 2.9 mm wide); enters the leaning correction only."""
SURE_PARTS = 0.85
"""Mean probability that strap and centre electrode must have where the finder marks them: below it the marked edges were up to
half a millimetre off on rendered photos, with a small spread."""
TILT_TRUST = 0.6
"""How much of the found lean is corrected; the rest goes into the spread."""
EDGE_MM = 0.02
"""What counts as the edge of a rounded or dirty face differs by about this much between observers (our estimate)."""


def measure_gap(photo: Photo, end: FiringEnd, quality: Quality, thread: str | None = None) -> tuple[Measured | None, str | None]:
    """Return the gap, or None and the reason.

    Parameters
    ----------
    photo : decoded at full size; a reduced decode has too few pixels.
    end : the firing end found in it.
    quality : its sharpness and scale.
    thread : the thread size if the user told it.
    """
    if end.view in ("end", "oblique") or end.view_probability.get("side", 1.0) < SIDE_SURE:
        return None, "turn the plug side-on to measure the gap"
    if min(_certainty(end, "strap"), _certainty(end, "centre")) < SURE_PARTS:
        return None, "strap and centre electrode cannot be told apart surely enough here; use a wire gauge"
    plug = upright(photo, end)
    if plug is None:
        return None, "the plug's axis was not found; show more of the thread"
    scale = thread_scale(plug, thread)
    if scale.px_per_mm is None:
        return None, scale.why
    tilt = axis_tilt(plug)
    reason = _unfit(scale.px_per_mm, tilt, quality)
    if reason:
        return None, reason
    faces = facing_faces(plug, scale.px_per_mm)
    return (None, faces) if isinstance(faces, str) else (_gap(faces, scale, tilt), None)


def _certainty(end: FiringEnd, part: str) -> float:
    """Return the mean probability of the cells marked as `part`, 0 if there are none."""
    probability = end.parts.probability[PARTS.index(part)]
    marked = probability[probability > 0.5]
    return float(marked.mean()) if marked.size else 0.0


def _unfit(px_per_mm: float, tilt: Tilt, quality: Quality) -> str | None:
    if px_per_mm < MIN_PX_PER_MM:
        return f"too small in the picture ({px_per_mm:.0f} pixels per mm, {MIN_PX_PER_MM:.0f} needed); move closer"
    if abs(tilt.degrees) > SENSELESS_TILT_DEG:
        return "the front edge of the shell cannot be followed here; hold the plug square to the lens, all of the shell in view"
    if abs(tilt.degrees) > MAX_TILT_DEG:
        return f"the plug leans {abs(tilt.degrees):.0f} degrees out of the picture; hold it square to the lens"
    blur_mm = quality.blur_px / px_per_mm
    if blur_mm > MAX_BLUR_MM:
        return f"edges are {blur_mm:.2f} mm wide from blur; hold still and let the camera focus on the gap"
    return None


def _gap(faces: Faces, scale: Scale, tilt: Tilt) -> Measured:
    """Turn the faces' distance into millimetres, corrected for leaning, with the spread from scale, edges and lean."""
    assert scale.px_per_mm is not None
    visible = faces.distance_px / scale.px_per_mm
    lever_mm = STRAP_HALF_WIDTH_MM + min(faces.centre_radius_px / scale.px_per_mm, 1.4)
    lean = np.radians(abs(tilt.degrees))
    value = (visible + TILT_TRUST * lever_mm * np.sin(lean)) / np.cos(lean)
    parts = (
        scale.relative_spread * value,
        2 * faces.noise_px / scale.px_per_mm,
        2 * EDGE_MM,
        0.5 * lever_mm * np.sin(np.radians(min(tilt.spread, 3.0))) + (1 - TILT_TRUST) * lever_mm * np.sin(lean),
    )
    return Measured(float(value), float(np.hypot.reduce(parts)), "mm", "photo: thread pitch and electrode edges")
