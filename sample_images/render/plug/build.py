"""From a plug's description to its mesh: shape, damage, paint, gap, truth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sample_images.render.mesh import PARTS, Mesh, MeshBuilder
from sample_images.render.noise import smooth
from sample_images.render.plug.body import body
from sample_images.render.plug.damage import attachments, damaged
from sample_images.render.plug.firing_end import firing_end
from sample_images.render.plug.gap import FIT_MM, Clearance, clearance
from sample_images.render.plug.paint import painted
from sample_images.render.plug.piece import Piece
from sample_images.render.plug.shape import PlugSpec
from sample_images.render.plug.skin import Skin

Array = NDArray[np.float64]

ALBEDO_DEPTH_MM = 1.5
"""`nose_albedo_linear` is taken in front of this depth below the shell's end face, or below a recessed nose's tip."""


@dataclass(frozen=True, eq=False)
class PlugModel:
    """A built plug and the truth about it.

    Parameters
    ----------
    mesh : all parts in the plug's own frame, plug number 0.
    key_points : "centre_tip" and "strap_face" face each other across the gap (nan for a surface gap);
        "axis_front" (0, 0, 0) and "axis_back" (0, 0, -10) mark the axis. Each (3,), mm.
    gap_mm : measured on the built surfaces; 0 where a lump bridges the gap, nan for a surface gap.
    nose_albedo_linear : area-weighted mean linear RGB of the exposed nose, see `ALBEDO_DEPTH_MM`.
    extents : "radius_max_mm", "z_top_mm", "z_back_mm", "hex_across_flats_mm", "hex_radius_mm" (lying on a flat).
    readings : what the plug shows, id -> amount.
    """

    mesh: Mesh
    key_points: Mapping[str, Array]
    gap_mm: float
    nose_albedo_linear: Array
    extents: Mapping[str, float]
    readings: Mapping[str, float]


def build_plug(spec: PlugSpec, detail: float = 1.0) -> PlugModel:
    """Return the plug's mesh and truth.

    Parameters
    ----------
    detail : mesh density; 1 for a close-up 1600 px wide (nose about 0.07 mm), 0.5 for training, 0.3 for a row.

    Notes
    -----
    The same description and detail always give the same mesh.
    """
    back, z_back = body(spec, detail)
    pieces = damaged(firing_end(spec, detail) + back, spec)
    done = [_finished(piece, painted(piece, spec)) for piece in pieces]
    done, facing = _with_gap(done, spec)
    done += [_finished(piece, painted(piece, spec)) for piece in attachments([p for p, _ in done], spec, facing)]
    mesh = _joined(done)
    return PlugModel(
        mesh=mesh,
        key_points=_key_points(facing),
        gap_mm=0.0 if spec.amount("gap_bridged") else (np.nan if facing is None else facing.gap_mm),
        nose_albedo_linear=_nose_albedo(mesh, spec),
        extents=_extents(mesh, spec, z_back),
        readings=dict(spec.readings),
    )


def _finished(piece: Piece, skin: Skin) -> tuple[Piece, Skin]:
    return replace(piece, grid=piece.grid.pushed(skin.height)), skin


def _with_gap(done: list[tuple[Piece, Skin]], spec: PlugSpec) -> tuple[list[tuple[Piece, Skin]], Clearance | None]:
    """Move the straps until the clearance to the centre is the wanted gap; return the closest facing pair."""
    if spec.strap.kind == "surface":
        return done, None
    centre = next(p for p, _ in reversed(done) if p.zone == "centre")
    loose = [k for k, (p, _) in enumerate(done) if p.loose]
    found: Clearance | None = None
    if spec.strap.kind == "multi":
        for k in loose:
            piece, skin = done[k]
            grid, found = _fitted(piece.grid, centre.grid, spec, _inward(piece.grid))
            done[k] = (replace(piece, grid=grid), skin)
        return done, found
    face = loose[-1]
    for _ in range(4):
        found = clearance(centre.grid, done[face][0].grid)
        miss = spec.gap_mm - found.gap_mm
        if abs(miss) < FIT_MM:
            break
        for k in loose:
            piece, skin = done[k]
            done[k] = (replace(piece, grid=_lifted(piece.grid, miss, np.array([0.0, 0.0, 1.0]))), skin)
    return done, found


def _fitted(grid, centre, spec: PlugSpec, away: Array) -> tuple[Any, Clearance]:  # noqa: ANN001
    for _ in range(4):
        found = clearance(centre, grid)
        miss = spec.gap_mm - found.gap_mm
        if abs(miss) < FIT_MM:
            break
        grid = _lifted(grid, miss, away)
    return grid, found


def _lifted(grid: Any, distance_mm: float, direction: Array) -> Any:
    share = smooth(grid.points[..., 2], 0.0, 0.8 * float(grid.points[..., 2].max()))
    return grid.moved(share[..., None] * direction * distance_mm)


def _inward(grid: Any) -> Array:
    foot = grid.points[0].mean(0) * np.array([1.0, 1.0, 0.0])
    return foot / np.linalg.norm(foot)


def _joined(done: list[tuple[Piece, Skin]]) -> Mesh:
    builder = MeshBuilder()
    for piece, skin in done:
        builder.add(
            piece.grid.points.reshape(-1, 3),
            piece.grid.faces(),
            piece.part,
            np.clip(skin.colour, 0.004, 0.95).reshape(-1, 3),
            **{name: np.clip(getattr(skin, name), 0, 1).ravel() for name in ("roughness", "metallic", "clearcoat", "sheen", "flatness")},
        )
    return builder.join()


def _key_points(facing: Clearance | None) -> dict[str, Array]:
    none = np.full(3, np.nan)
    return {
        "strap_face": none if facing is None else facing.second,
        "centre_tip": none if facing is None else facing.first,
        "axis_front": np.zeros(3),
        "axis_back": np.array([0.0, 0.0, -10.0]),
    }


def _nose_albedo(mesh: Mesh, spec: PlugSpec) -> Array:
    faces = mesh.faces[mesh.part == PARTS.index("nose")]
    corners = mesh.vertices[faces].astype(float)
    front = corners[..., 2].mean(1) > min(spec.nose.protrusion_mm, 0.0) - ALBEDO_DEPTH_MM
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) * front
    return (mesh.colour[faces].mean(1) * area[:, None]).sum(0) / area.sum()


def _extents(mesh: Mesh, spec: PlugSpec, z_back: float) -> dict[str, float]:
    return {
        "radius_max_mm": float(np.hypot(mesh.vertices[:, 0], mesh.vertices[:, 1]).max()),
        "z_top_mm": float(mesh.vertices[:, 2].max()),
        "z_back_mm": z_back,
        "hex_across_flats_mm": spec.hex_af_mm,
        "hex_radius_mm": spec.hex_af_mm / 2,
    }
