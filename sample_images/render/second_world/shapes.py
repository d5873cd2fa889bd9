"""Plugs and other turned things, built from profiles; the plug's frame is that of `mesh`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_images.render.mesh import Mesh, MeshBuilder
from sample_images.render.plug.shape import thread_sizes
from sample_images.render.second_world import coats
from sample_images.render.surfaces import Grid

Array = NDArray[np.float64]
SIDES = 40


@dataclass(frozen=True, eq=False)
class Plug:
    """A plug's mesh, its key points (4, 3; nan where there is none) in mm in its own frame, the direction of its first strap."""

    mesh: Mesh
    keys: Array
    strap_angle: float
    length_mm: float
    radius_mm: float


def turned(z: Array, r: Array, sides: int = SIDES, wobble: Array | None = None) -> tuple[Array, NDArray[np.integer]]:
    """Return vertices and faces of a profile (z, r) turned about z; `wobble` (n, sides) scales the radius."""
    angle = np.arange(sides) * 2 * np.pi / sides
    radius = np.asarray(r, float)[:, None] * (1.0 if wobble is None else wobble)
    radius = np.broadcast_to(radius, (len(z), sides))
    points = np.stack([radius * np.cos(angle), radius * np.sin(angle), np.broadcast_to(np.asarray(z)[:, None], radius.shape)], -1)
    return points.reshape(-1, 3), Grid(points).faces()


