"""Where plugs lie, where the camera stands, where there is room for a sheet or a bolt."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sample_images.render.camera import Camera, frame, unit
from sample_images.render.draw import Rng, chance, ratio, uniform, weighted
from sample_images.render.mesh import Mesh
from sample_images.render.plug.build import PlugModel
from sample_images.render.plug.shape import PlugSpec

Array = NDArray[np.float64]

UP = np.array([0.0, 0.0, 1.0])
HEADS = {"one way": 0.68, "mixed": 0.16, "alternating": 0.16}
"""How the plugs of a lying row point; every second one the other way is how a full tray is packed."""
FACING_SHARE = 0.6
"""A side faces the lens where it points at it at least so much (cosine, seen along the axis)."""
NEAREST_LENS_MM = 38.0
"""No phone focuses much nearer; a closer view is a crop of a narrower field."""


@dataclass(frozen=True, eq=False)
class PlacedPlug:
    """A plug in the scene: `rotation` (3, 3) and `shift_mm` (3,) carry its own frame into the world."""

    number: int
    spec: PlugSpec
    model: PlugModel
    rotation: Array
    shift_mm: Array

    @property
    def axis(self) -> Array:
        """Unit vector along the axis, towards the strap."""
        return np.asarray(self.rotation[:, 2])

    @property
    def strap_direction(self) -> Array:
        """Unit vector across the axis, from it to the strap's foot."""
        a = self.spec.strap.angle
        return np.asarray(self.rotation @ [np.cos(a), np.sin(a), 0.0])

    @property
    def gap_normal(self) -> Array:
        """Unit vector across the plane of axis and strap: looking along it, the gap is seen square."""
        return np.asarray(np.cross(self.axis, self.strap_direction))

    @property
    def mesh(self) -> Mesh:
        """The plug's mesh in the world, faces carrying its number."""
        return self.model.mesh.placed(self.rotation, self.shift_mm, self.number)

    def world(self, point_mm: Array) -> Array:
        """Return a point of the plug's own frame in the world."""
        return np.asarray(self.rotation @ point_mm + self.shift_mm)


@dataclass(frozen=True, eq=False)
class Aim:
    """What the camera looks at: the point, the unit vector from it to the lens, the width of the view there."""

    target_mm: Array
    to_camera: Array
    width_mm: float
    focus_mm: Array
    upright: Array

    def on_plane(self, plane: Plane) -> Array:
        """Return the target dropped onto the plane."""
        return self.target_mm - plane.up * float((self.target_mm - plane.origin_mm) @ plane.up)


@dataclass(frozen=True, eq=False)
class Plane:
    """The table: `rotation` carries z onto its normal."""

    rotation: Array
    origin_mm: Array
    turn: float
    is_behind: bool

    @property
    def up(self) -> Array:
        """Its normal."""
        return np.asarray(self.rotation[:, 2])


def arranged(
    rng: Rng,
    models: list[PlugModel],
    specs: tuple[PlugSpec, ...],
    *,
    layout: str,
    pose: str,
    view: str,
    tidy: bool,
    facing: float | None = None,
) -> list[PlacedPlug]:
    """Return the plugs laid, stood or held, numbered from 1 in order along the row (x)."""
    if not models:
        return []
    widest = max(2 * m.extents["radius_max_mm"] for m in models)
    tight = not tidy and layout == "row" and chance(rng, 0.45)
    loose = uniform(rng, 1.25, 1.45) if tidy else 1.0 + ratio(rng, 0.02, 0.9)
    pitch = widest * (1.0 + ratio(rng, 0.004, 0.08) if tight else loose)
    crooked = uniform(rng, 0, 0.05) if tidy or chance(rng, 0.5) else uniform(rng, 0, 0.10 if tight else 0.25)
    heads = "one way" if tidy or layout != "row" or pose != "lie" else weighted(rng, HEADS)
    back_mm = widest * uniform(rng, -0.3, 3.0)
    sunk = uniform(rng, 4, 20) if chance(rng, 0.6) else None
    out = []
    for k, (model, spec) in enumerate(zip(models, specs, strict=True)):
        along = (k - (len(models) - 1) / 2) * pitch
        place = np.array([along + rng.normal(0, 0.03) * pitch, rng.normal(0, 0.08 * pitch if not tidy else 0.8), 0.0])
        if layout == "scatter":
            place = _scattered(rng, out, pitch)
        flipped = (heads == "mixed" and chance(rng, 0.5)) or (heads == "alternating" and k % 2 == 1)
        place = place + np.array([0.0, back_mm * flipped, 0.0])
        rotation = _turned(rng, layout, pose, crooked, flipped, spec, view, facing)
        if pose == "held":
            out.append(PlacedPlug(k + 1, spec, model, rotation, np.zeros(3)))
            continue
        low = float((model.mesh.vertices @ rotation[2]).min())
        height = 0.14 - low if pose == "lie" or sunk is None else spec.reach_mm + sunk
        out.append(PlacedPlug(k + 1, spec, model, rotation, place + UP * height))
    return out


