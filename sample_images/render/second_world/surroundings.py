"""What the second world's plugs lie on and what lights them: tables painted as pictures, sheets, and skies of a few blobs."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.render.mesh import Mesh, MeshBuilder
from sample_images.render.second_world.shapes import turned
from sample_images.render.surfaces import Grid

Array = NDArray[np.float64]
CELLS, FAR_MM = 240, 900.0
SKY = (160, 320)
"""Rows and columns of every sky, as in the first world, so that one renderer's kernel serves both."""


def clouds(rng: np.random.Generator, size: int, slope: float) -> Array:
    """Return noise (size, size), mean 0, deviation 1, whose amplitude falls with frequency to the power of `slope`."""
    f = np.hypot(np.fft.fftfreq(size)[:, None], np.fft.fftfreq(size)[None]) * size
    f[0, 0] = 1.0
    noise = np.fft.ifft2(np.fft.fft2(rng.standard_normal((size, size))) * f**-slope).real
    return np.asarray((noise - noise.mean()) / noise.std())


def _tone(rng: np.random.Generator) -> Array:
    grey = rng.uniform(0.02, 0.9)
    return np.clip(grey + rng.normal(0, 0.18, 3) * (rng.random() < 0.6), 0.01, 0.92)


def _pattern(rng: np.random.Generator) -> Array:
    """Return shares 0-1 (CELLS, CELLS) by which a table goes from one colour to another."""
    y, x = np.mgrid[:CELLS, :CELLS] / CELLS
    a, pitch = rng.uniform(0, np.pi), rng.uniform(0.01, 0.25)
    u, v = x * np.cos(a) + y * np.sin(a), y * np.cos(a) - x * np.sin(a)
    kinds = (
        lambda: np.zeros((CELLS, CELLS)),
        lambda: np.clip(u + 0.5 * v, 0, 1),
        lambda: (np.floor(u / pitch) + np.floor(v / pitch)) % 2,
        lambda: (np.sin(2 * np.pi * u / pitch + 2 * clouds(rng, CELLS, 2.0)) > rng.uniform(-0.5, 0.5)).astype(float),
        lambda: np.clip(0.5 + 0.3 * clouds(rng, CELLS, rng.uniform(0.3, 2.2)), 0, 1),
        lambda: np.clip(1.5 * clouds(rng, CELLS, rng.uniform(0.8, 1.6)), 0, 1),
        lambda: (clouds(rng, CELLS, 0.3) > 0.3) * (np.sin(2 * np.pi * v / 0.03) > 0.2) * 1.0,
        lambda: np.clip(np.sin(2 * np.pi * u / 0.012) * np.sin(2 * np.pi * v / 0.012) + 0.5, 0, 1),
        lambda: cv2.GaussianBlur((rng.random((CELLS, CELLS)) > 0.985).astype(float) * 6, (0, 0), rng.uniform(0.7, 2.5)),
    )
    return np.asarray(kinds[int(rng.integers(len(kinds)))](), float)


def table(rng: np.random.Generator, view_mm: float) -> Mesh:
    """Return the plane z = 0, painted near the middle and plain far off, now and then rough or of metal."""
    half = rng.uniform(0.7, 1.6) * view_mm
    line = np.linspace(-half, half, CELLS)
    x, y = np.meshgrid(line, line, indexing="ij")
    share = np.clip(_pattern(rng), 0, 1)[..., None]
    first, second = _tone(rng), _tone(rng)
    colour = (first * (1 - share) + second * share) * np.exp(rng.uniform(0, 0.2) * clouds(rng, CELLS, 1.2))[..., None]
    relief = -rng.choice([0.0, rng.uniform(0, 0.02) * view_mm]) * np.clip(clouds(rng, CELLS, 1.9) + 1, 0, 3)
    gloss, shiny = rng.uniform(0.1, 1.0), float(rng.random() < 0.12)
    build = MeshBuilder()
    top = Grid(np.stack([x, y, np.broadcast_to(relief, x.shape)], -1), closed=False)
    paint = np.clip(colour.reshape(-1, 3), 0.01, 0.92)
    build.add(top.points.reshape(-1, 3), top.faces(), "background", paint, roughness=gloss, metallic=shiny)
    corner = np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]) * FAR_MM - [0, 0, 0.05 + float(-relief.min())]
    build.add(corner, np.array([[0, 1, 2], [0, 2, 3]]), "background", np.clip(first, 0.01, 0.92), roughness=gloss, metallic=shiny)
    return build.join()


