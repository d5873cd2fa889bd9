"""What is exactly known of a rendered picture: plugs, key points, views, light, sheets.

View of a plug: "none" when fewer than `LEAST_NOSE_PX` pixels of its nose are seen; "end" when its axis lies within 25
degrees of the line of sight, firing end towards the lens; "side" when the axis lies within 15 degrees of the picture's
plane and the line of sight leaves the plane of axis and strap by at least 30 degrees, so that the gap is open to view;
"oblique" otherwise. The line of sight is taken at the gap, the tilt is positive when the firing end comes forward.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sample_images.render import families
from sample_images.render.camera import Camera, unit
from sample_images.render.colour import lab_of_linear
from sample_images.render.mesh import PARTS
from sample_images.render.placing import PlacedPlug
from sample_images.render.renderer import Labels
from sample_images.render.scene import Scene

Array = NDArray[np.float64]

KEYS = ("strap_face", "centre_tip", "axis_front", "axis_back")
VIEWS = ("none", "side", "oblique", "end")
LEAST_NOSE_PX = 12
END_WITHIN_DEG, SIDE_WITHIN_DEG, GAP_OPEN_DEG = 25.0, 15.0, 30.0


def truth_of(scene: Scene, labels: Labels) -> dict[str, Any]:
    """Return everything known of the picture as a dictionary that JSON can hold."""
    camera = scene.camera
    facing = scene.light.colour_on(-camera.forward)
    return {
        "seed": scene.request.seed,
        "family": scene.family,
        "split": families.split_of(scene.request.seed),
        "made_of": scene.kinds,
        "size_px": [camera.width_px, camera.height_px],
        "fov_deg": round(camera.fov_deg, 3),
        "light": {
            "kind": scene.light.kind,
            "kelvin": round(scene.light.kelvin),
            "colour_linear": _rounded(facing / max(float(facing[1]), 1e-9), 4),
        },
        "plugs": [plug_truth(plug, camera, labels) for plug in sorted(scene.plugs, key=lambda p: p.number)],
        "sheets": [_sheet_truth(sheet, camera) for sheet in scene.sheets],
    }


def plug_truth(plug: PlacedPlug, camera: Camera, labels: Labels) -> dict[str, Any]:
    """Return what is known of one plug of the picture."""
    gap_at = _gap_centre(plug)
    nose = (labels.plug == plug.number) & (labels.part == PARTS.index("nose"))
    keys = key_points_px(plug, camera)
    tilt, opening = tilt_deg(plug, camera), gap_opening_deg(plug, camera)
    albedo = np.asarray(plug.model.nose_albedo_linear)
    return {
        "number": plug.number,
        "readings": {k: round(float(v), 3) for k, v in plug.model.readings.items()},
        "thread": plug.spec.thread,
        "electrode": plug.spec.centre.kind,
        "gap_mm": _number(plug.model.gap_mm, 4),
        "px_per_mm": round(camera.px_per_mm(gap_at), 4),
        "tilt_deg": round(tilt, 2),
        "gap_opening_deg": round(opening, 2),
        "view": view_of(tilt, opening, int(nose.sum())),
        "keys_px": {name: _rounded(point, 2) for name, point in zip(KEYS, keys, strict=True)},
        "nose_px": int(nose.sum()),
        "nose_box_px": _box(nose),
        "front_hidden": front_hidden(plug, camera, labels),
        "nose_albedo_linear": _rounded(albedo, 5),
        "nose_lab": _rounded(lab_of_linear(albedo), 2),
    }


def key_points_px(plug: PlacedPlug, camera: Camera) -> Array:
    """Return the key points (4, 2) in pixels, in the order of `KEYS`; nan where there is none."""
    return camera.project(np.array([plug.world(plug.model.key_points[name]) for name in KEYS]))[:, :2]


def tilt_deg(plug: PlacedPlug, camera: Camera) -> float:
    """Return the angle between axis and picture plane at the gap, positive with the firing end towards the lens."""
    to_lens = unit(camera.origin_mm - _gap_centre(plug))
    return float(np.rad2deg(np.arcsin(np.clip(plug.axis @ to_lens, -1, 1))))


def gap_opening_deg(plug: PlacedPlug, camera: Camera) -> float:
    """Return the angle between the line of sight and the plane of axis and strap: 90 sees the gap square, 0 edge-on."""
    to_lens = unit(camera.origin_mm - _gap_centre(plug))
    return float(np.rad2deg(np.arcsin(np.clip(abs(plug.gap_normal @ to_lens), 0, 1))))


def view_of(tilt: float, opening: float, nose_px: int) -> str:
    """Return the view's name; see the module text."""
    if nose_px < LEAST_NOSE_PX:
        return "none"
    if tilt >= 90 - END_WITHIN_DEG:
        return "end"
    if abs(tilt) <= SIDE_WITHIN_DEG and opening >= GAP_OPEN_DEG:
        return "side"
    return "oblique"


def front_hidden(plug: PlacedPlug, camera: Camera, labels: Labels) -> float | None:
    """Return the share of the nose's lens-facing triangles that something else hides or the picture's edge cuts off.

    A triangle counts as seen when the label map shows the nose of this plug where its centre falls. None without a nose.
    """
    mesh = plug.mesh
    corners = mesh.vertices[mesh.faces[mesh.part == PARTS.index("nose")]].astype(float)
    centre = corners.mean(1)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    facing = np.einsum("ij,ij->i", normal, camera.origin_mm - centre) > 0
    outside = plug.model.mesh.vertices[plug.model.mesh.faces[mesh.part == PARTS.index("nose")]].mean(1)[:, 2] > -1.5
    chosen = facing & outside
    area = np.linalg.norm(normal, axis=1) * chosen
    if area.sum() <= 0:
        return None
    place = np.nan_to_num(camera.project(centre)[:, :2], nan=-1.0)
    x, y = np.floor(place).astype(int).T
    inside = (x >= 0) & (y >= 0) & (x < camera.width_px) & (y < camera.height_px)
    seen = np.zeros(len(x), bool)
    seen[inside] = (labels.plug[y[inside], x[inside]] == plug.number) & (labels.part[y[inside], x[inside]] == PARTS.index("nose"))
    return round(float(1 - (area * seen).sum() / area.sum()), 3)


def _gap_centre(plug: PlacedPlug) -> Array:
    ends = np.array([plug.model.key_points["strap_face"], plug.model.key_points["centre_tip"]])
    middle = ends.mean(0) if np.isfinite(ends).all() else np.array([0.0, 0.0, plug.model.extents["z_top_mm"] * 0.6])
    return plug.world(middle)


def _sheet_truth(sheet: Any, camera: Camera) -> dict[str, Any]:
    return {
        "kind": sheet.kind,
        "corners_px": [_rounded(c, 2) for c in camera.project(sheet.corners_mm)[:, :2]],
        "reflectance_linear": None if np.isnan(sheet.reflectance).any() else _rounded(sheet.reflectance, 5),
    }


def _box(mask: NDArray[np.bool_]) -> list[int] | None:
    rows, columns = np.flatnonzero(mask.any(1)), np.flatnonzero(mask.any(0))
    if not len(rows):
        return None
    return [int(columns[0]), int(rows[0]), int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1]


def _rounded(values: Array, digits: int) -> list[float | None]:
    return [_number(v, digits) for v in np.asarray(values, float).ravel()]


def _number(value: float, digits: int) -> float | None:
    return round(float(value), digits) if np.isfinite(value) else None