def _scattered(rng: Rng, others: list[PlacedPlug], pitch: float) -> Array:
    place = np.zeros(3)
    for _ in range(30):
        place = np.append(rng.uniform(-1.2, 1.2, 2) * pitch * (1 + 0.4 * len(others)), 0.0)
        if all(np.hypot(*(place - o.shift_mm)[:2]) > 1.15 * pitch for o in others):
            break
    return place


def _turned(
    rng: Rng, layout: str, pose: str, crooked: float, flipped: bool, spec: PlugSpec, view: str, facing: float | None
) -> Array:
    """The plug's rotation: axis first, then the turn about it."""
    if pose == "held":
        return frame(unit(rng.standard_normal(3)), uniform(rng, 0, 6.28))
    if pose == "stand":
        return frame(UP + rng.normal(0, 0.02 + crooked / 3, 3) * [1, 1, 0], uniform(rng, 0, 6.28))
    heading = -np.pi / 2 + rng.normal(0, crooked) if layout == "row" else uniform(rng, 0, 2 * np.pi)
    if flipped:
        heading += np.pi
    axis = np.array([np.cos(heading), np.sin(heading), rng.normal(0, 0.02)])
    turn = uniform(rng, 0, 2 * np.pi)
    level = frame(axis)
    if view in ("side", "whole"):  # the plane of the gap lies flat, give or take
        sideways = level.T @ np.cross(UP, axis)
        turn = float(np.arctan2(sideways[1], sideways[0])) - spec.strap.angle + rng.normal(0, 0.25) + np.pi * int(rng.integers(2))
    elif facing is not None:  # what is to be seen lies on top
        upwards = level.T @ UP
        turn = float(np.arctan2(upwards[1], upwards[0])) - facing + rng.normal(0, 0.5)
    return frame(axis, turn)


def aimed(
    rng: Rng,
    plugs: list[PlacedPlug],
    *,
    layout: str,
    pose: str,
    view: str,
    width_mm: float | None,
    tidy: bool,
    facing: float | None = None,
) -> Aim:
    """Return where the camera looks and from which side."""
    if not plugs:
        return _empty_aim(rng, width_mm)
    if layout in ("row", "scatter"):
        return _group_aim(rng, plugs, layout, pose, width_mm, tidy)
    plug = plugs[0]
    front = plug.world(np.array([0.0, 0.0, 0.45 * plug.model.extents["z_top_mm"]]))
    direction = _direction(rng, plug, pose, view, facing)
    if view == "whole":
        back, top = plug.model.extents["z_back_mm"], plug.model.extents["z_top_mm"]
        length = top - back
        middle = plug.world(np.array([0, 0, 0.5 * (back + top) if tidy else uniform(rng, 0.35, 0.6) * back]))
        width = length * (uniform(rng, 1.5, 1.75) if tidy else uniform(rng, 1.15, 2.4))
        return Aim(middle, direction, width_mm or width, front, plug.axis)
    width = width_mm or (ratio(rng, 24, 46) if tidy else _any_width(rng))
    target = front + plug.axis * uniform(rng, -0.22, 0.05) * width * (0.5 if view == "end" else 1.0)
    if view == "back" or (view == "any" and not tidy and chance(rng, 0.35)):  # the wrong end fills the view
        width = ratio(rng, 20, 40)
        target = plug.world(np.array([0.0, 0.0, min(-plug.spec.reach_mm - 0.6 * width, 0.75 * plug.model.extents["z_back_mm"])]))
        front = target
    upright = plug.axis if chance(rng, 0.6) else unit(rng.standard_normal(3))
    return Aim(_off_centre(rng, target, direction, width, tidy), direction, width, front, upright)