def sheet(rng: np.random.Generator, view_mm: float, spot: Array) -> Mesh:
    """Return a white or grey reference lying at `spot` (x, y), or a board of coloured fields, which is none."""
    wide, turn = rng.uniform(0.2, 1.1) * view_mm, rng.uniform(0, 2 * np.pi)
    tall, build = wide * rng.uniform(0.5, 1.0), MeshBuilder()
    c, s = np.cos(turn), np.sin(turn)

    def field(x: float, y: float, w: float, h: float, z: float, part: str, colour: Array) -> None:
        at = np.array([[x - w, y - h], [x + w, y - h], [x + w, y + h], [x - w, y + h]]) / 2 @ [[c, s], [-s, c]] + spot
        corners = np.concatenate([at, np.full((4, 1), z)], 1)
        build.add(corners, np.array([[0, 1, 2], [0, 2, 3]]), part, np.clip(colour, 0.01, 0.92), roughness=0.8)

    if rng.random() < 0.2:
        columns, rows = int(rng.integers(3, 8)), int(rng.integers(2, 6))
        field(0, 0, wide, tall, 0.15, "background", np.full(3, rng.uniform(0.02, 0.9)))
        for i in range(columns):
            for j in range(rows):
                x, y = (2 * i + 1 - columns) / columns * wide, (2 * j + 1 - rows) / rows * tall
                field(x, y, 0.8 * wide / columns, 0.8 * tall / rows, 0.2, "background", rng.uniform(0.02, 0.9, 3))
        return build.join()
    grey = rng.uniform(0.75, 0.9) if rng.random() < 0.7 else rng.uniform(0.15, 0.22)
    field(0, 0, wide, tall, 0.15, "sheet", grey * np.exp(rng.normal(0, 0.02, 3)))
    return build.join()


def thing(rng: np.random.Generator) -> Mesh:
    """Return a turned thing that may be taken for a plug: stacked rings, a cone, a peg, a threaded rod; standing or lying."""
    steps = int(rng.integers(2, 9))
    r = np.repeat(rng.uniform(1.5, 12, steps), 2)
    z = np.repeat(np.cumsum(rng.uniform(0.5, 9, steps + 1)), 2)[1:-1]
    r = np.r_[0, r, 0] * (1 + 0.06 * (rng.random() < 0.3) * np.sin(np.arange(2 * steps + 2)))
    points, faces = turned(np.r_[z[0], z, z[-1]], r)
    if rng.random() < 0.6:
        points = points[:, [2, 1, 0]]
    points = points - [points[:, 0].mean(), points[:, 1].mean(), points[:, 2].min()]
    build = MeshBuilder()
    build.add(points, faces, "background", _tone(rng), roughness=rng.uniform(0.1, 1), metallic=float(rng.random() < 0.5))
    return build.join()


def sky(rng: np.random.Generator) -> NDArray[np.float32]:
    """Return a sky (rows, columns, 3): even, graded or mottled, with none to four lamps of any size and colour."""
    rows, columns = SKY
    theta = (np.arange(rows) + 0.5)[:, None] / rows * np.pi
    phi = (np.arange(columns) + 0.5)[None] / columns * 2 * np.pi
    way = np.stack([np.sin(phi) * np.sin(theta), np.cos(theta) + 0 * phi, -np.cos(phi) * np.sin(theta)], -1)
    tint = np.exp(rng.normal(0, 0.15, 3))
    base = rng.uniform(0.02, 1.0) * (1 + rng.uniform(-0.9, 0.9) * way @ (v := rng.normal(size=3)) / np.linalg.norm(v))
    if rng.random() < 0.4:
        coarse = rng.random((int(rng.integers(3, 12)), int(rng.integers(4, 20)))).astype(np.float32) ** 3 * 3
        way_between = cv2.INTER_NEAREST if rng.random() < 0.5 else cv2.INTER_CUBIC
        base = base * cv2.resize(coarse, (columns, rows), interpolation=way_between)
    out = np.clip(base, 0.005, None)[..., None] * tint
    for _ in range(int(rng.integers(0, 5))):
        towards = rng.normal((0, 0, 1.2))
        width = np.exp(rng.uniform(np.log(0.02), np.log(0.6)))
        lamp = np.exp(-((np.arccos(np.clip(way @ towards / np.linalg.norm(towards), -1, 1)) / width) ** 4))
        out = out + lamp[..., None] * np.exp(rng.normal(0, 0.25, 3)) * rng.uniform(0.1, 1.0) / width**2
    return np.asarray(out, np.float32)
