"""A second world of plugs, by another hand: other builds, coats, tables, lights and cameras, mixed into the training.

A net that learns from one author's scenes learns his habits too. Nothing here is meant to look nice; it is meant to be different.
One seed in ten is for validation; there is no test family, as nothing here is judged.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sample_images.render import renderer, truth
from sample_images.render.camera import Camera, frame, unit
from sample_images.render.clutter import laid
from sample_images.render.families import TRAIN
from sample_images.render.mesh import PARTS, Mesh, MeshBuilder
from sample_images.render.scene import MOST_PLUGS
from sample_images.render.second_world import shapes, surroundings

Array = NDArray[np.float64]
FAMILY, VALIDATED = "second", 9
UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, eq=False)
class Placed:
    """A plug in the scene: number, mesh there, key points (4, 3), axis, normal of axis and strap, middle of the firing end."""

    number: int
    mesh: Mesh
    keys: Array
    axis: Array
    across: Array
    front: Array


@dataclass(frozen=True, eq=False)
class Scene:
    """What is rendered, and what is known of it."""

    mesh: Mesh
    sky: NDArray[np.float32]
    camera: Camera
    plugs: tuple[Placed, ...]


def split_of(seed: int) -> str:
    """Return "val" for one seed in ten, else "train"."""
    return "val" if seed % 10 == VALIDATED else "train"


def compose(seed: int, size_px: tuple[int, int]) -> Scene:
    """Return the scene of a seed; the same seed always gives the same scene."""
    rng = np.random.default_rng([seed, 2])
    count = int(rng.choice([0, 1, 2], p=[0.15, 0.6, 0.25]))
    count = int(rng.integers(2, MOST_PLUGS + 1)) if count == 2 else count
    plugs = _laid_out(rng, count)
    middle, view_mm = _looked_at(rng, plugs)
    camera = _camera(rng, middle, view_mm, plugs, size_px)
    build = MeshBuilder()
    build.extend(surroundings.table(rng, view_mm).placed(np.eye(3), np.array([middle[0], middle[1], 0.0])))
    for plug in plugs:
        build.extend(plug.mesh)
    for piece in _beside(rng, plugs, middle, view_mm):
        build.extend(piece)
    return Scene(build.join(), surroundings.sky(rng), camera, plugs)


def _laid_out(rng: np.random.Generator, count: int) -> tuple[Placed, ...]:
    """Return plugs lying, standing or held in the air; several side by side or anyhow."""
    in_row, turn, step = rng.random() < 0.7, rng.uniform(0, 2 * np.pi), rng.uniform(20, 40)
    along, ahead = np.array([-np.sin(turn), np.cos(turn), 0]), np.array([np.cos(turn), np.sin(turn), 0])
    pose = rng.choice(["lie", "stand", "air"], p=[0.5, 0.15, 0.35]) if count == 1 else rng.choice(["lie", "stand"], p=[0.8, 0.2])
    made = []
    for k in range(count):
        crooked = rng.normal(0, 0.08) if in_row else rng.uniform(0, 2 * np.pi)
        axis = ahead * np.cos(crooked) + along * np.sin(crooked)
        if pose == "stand":
            axis = unit(UP + rng.normal(0, 0.05, 3))
        elif pose == "air":
            axis = unit(rng.normal(size=3))
        spot = along * step * k + ahead * rng.normal(0, 1.5) if in_row else rng.uniform(-1, 1, 3) * [50, 50, 0]
        lift = rng.uniform(5, 60) if pose == "air" else 0.0
        made.append(_placed(rng, k + 1, axis, spot, lift))
    return tuple(made)


def _placed(rng: np.random.Generator, number: int, axis: Array, spot: Array, lift_mm: float) -> Placed:
    plug = shapes.plug(rng)
    turn = frame(axis, rng.uniform(0, 2 * np.pi))
    low = float((plug.mesh.vertices @ turn.T)[:, 2].min())
    shift = np.array([spot[0], spot[1], lift_mm - low])
    strap = np.array([np.cos(plug.strap_angle), np.sin(plug.strap_angle), 0.0])
    across = unit(np.cross(axis, turn @ strap))
    front = turn @ np.array([0, 0, 1.0]) + shift
    return Placed(number, plug.mesh.placed(turn, shift, number), plug.keys @ turn.T + shift, axis, across, front)


def _looked_at(rng: np.random.Generator, plugs: tuple[Placed, ...]) -> tuple[Array, float]:
    """Return the point in the picture's middle and the width of what it shows."""
    if not plugs:
        return np.array([0.0, 0.0, rng.uniform(0, 10)]), float(np.exp(rng.uniform(np.log(25), np.log(250))))
    fronts = np.array([p.front for p in plugs])
    if len(plugs) == 1:
        back = rng.choice([0.0, rng.uniform(0, 35)])
        view = float(np.exp(rng.uniform(np.log(14), np.log(150))))
        return fronts[0] - plugs[0].axis * back + rng.normal(0, 0.12, 3) * view * [1, 1, 0], view
    spread = float(np.ptp(fronts, axis=0).max())
    return fronts.mean(0) + rng.normal(0, 5, 3) * [1, 1, 0], spread * rng.uniform(0.9, 2.0) + 40