def _any_width(rng: Rng) -> float:
    """Width of an untidy view, mm: near the gap, anything, or as people hold a phone."""
    kind = rng.random()
    if kind < 0.22:
        return ratio(rng, 8, 16)
    return ratio(rng, 11, 150) if kind < 0.45 else ratio(rng, 16, 60)


def _off_centre(rng: Rng, target: Array, direction: Array, width: float, tidy: bool) -> Array:
    spread = 0.04 if tidy else (0.30 if chance(rng, 0.12) else 0.10)
    side = np.cross(direction, [0.3, 0.9, 0.1])
    return target + (unit(side) * rng.normal(0, spread) + unit(np.cross(direction, side)) * rng.normal(0, 0.75 * spread)) * width


def _direction(rng: Rng, plug: PlacedPlug, pose: str, view: str, facing: float | None) -> Array:
    """Unit vector from the plug to the lens for the wanted view; over the table unless the plug is held."""
    seen = None if facing is None else plug.rotation @ [np.cos(facing), np.sin(facing), 0.0]
    for _ in range(60):
        d = _free_direction(rng, plug, view)
        if view == "oblique" and seen is not None and d @ seen < FACING_SHARE * np.linalg.norm(np.cross(d, plug.axis)):
            continue
        if pose == "held" or d[2] > (0.10 if view == "end" and pose == "lie" else 0.22):
            return d
    d[2] = abs(d[2]) + 0.25
    return unit(d)


def _free_direction(rng: Rng, plug: PlacedPlug, view: str) -> Array:
    axis, normal = plug.axis, plug.gap_normal
    if view in ("side", "whole"):
        spin = rng.normal(0, 0.28)
        tilt = np.deg2rad(np.clip(rng.normal(0, 6), -13, 13))
        across = normal * np.cos(spin) + np.cross(axis, normal) * np.sin(spin)
        return unit(across * (1 if chance(rng, 0.5) else -1) * np.cos(tilt) + axis * np.sin(tilt))
    low, high = {"oblique": (28, 68), "end": (0, 22), "any": (0, 110), "back": (65, 150)}[view]
    angle = np.deg2rad(uniform(rng, low, high))
    across = unit(np.cross(axis, rng.standard_normal(3)))
    return unit(axis * np.cos(angle) + across * np.sin(angle))


def _group_aim(rng: Rng, plugs: list[PlacedPlug], layout: str, pose: str, width_mm: float | None, tidy: bool) -> Aim:
    fronts = np.array([p.world(np.zeros(3)) for p in plugs])
    axis = np.mean([p.axis for p in plugs], axis=0)  # about nought where heads alternate
    spread = float(np.linalg.norm(np.ptp(fronts, axis=0)[:2])) + 24.0
    if layout == "row" and not tidy and chance(rng, 0.16):  # two or three of them, the rest cut off
        middle, width = fronts[int(rng.integers(len(fronts)))], ratio(rng, 20, 70)
    elif tidy:
        middle, width = fronts.mean(0) + axis * (-15.0 if pose == "lie" else 0.0), spread * uniform(rng, 1.2, 1.35)
    else:
        middle = fronts.mean(0) + axis * uniform(rng, -24, 4) * (pose == "lie")
        width = spread * uniform(rng, 0.95, 1.9)
    height = np.deg2rad(uniform(rng, 62, 88) if tidy or chance(rng, 0.5) else uniform(rng, 22, 65))
    around = -np.pi / 2 + rng.normal(0, 0.15) if tidy or chance(rng, 0.5) else uniform(rng, 0, 6.28)
    direction = np.array([np.cos(height) * np.cos(around), np.cos(height) * np.sin(around), np.sin(height)])
    nearest = fronts[int(np.argmin(np.linalg.norm(fronts - middle, axis=1)))]
    return Aim(_off_centre(rng, middle, direction, width, tidy), direction, width_mm or width, nearest, np.array([0.0, 1.0, 0.0]))


