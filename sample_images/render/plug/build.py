"""From a plug's description to its mesh: shape, damage, paint, gap, truth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

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
from sample_images.render.surfaces import Grid

Array = NDArray[np.float64]
Painted = tuple[Piece, Skin]

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


def _finished(piece: Piece, skin: Skin) -> Painted:
    return replace(piece, grid=piece.grid.pushed(skin.height)), skin


def _with_gap(done: list[Painted], spec: PlugSpec) -> tuple[list[Painted], Clearance | None]:
    """Move the straps until the clearance to the centre is the wanted gap; return the closest facing pair."""
    loose = [k for k, (piece, _) in enumerate(done) if piece.loose]
    if not loose:
        return done, None
    centre = next(piece.grid for piece, _ in reversed(done) if piece.zone == "centre")
    done, found = list(done), None
    if spec.strap.kind == "multi":
        for k in loose:
            piece, skin = done[k]
            (grid,), found = _fitted([piece.grid], centre, spec.gap_mm, _outward(piece.grid))
            done[k] = (replace(piece, grid=grid), skin)
        return done, found
    grids, found = _fitted([done[k][0].grid for k in loose], centre, spec.gap_mm, np.array([0.0, 0.0, 1.0]))
    for k, grid in zip(loose, grids, strict=True):
        done[k] = (replace(done[k][0], grid=grid), done[k][1])
    return done, found


def _fitted(grids: list[Grid], centre: Grid, gap_mm: float, away: Array) -> tuple[list[Grid], Clearance]:
    """Return the grids moved along `away`, feet held, until the last one clears the centre by `gap_mm`."""
    top = max(float(grid.points[..., 2].max()) for grid in grids)
    found = clearance(centre, grids[-1])
    for _ in range(6):
        miss = gap_mm - found.gap_mm
        if abs(miss) < FIT_MM:
            break
        step = miss / max(float(_lift(found.second[2], top)), 0.25)
        grids = [grid.moved(_lift(grid.points[..., 2], top)[..., None] * away * step) for grid in grids]
        found = clearance(centre, grids[-1])
    return grids, found


def _lift(z: Array, top: float) -> Array:
    """Return how far a strap point takes part in setting the gap: 0 at the rim, 1 well above it."""
    return smooth(z, 0.0, 0.8 * top)


def _outward(grid: Grid) -> Array:
    foot = grid.points[0].mean(0) * np.array([1.0, 1.0, 0.0])
    return foot / np.linalg.norm(foot)


def _joined(done: list[Painted]) -> Mesh:
    builder = MeshBuilder()
    for piece, skin in done:
        builder.add(
            piece.grid.points.reshape(-1, 3),
            piece.grid.faces(),
            piece.part,
            np.clip(skin.colour, 0.004, 0.95).reshape(-1, 3),
            **{
                name: np.clip(getattr(skin, name), 0, 1).ravel()
                for name in ("roughness", "metallic", "clearcoat", "sheen", "flatness")
            },
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