def _camera(
    rng: np.random.Generator, middle: Array, view_mm: float, plugs: tuple[Placed, ...], size_px: tuple[int, int]
) -> Camera:
    """Return a lens of 15-75 degrees, from a slant to straight down; one in three single plugs is looked at from the front."""
    fov = float(np.exp(rng.uniform(np.log(15), np.log(75))))
    height, around = np.deg2rad(rng.uniform(18, 90)), rng.uniform(0, 2 * np.pi)
    way = np.array([np.cos(height) * np.cos(around), np.cos(height) * np.sin(around), np.sin(height)])
    if len(plugs) == 1 and rng.random() < 0.35:
        way = unit(plugs[0].axis + rng.normal(0, 0.45, 3))
    elif len(plugs) == 1 and rng.random() < 0.5:
        side = plugs[0].across * rng.choice([-1, 1])
        way = unit(side + rng.normal(0, 0.3, 3))
    if way[2] < 0.1:
        way = unit(way * [1, 1, 0] + [0, 0, 0.15 + abs(way[2])])
    distance = max(view_mm / 2 / np.tan(np.deg2rad(fov) / 2), 30.0)
    origin = middle + way * distance
    origin[2] = max(origin[2], 3.0)
    up = unit(rng.normal(size=3)) if rng.random() < 0.5 or way[2] > 0.97 else UP
    lens = float(rng.choice([0.0, rng.uniform(0.1, 1.2)])) * min(1.0, distance / 80)
    focus = max(float(np.linalg.norm(middle - origin)) * (1 + rng.normal(0, 0.02)), 10.0)
    return Camera(origin, middle, up, fov, lens, focus, *size_px)


def _beside(rng: np.random.Generator, plugs: tuple[Placed, ...], middle: Array, view_mm: float) -> list[Mesh]:
    """Return sheets and things, kept off the firing ends."""
    fronts = np.array([p.front[:2] for p in plugs]).reshape(-1, 2)
    out = []
    for _ in range(int(rng.choice([0, 1, 2], p=[0.6, 0.3, 0.1]))):
        out.append(surroundings.sheet(rng, view_mm, middle[:2] + rng.normal(0, 0.45, 2) * view_mm))
    for _ in range(int(rng.integers(0, 5) if plugs else rng.integers(1, 8))):
        piece = surroundings.thing(rng) if rng.random() < 0.6 else laid(rng, str(rng.choice(list(TRAIN.clutter))))
        spot = middle[:2] + rng.normal(0, 0.5, 2) * view_mm
        reach = float(np.ptp(piece.vertices[:, :2], axis=0).max()) / 2 + 8
        if not len(fronts) or np.hypot(*(fronts - spot).T).min() > reach:
            out.append(piece.placed(frame(UP, rng.uniform(0, 6.28)), np.array([*spot, 0.0])))
    return out


def keys_px(plug: Placed, camera: Camera) -> Array:
    """Return the key points (4, 2) in pixels, in the first world's order; nan where there is none."""
    return camera.project(plug.keys)[:, :2]


def known(seed: int, labels: renderer.Labels) -> dict[str, Any]:
    """Return what the trainer asks of a scene besides its plugs."""
    sheets = [{"kind": "paper"}] if (labels.part == PARTS.index("sheet")).any() else []
    return {"family": FAMILY, "split": split_of(seed), "sheets": sheets}


def seen_from(plug: Placed, camera: Camera, labels: renderer.Labels) -> str:
    """Return the name of the view of a plug, by the first world's definition."""
    to_lens = unit(camera.origin_mm - plug.front)
    tilt, opening = (float(np.rad2deg(np.arcsin(np.clip(x, -1, 1)))) for x in (plug.axis @ to_lens, abs(plug.across @ to_lens)))
    nose = int(((labels.plug == plug.number) & (labels.part == PARTS.index("nose"))).sum())
    return truth.view_of(tilt, opening, nose)