def _empty_aim(rng: Rng, width_mm: float | None) -> Aim:
    height, around = np.deg2rad(uniform(rng, 15, 88)), uniform(rng, 0, 6.28)
    direction = np.array([np.cos(height) * np.cos(around), np.cos(height) * np.sin(around), np.sin(height)])
    target = np.array([rng.normal(0, 4), rng.normal(0, 4), uniform(rng, 0, 8)])
    return Aim(target, direction, width_mm or ratio(rng, 14, 160), target, UP)


def camera_for(
    rng: Rng, aim: Aim, *, fov_deg: float, size_px: tuple[int, int], roll_deg: float | None, aperture_mm: float | None
) -> Camera:
    """Return the camera: distance from the view's width, focus near the firing end, rolled at random."""
    distance = aim.width_mm / 2 / np.tan(np.deg2rad(fov_deg) / 2)
    if distance < NEAREST_LENS_MM:
        distance = NEAREST_LENS_MM
        fov_deg = float(np.rad2deg(2 * np.arctan(aim.width_mm / 2 / distance)))
    level = unit(np.cross(UP if abs(aim.to_camera[2]) < 0.95 else np.array([0.0, 1.0, 0.0]), aim.to_camera))
    up = np.cross(aim.to_camera, level)
    if roll_deg is None:
        quarter = int(rng.integers(4)) * 90.0 if chance(rng, 0.35) else 0.0
        roll_deg = uniform(rng, 0, 360) if chance(rng, 0.3) else quarter + rng.normal(0, 9)
    roll = np.deg2rad(roll_deg)
    origin = aim.target_mm + aim.to_camera * distance
    focus = float((aim.focus_mm - origin) @ -aim.to_camera) + rng.normal(0, 0.02) * aim.width_mm
    lens = ratio(rng, 0.12, 1.5) * min(1.0, distance / 70) if chance(rng, 0.8) else 0.0
    return Camera(
        origin,
        aim.target_mm,
        up * np.cos(roll) + level * np.sin(roll),
        fov_deg,
        lens if aperture_mm is None else aperture_mm,
        max(focus, 10.0),
        *size_px,
    )


def numbered(plugs: list[PlacedPlug], camera: Camera, layout: str) -> list[PlacedPlug]:
    """Return the plugs numbered along the picture: left to right, or top to bottom where the row stands upright."""
    if len(plugs) < 2:
        return plugs
    place = np.array([camera.project(p.world(np.zeros(3)))[:2] for p in plugs])
    span = np.ptp(place, axis=0)
    order = np.argsort(place[:, 0] if span[0] >= span[1] or layout != "row" else place[:, 1])
    return [replace(plugs[int(i)], number=k + 1) for k, i in enumerate(order)]


def plane_for(rng: Rng, aim: Aim, camera: Camera, pose: str) -> Plane:
    """Return the table under the plugs, or a surface somewhere behind a held one."""
    turn = float(np.arctan2(camera.axes()[0][1], camera.axes()[0][0]))
    if pose != "held":
        spot = aim.target_mm * [1, 1, 0]
        return Plane(frame(UP), spot, turn, False)
    normal = unit(aim.to_camera + rng.normal(0, 0.3, 3))
    behind = aim.focus_mm - normal * ratio(rng, 16, 220)
    return Plane(frame(normal, uniform(rng, 0, 6.28)), behind, turn, True)