def tube(path: Array, half: tuple[float, float], across: Array) -> tuple[Array, NDArray[np.integer]]:
    """Return a closed bar of rectangular section along `path` (n, 3); `across` is its unit width direction."""
    along = np.gradient(path, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    up = np.cross(along, across)
    corner = [path + s * half[0] * across + t * half[1] * up for s, t in ((1, 1), (1, -1), (-1, -1), (-1, 1))]
    points = np.stack(corner, 1).reshape(-1, 3)
    n = len(path)
    i, j = np.meshgrid(np.arange(n - 1), np.arange(4), indexing="ij")
    a, b = i * 4 + j, i * 4 + (j + 1) % 4
    ends = np.array([[0, 1, 2], [0, 2, 3], [4 * n - 4, 4 * n - 2, 4 * n - 3], [4 * n - 4, 4 * n - 1, 4 * n - 2]])
    sides = np.concatenate([np.stack([a, b, a + 4], -1), np.stack([b, b + 4, a + 4], -1)]).reshape(-1, 3)
    return points, np.concatenate([sides, ends])


def sharp(points: Array, faces: NDArray[np.integer]) -> tuple[Array, NDArray[np.integer]]:
    """Return the same surface with no corner shared, so that its edges are not shaded as if they were round."""
    return points[faces].reshape(-1, 3), np.arange(3 * len(faces)).reshape(-1, 3)


def fine(z: list[float], r: list[float], step: float = 0.3) -> tuple[Array, Array]:
    """Return the profile with points at most `step` apart."""
    along = np.r_[0, np.cumsum(np.hypot(np.diff(z), np.diff(r)) + 1e-6)]
    at = np.unique(np.r_[along, np.arange(0, along[-1], step)])
    return np.interp(at, along, z), np.interp(at, along, r)


def plug(rng: np.random.Generator) -> Plug:
    """Return a plug of random build and coat."""
    build, coat = MeshBuilder(), coats.Coat(rng)
    size = tuple(thread_sizes().values())[rng.integers(len(thread_sizes()))]
    outer = size.major_mm / 2
    bore, reach = outer * rng.uniform(0.62, 0.82), rng.uniform(9, 27)
    centre_r = rng.choice([rng.uniform(0.2, 0.45), rng.uniform(0.9, 1.5)])
    nose_top, tip = _nose(build, rng, coat, bore, centre_r)
    z, r = fine([nose_top - 1, tip, tip], [centre_r, centre_r * rng.uniform(0.6, 1), 0.0])
    coat.metal(build, *turned(z, r), "centre", rng.uniform(0.1, 0.7))
    face, angle = _straps(build, rng, coat, bore, outer, tip)
    _shell(build, rng, coat, (outer, bore, reach, size.pitch_mm))
    length, radius = _behind(build, rng, coat, outer, reach)
    keys = np.array([face, [0, 0, tip], [0, 0, 0], [0, 0, -10]], float)
    return Plug(build.join(), keys, angle, length, radius)


def _nose(build: MeshBuilder, rng: np.random.Generator, coat: coats.Coat, bore: float, centre_r: float) -> tuple[float, float]:
    top, foot = rng.uniform(-1.5, 4.5), -rng.uniform(6, 14)
    wide, slim = bore * rng.uniform(0.72, 0.95), max(centre_r + rng.uniform(0.3, 1.0), bore * rng.uniform(0.35, 0.6))
    slim = min(slim, wide)
    kind = rng.integers(5)
    middle = (foot + top) / 2
    profiles = (
        ([foot, top - 0.4, top, top], [wide, slim + 0.2, slim, centre_r]),
        ([foot, middle, middle + 0.5, top, top], [wide, wide, slim, slim, centre_r]),
        ([foot, top - 0.8, top, top], [wide * 0.8, wide * 0.8, wide * 0.7, centre_r]),
        ([foot, middle, top - 1, top, top], [slim, wide, wide * 0.8, slim, centre_r]),
        ([foot, top - 2, top - 1.4, top - 1, top], [wide, slim + 0.4, slim, slim, centre_r]),
    )
    z, r = fine(*profiles[kind], step=0.22)
    points, faces = turned(z, np.minimum(r, bore * 0.97), 56, coat.lumps(len(z), 56))
    coat.ceramic(build, points, faces)
    return top, top + rng.choice([0.05, rng.uniform(0.4, 2.5)])


def _straps(
    build: MeshBuilder, rng: np.random.Generator, coat: coats.Coat, bore: float, outer: float, tip: float
) -> tuple[Array, float]:
    angle = rng.uniform(0, 2 * np.pi)
    count = int(rng.choice([0, 1, 2, 3, 4], p=[0.08, 0.68, 0.1, 0.08, 0.06]))
    foot, gap = (bore + outer) / 2, rng.uniform(0.4, 1.6)
    half = (rng.uniform(0.6, 1.5), rng.uniform(0.35, 0.8))
    side = count > 1
    top = max(tip - 0.5, 0.8) if side else max(tip + gap + half[1], 1.0)
    reach = rng.uniform(1.6, 2.4) if side else rng.choice([rng.uniform(-1.2, 0.2), rng.uniform(0.2, 1.5)])
    tilt = 0.0 if side else rng.uniform(-0.5, 0.5) * (rng.random() < 0.4)
    for k in range(count):
        a = angle + 2 * np.pi * k / count
        out, across = np.array([np.cos(a), np.sin(a), 0]), np.array([-np.sin(a), np.cos(a), 0])
        t, bend = np.linspace(0, np.pi / 2, 8), 0.9 * min(foot - reach, top + 0.5, rng.uniform(0.8, 2.5))
        x = np.r_[foot, foot - bend + bend * np.cos(t), reach]
        z = np.r_[-0.6, top - bend + bend * np.sin(t), top + tilt]
        path = x[:, None] * out + z[:, None] * np.array([0, 0, 1.0])
        coat.metal(build, *sharp(*tube(path, half, across)), "strap", rng.uniform(0.2, 0.7))
    if not count:
        return np.full(3, np.nan), angle
    first = np.array([np.cos(angle), np.sin(angle), 0])
    return (first * reach + [0, 0, top] if side else np.array([0, 0, top - half[1]])), angle


def _shell(build: MeshBuilder, rng: np.random.Generator, coat: coats.Coat, size: tuple[float, float, float, float]) -> None:
    outer, bore, reach, pitch = size
    inner = fine([-14, -14, -0.3, 0, 0, -0.4, -1.5], [0, bore, bore, bore + 0.3, outer - 0.9, outer - 0.6, outer - 0.6], 0.5)
    coat.metal(build, *turned(*inner), "rim", rng.uniform(0.3, 0.9))
    z = np.arange(-1.5, -reach, -pitch / 6)
    phase = np.arange(SIDES)[None] / SIDES * rng.integers(0, 2)
    depth = 0.0 if rng.random() < 0.15 else 0.6 * pitch
    wave = 1 - depth / outer * np.abs(((z[:, None] / pitch + phase) % 1) * 2 - 1)
    coat.metal(build, *turned(z, np.full(len(z), outer), SIDES, wave), "thread", rng.uniform(0.2, 0.7))


def _behind(build: MeshBuilder, rng: np.random.Generator, coat: coats.Coat, outer: float, reach: float) -> tuple[float, float]:
    seat, hexed = outer * rng.uniform(1.25, 1.6), outer * rng.uniform(1.35, 1.7)
    z = -reach
    if rng.random() < 0.6:
        coat.metal(build, *turned(*fine([z, z, z - 1.6, z - 1.6], [outer * 0.9, seat * 1.05, seat * 1.05, outer])), "hex", 0.4)
    low = z - rng.uniform(3, 8)
    coat.metal(build, *turned(*fine([z, z - (0.1 if rng.random() < 0.6 else 2), low], [outer, seat, seat])), "hex", 0.4)
    a, end = np.arange(48) * 2 * np.pi / 48, low - rng.uniform(6, 12)
    sides = int(rng.choice([6, 12, 0], p=[0.8, 0.12, 0.08]))
    flat = np.cos(np.pi / sides) / np.cos((a % (2 * np.pi / sides)) - np.pi / sides) if sides else np.ones(48)
    zs, rs = fine([low, low, end, end], [seat * 0.8, hexed, hexed, hexed * 0.6], 2)
    coat.metal(build, *sharp(*turned(zs, rs, 48, np.broadcast_to(flat, (len(zs), 48)))), "hex", rng.uniform(0.15, 0.6))
    long = rng.uniform(18, 40)
    zs = np.linspace(end, end - long, 60)
    ribs = 1 + rng.choice([0.0, 0.08]) * (np.sin(zs * 1.6) > 0)
    body = coats.PORCELAIN[rng.integers(len(coats.PORCELAIN))]
    build.add(*turned(zs, np.linspace(hexed * 0.75, outer * 0.7, 60) * ribs), "upper", body, roughness=0.15, clearcoat=0.6)
    last = end - long
    coat.metal(build, *turned(*fine([last, last - 3, last - 4, last - 9, last - 9], [3.0, 3.0, 2.0, 3.0, 0.0])), "upper", 0.3)
    return reach - last + 9, hexed
