"""Lean and nearness from the crests of a thread, against rays traced onto a cylinder with a helix on it."""

from __future__ import annotations

import numpy as np
import pytest

from plugread.measure.crests import Crests, crests
from plugread.measure.silhouette import FRONT, Silhouette

PX_PER_MM, ROWS = 30.0, 420


def seen(lean_deg: float, distance_mm: float, *, radius_mm: float = 7.0, pitch_mm: float = 1.25, hand: int = 1) -> Crests | None:
    """What the crests of a traced thread tell: the lens looks at the middle of the axis, which leans towards it by `lean_deg`.

    Each ray is met with the cylinder; brightness there is that of the helix through the point (its angle and its place along).
    """
    lean = np.radians(lean_deg)
    axis = np.array([0.0, np.cos(lean), -np.sin(lean)])  # towards the hex: down the rows, away from a lens on +z
    edge_mm = radius_mm / np.sqrt(1 - (radius_mm / distance_mm) ** 2)  # where the silhouette meets the plane of the axis
    rows = (np.arange(ROWS) - (ROWS - 1) / 2) / PX_PER_MM
    x, y = np.broadcast_arrays(FRONT * edge_mm, rows[:, None])
    lens = np.array([0.0, 0.0, distance_mm])
    ray = np.stack([x, y, np.zeros_like(x)], -1) - lens
    across, from_axis = ray - (ray @ axis)[..., None] * axis, lens - (lens @ axis) * axis
    a, b, c = (across**2).sum(-1), (across * from_axis).sum(-1), (from_axis**2).sum() - radius_mm**2
    point = lens + ((-b - np.sqrt(b**2 - a * c)) / a)[..., None] * ray
    towards_lens = np.cross(np.array([1.0, 0.0, 0.0]), axis)
    angle = np.arctan2(point[..., 0], point @ towards_lens)
    columns = 0.5 + 0.2 * np.cos(2 * np.pi * (point @ axis) / pitch_mm + hand * angle)
    columns += np.random.default_rng(3).normal(0, 0.03, columns.shape)
    width = 2 * edge_mm * PX_PER_MM
    sides = Silhouette(0, ROWS, np.zeros(ROWS), np.full(ROWS, width))
    return crests(columns, sides, radius_mm, width / 10.45)


@pytest.mark.parametrize("lean_deg", [-12.0, -4.0, 0.0, 3.0, 9.0])
@pytest.mark.parametrize("distance_mm", [60.0, 120.0, 1000.0])
def test_lean_and_nearness_are_those_of_the_traced_view(lean_deg: float, distance_mm: float) -> None:
    """Lean within 0.4 degrees, period within 2 % of the pitch as seen, nearness within 0.001/mm (more where it leans)."""
    found = seen(lean_deg, distance_mm)
    assert found is not None
    assert found.lean.degrees == pytest.approx(lean_deg, abs=0.4)
    assert found.nearness[0] == pytest.approx(1 / distance_mm, abs=0.001 + 0.0002 * abs(lean_deg))
    assert found.period == pytest.approx(1.25 * PX_PER_MM * np.cos(np.radians(lean_deg)), rel=0.02)


def test_another_thread_size_reads_as_well() -> None:
    """M10x1.0 at 80 mm."""
    found = seen(5.0, 80.0, radius_mm=5.0, pitch_mm=1.0)
    assert found is not None
    assert found.lean.degrees == pytest.approx(5.0, abs=0.4)


def test_turns_that_are_no_right_hand_thread_tell_nothing_firm() -> None:
    """Rings have no helix: what is left of one after it is taken out is drift, not lean."""
    found = seen(6.0, 120.0, hand=0)
    assert found is None or found.lean.degrees == pytest.approx(6.0, abs=1.5)


def test_a_smooth_shank_tells_nothing() -> None:
    """Noise without turns, and a thread of two turns: no answer."""
    noise = np.random.default_rng(4).normal(0.5, 0.1, (ROWS, len(FRONT)))
    sides = Silhouette(0, ROWS, np.zeros(ROWS), np.full(ROWS, 420.0))
    assert crests(noise, sides, 7.0, 40.0) is None
    assert crests(noise[:90], Silhouette(0, 90, sides.left[:90], sides.right[:90]), 7.0, 40.0) is None