def spot_beside(
    rng: Rng, aim: Aim, plane: Plane, plugs: list[PlacedPlug], reach_mm: float, taken: list[tuple[Array, float]], *, tidy: bool
) -> Array:
    """Return a place on the plane for a sheet of half length `reach_mm`: the roomiest of some draws, often cut off by the edge.

    `taken` holds places and half lengths of sheets that lie there already.
    """
    start, best, best_room = aim.on_plane(plane), aim.on_plane(plane), -np.inf
    c, s = np.cos(plane.turn), np.sin(plane.turn)
    across = (0.40, 0.28) if tidy else (0.60, 0.48)
    for _ in range(60 if tidy else 6):
        x, y = aim.width_mm * uniform(rng, -across[0], across[0]), aim.width_mm * uniform(rng, -across[1], across[1])
        spot = start + plane.rotation @ np.array([c * x - s * y, s * x + c * y, 0.0])
        room = min((_clear_mm(p, spot, plane) - 8.0 for p in plugs), default=99.0)
        room = min([room - reach_mm] + [float(np.linalg.norm(spot - t)) - r - reach_mm for t, r in taken])
        if room > best_room:
            best, best_room = spot, room
    return best


def free_spot(
    rng: Rng, aim: Aim, plane: Plane, plugs: list[PlacedPlug], camera: Camera, reach_mm: float, *, tidy: bool
) -> Array | None:
    """Return a place on the plane for a thing of half length `reach_mm`, off the plugs and out of their sight; None if full."""
    start = aim.on_plane(plane)
    for _ in range(16):
        spread = 0.5 * max(aim.width_mm, 30.0)
        spot = start + plane.rotation @ np.append(rng.normal(0, spread, 2), 0.0)
        near_lens = float((spot - camera.origin_mm) @ camera.forward) < 0.45 * float(
            (aim.target_mm - camera.origin_mm) @ camera.forward
        )
        if near_lens:
            continue
        if plane.is_behind or all(_clear_mm(p, spot, plane) > min(reach_mm, 14.0) + 6.0 for p in plugs):
            seen = camera.project(spot)
            blocks = any(_blocks(camera, p, seen, reach_mm) for p in plugs)
            if not blocks or (not tidy and chance(rng, 0.1)):
                return spot
    return None


def _clear_mm(plug: PlacedPlug, spot: Array, plane: Plane) -> float:
    """Distance on the plane from the plug's axis line to a spot."""
    flat = np.eye(3) - np.outer(plane.up, plane.up)
    a = flat @ (plug.world(np.array([0, 0, plug.model.extents["z_top_mm"]])) - spot)
    b = flat @ (plug.world(np.array([0, 0, plug.model.extents["z_back_mm"]])) - spot)
    line = b - a
    t = np.clip(-(a @ line) / max(line @ line, 1e-9), 0, 1)
    return float(np.linalg.norm(a + t * line))


def _blocks(camera: Camera, plug: PlacedPlug, seen: Array, reach_mm: float) -> bool:
    tip = camera.project(plug.world(np.array([0.0, 0.0, 2.0])))
    near = np.hypot(*(seen - tip)[:2]) < camera.focal_px / max(seen[2], 1.0) * (reach_mm * 0.7 + 5.0)
    return bool(near and seen[2] < tip[2])


def gripping(rng: Rng, finger: Mesh, plug: PlacedPlug) -> Mesh:
    """Return a finger whose pad presses on the plug's body."""
    out = unit(np.cross(plug.axis, rng.standard_normal(3)))
    down = unit(out + 0.5 * rng.standard_normal(3))
    along = plug.spec.reach_mm + uniform(rng, 6, 24)
    touch = plug.shift_mm - plug.axis * along + out * (plug.model.extents["hex_radius_mm"] + 5.5)
    return finger.placed(frame(-down, uniform(rng, 0, 6.28)), touch)
