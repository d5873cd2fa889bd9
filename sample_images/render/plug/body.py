"""Shapes behind the firing end: thread, seat, gasket, hex, crimp, upper insulator, terminal."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sample_images.render.noise import smooth
from sample_images.render.plug.piece import Piece
from sample_images.render.plug.shape import PlugSpec
from sample_images.render.surfaces import Grid, capped, filled, hexagon, revolve, rounded

Array = NDArray[np.float64]

FINE_FROM = 0.7
"""From this detail on a thread has rows enough for the flats of its crests to show as sharp edges."""

TAPER_TANGENT = np.tan(np.deg2rad(31.5))
"""Half angle of the conical seat, 63 degrees in all (from memory, no source at hand)."""

CREST_SHARE, ROOT_SHARE = 1 / 8, 1 / 4
"""Flats of the ISO 68-1 basic profile as shares of the pitch, crest and root (the root is rounded here)."""


def body(spec: PlugSpec, detail: float) -> tuple[list[Piece], float]:
    """Return the pieces behind the firing end and the z of the plug's far end, mm."""
    columns = max(48, int(120 * detail) // 12 * 12)
    pieces = [Piece("thread", "thread", "steel", thread_grid(spec, detail))]
    seat, z, shoulder = _seat(spec, columns)
    hexes, z, collar = _hex(spec, columns, z, shoulder)
    upper, z = _upper(spec, columns, z, collar)
    return [*pieces, *seat, *hexes, *upper], z


def thread_grid(spec: PlugSpec, detail: float) -> Grid:
    """Return the helical thread between rim and seat, with lead-in at the front and run-out at the seat.

    The flanks follow the 60 degree basic profile of ISO 68-1 with a rounded root.
    """
    pitch, major = spec.size.pitch_mm, spec.size.major_mm / 2
    rows = int(spec.reach_mm / pitch * max(8, round((13 if detail < FINE_FROM else 22) * detail)))
    columns = max(60, int(2 * np.pi * major / (0.26 / detail)))
    front = -spec.body.chamfer_mm - 0.15
    z = np.linspace(front, -spec.reach_mm, rows)[:, None]
    angle = np.arange(columns)[None] * (2 * np.pi / columns)
    height = thread_height(z / pitch - angle / (2 * np.pi))
    lead = smooth(-z, 0.3 * spec.body.lead_in_mm, spec.body.lead_in_mm + 0.8 * pitch)
    run_out = smooth(z, -spec.reach_mm + 0.2 * spec.body.run_out_mm, -spec.reach_mm + spec.body.run_out_mm + 0.6 * pitch)
    root = spec.size.minor_mm / 2
    start = spec.rim_outer_mm + (root - spec.rim_outer_mm) * smooth(-z, 0, spec.body.lead_in_mm)
    radius = start + (major - root) * height * lead * run_out
    points = np.stack([radius * np.cos(angle), radius * np.sin(angle), np.broadcast_to(z, radius.shape)], -1)
    return Grid(points[:, ::-1])


def thread_height(turns: Array) -> Array:
    """Return the thread's height 0-1 between root and crest at `turns` (pitches along the axis)."""
    from_crest = np.abs((turns + 0.5) % 1.0 - 0.5)
    flank = 0.5 - CREST_SHARE / 2 - ROOT_SHARE / 2
    straight = np.clip((from_crest - CREST_SHARE / 2) / flank, 0, 1)
    return 1 - straight - 0.04 * np.sin(2 * np.pi * straight) * (straight > 0.5)


def _seat(spec: PlugSpec, columns: int) -> tuple[list[Piece], float, float]:
    major, z = spec.size.major_mm / 2, -spec.reach_mm
    root = spec.size.minor_mm / 2 - 0.05
    if spec.seat == "gasket":
        shoulder = major + 2.3
        out = shoulder - 0.25
        ring = rounded(
            [
                (major - 0.2, z + 0.35),
                (major + 0.5, z + 0.42),
                (out - 0.5, z + 0.42),
                (out, z - 0.2),
                (out, z - 1.0),
                (out - 0.5, z - 1.4),
                (major, z - 1.4),
            ],
            0.35,
            steps=5,
        )
        pieces = [Piece("seat", "hex", "gasket", revolve(filled(ring, 0.25), columns))]
        face = [(root, z + 0.2), (root + 0.1, z - 1.2), (shoulder - 0.3, z - 1.3), (shoulder, z - 1.6)]
        z -= 1.3
    else:
        shoulder = major + 1.6
        face = [(root, z + 0.15), (major + 0.05, z), (shoulder, z - (shoulder - major) / TAPER_TANGENT)]
        pieces = []
        z = face[-1][1]
    end = z - spec.body.skirt_mm
    groove = shoulder - 0.9
    skirt = [*face, (shoulder, end + 1.8), (groove, end + 1.6), (groove, end + 0.4), (shoulder - 0.2, end - 0.1)]
    pieces.append(Piece("seat", "hex", "steel", revolve(filled(rounded(skirt, 0.2), 0.45), columns)))
    return pieces, end, shoulder


def _hex(spec: PlugSpec, columns: int, z: float, shoulder: float) -> tuple[list[Piece], float, float]:
    flat, high = spec.hex_af_mm / 2, spec.body.hex_height_mm
    corner = spec.hex_af_mm / np.sqrt(3)
    slope = np.tan(np.deg2rad(30.0))
    cut = (corner - flat) * slope + 0.15
    inner = min(shoulder - 0.3, flat - 0.4)
    line = [
        (inner, z + 0.2),
        (flat - 0.1, z),
        (corner, z - cut),
        (corner, z - high + cut),
        (flat - 0.1, z - high),
        (flat - 1.0, z - high - 0.05),
    ]
    radius = hexagon(spec.hex_af_mm)
    if spec.body.hex_points == 12:
        radius = _twelve_point(spec.hex_af_mm)
    pieces = [Piece("hex", "hex", "steel", revolve(filled(rounded(line, 0.25), 0.3), 2 * columns, radius))]
    end = z - high
    collar = min(spec.body.upper_radius_mm, flat - 1.9)
    roll = [
        (flat - 0.8, end + 0.2),
        (collar + 1.3, end - 0.1),
        (collar + 1.2, end - 1.2),
        (collar + 0.75, end - 2.0),
        (collar - 0.1, end - 2.2),
    ]
    pieces.append(Piece("crimp", "hex", "steel", revolve(filled(rounded(roll, 0.5, steps=5), 0.3), columns)))
    return pieces, end - 1.9, collar


def _upper(spec: PlugSpec, columns: int, z: float, collar: float) -> tuple[list[Piece], float]:
    long = spec.body.upper_length_mm
    t = np.linspace(0, long, int(long / 0.22))
    r = collar - 0.12 * collar * t / long + _ribs(spec, t)
    r = r - 0.5 * (1 - np.sqrt(np.maximum(1 - np.clip((t - long + 0.5) / 0.5, 0, 1) ** 2, 0)))
    line = np.stack([r, z - t], -1)
    neck = line[-1, 1]
    line = np.concatenate([[(collar - 0.3, z + 1.2)], line, [(1.9, neck - 0.02)]])
    pieces = [Piece("upper", "upper", "glazed", revolve(filled(line, 0.6), columns))]
    pieces.append(Piece("terminal", "upper", "brass", _terminal(spec, neck, columns // 2)))
    return pieces, float(pieces[-1].grid.points[..., 2].min())


def _ribs(spec: PlugSpec, t: Array) -> Array:
    """Ribs against flashover, near the terminal end: rounded waves in the insulator's radius."""
    if spec.body.ribs == 0:
        return np.zeros_like(t)
    period, start = 2.6, spec.body.upper_length_mm - 2.0 - 2.6 * spec.body.ribs
    inside = smooth(t, start, start + 0.2) * smooth(t, start + period * spec.body.ribs, start + period * spec.body.ribs - 0.2)
    return 0.42 * inside * (np.abs(np.sin(np.pi * (t - start) / period)) ** 0.7 - 0.35)


def _terminal(spec: PlugSpec, z: float, columns: int) -> Grid:
    if spec.body.terminal == "stud":
        t = np.linspace(0.5, 8.0, 90)
        thread = 1.95 + 0.16 * np.cos(2 * np.pi * t / 0.7)
        line = np.concatenate([[(2.6, z + 0.1), (2.6, z - 0.5)], np.stack([thread, z - t], -1), [(1.5, z - 8.3), (0.0, z - 8.3)]])
        return revolve(line, max(24, columns))
    corners = [
        (3.0, z + 0.1),
        (3.0, z - 1.2),
        (2.2, z - 2.0),
        (2.2, z - 4.2),
        (3.15, z - 5.0),
        (3.15, z - 8.2),
        (2.5, z - 9.2),
        (0.0, z - 9.3),
    ]
    return revolve(filled(rounded(corners, 0.5), 0.4), max(24, columns))


def _twelve_point(across_flats_mm: float):
    one = hexagon(across_flats_mm)

    def radius(r: Array, z: Array, angle: Array) -> Array:
        return np.maximum(one(r, z, angle), one(r, z, angle + np.pi / 6))

    return radius


__all__ = ["body", "capped", "thread_grid", "thread_height"]
