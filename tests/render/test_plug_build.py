"""The built plug: gap, thread, parts and closedness, each measured back from the mesh by other means than it was built."""

from functools import lru_cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import find_peaks
from scipy.spatial import cKDTree

from sample_images.render.mesh import PARTS, Mesh
from sample_images.render.plug.build import PlugModel, build_plug
from sample_images.render.plug.shape import PlugSpec, Strap, thread_sizes
from sample_images.render.plug.spec import random_spec

Array = NDArray[np.float64]
DETAIL = 0.5


@lru_cache(maxsize=64)
def built(seed: int, thread: str = "M14x1.25", strap: str = "j", family: str = "train") -> tuple[PlugSpec, PlugModel]:
    spec = random_spec(np.random.default_rng(seed), readings={}, thread=thread, strap=strap, family=family, odd=False)
    return spec, build_plug(spec, DETAIL)


def triangles(mesh: Mesh, part: str) -> Array:
    return mesh.vertices[mesh.faces[mesh.part == PARTS.index(part)]].astype(float)


def cloud(tri: Array, rng: np.random.Generator, near: Array, within_mm: float, count: int = 40) -> Array:
    """Random points on the triangles close to a place: a second way to the gap that knows nothing of its builder."""
    close = tri[np.linalg.norm(tri.mean(1) - near, axis=1) < within_mm]
    a, b = rng.random((2, len(close), count, 1))
    a, b = np.where(a + b > 1, 1 - a, a), np.where(a + b > 1, 1 - b, b)
    points = close[:, None, 0] + a * (close[:, None, 1] - close[:, None, 0]) + b * (close[:, None, 2] - close[:, None, 0])
    return points.reshape(-1, 3)


def crossed(origins: Array, directions: Array, tri: Array) -> tuple[Array, Array]:
    """Return distance and facing (dot of ray and outward normal) of each ray's first triangle, inf and 0 for none."""
    first, facing = np.full(len(origins), np.inf), np.zeros(len(origins))
    e1, e2 = tri[:, 1] - tri[:, 0], tri[:, 2] - tri[:, 0]
    normal = np.cross(e1, e2)
    for k, (o, d) in enumerate(zip(origins, directions, strict=True)):
        h = np.cross(d, e2)
        det = (e1 * h).sum(1)
        det = np.where(np.abs(det) < 1e-12, np.nan, det)
        s = o - tri[:, 0]
        u, q = (s * h).sum(1) / det, np.cross(s, e1)
        v, t = (q @ d) / det, (e2 * q).sum(1) / det
        hit = (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 1e-6)
        if hit.any():
            best = np.flatnonzero(hit)[t[hit].argmin()]
            first[k], facing[k] = t[best], d @ normal[best]
    return first, facing


@pytest.mark.parametrize("seed", range(3))
def test_the_gap_is_the_one_asked_for(seed: int) -> None:
    """Random points on centre and strap come no closer than the gap asked for, and as close within 0.01 mm."""
    spec, model = built(seed)
    rng, middle = np.random.default_rng(0), (model.key_points["strap_face"] + model.key_points["centre_tip"]) / 2
    near = [cloud(triangles(model.mesh, part), rng, middle, spec.gap_mm / 2 + 1.0) for part in ("centre", "strap")]
    assert cKDTree(near[0]).query(near[1])[0].min() == pytest.approx(spec.gap_mm, abs=0.01)


@pytest.mark.parametrize("strap", ["j", "short", "multi"])
@pytest.mark.parametrize("thread", ["M10x1.0", "M12x1.25", "M18x1.5"])
def test_the_reported_gap_is_the_one_asked_for(strap: str, thread: str) -> None:
    """Every strap and thread reaches its gap within 0.01 mm."""
    spec, model = built(11, thread, strap)
    assert model.gap_mm == pytest.approx(spec.gap_mm, abs=0.01)


def test_the_key_points_are_a_gap_apart() -> None:
    """Strap face and centre tip face each other across the gap, within a few hundredths."""
    for seed in range(6):
        spec, model = built(seed)
        apart = np.linalg.norm(model.key_points["strap_face"] - model.key_points["centre_tip"])
        assert apart == pytest.approx(spec.gap_mm, abs=0.03)


def test_a_surface_gap_has_no_key_points() -> None:
    """Without a strap the gap is not measured: nan, not nought."""
    _, model = built(2, strap="surface")
    assert np.isnan(model.gap_mm)
    assert np.isnan(model.key_points["strap_face"]).all()


@pytest.mark.parametrize("thread", list(thread_sizes()))
def test_crests_along_the_outline_are_a_pitch_apart(thread: str) -> None:
    """The mean distance of crests in one half-plane equals the pitch of ISO 68-1 / ISO 261 designations."""
    spec, model = built(4, thread)
    mesh, found = model.mesh, []
    for angle in (0.4, 2.5):
        v = mesh.vertices[np.unique(mesh.faces[mesh.part == PARTS.index("thread")])]
        off = np.abs((np.arctan2(v[:, 1], v[:, 0]) - angle + np.pi) % (2 * np.pi) - np.pi)
        line = v[off < off.min() + 1e-4]
        line = line[np.argsort(line[:, 2])]
        radius, z = np.hypot(line[:, 0], line[:, 1]), np.linspace(-0.85 * spec.reach_mm, -3.5, 4000)
        peaks = find_peaks(np.interp(z, line[:, 2], radius), distance=int(0.6 * spec.size.pitch_mm / (z[1] - z[0])))[0]
        centre = [np.mean(z[np.interp(z, line[:, 2], radius) > 0][[p]]) for p in peaks]
        found.append(np.polyfit(np.arange(len(centre)), centre, 1)[0])
    assert np.mean(found) == pytest.approx(spec.size.pitch_mm, rel=0.02)


def test_the_thread_is_right_handed() -> None:
    """Going round against the clock seen from the tip, a crest climbs towards the tip."""
    from sample_images.render.plug.body import thread_height

    angle = np.pi / 2
    z = np.linspace(-0.4, 0.4, 2001)
    assert z[thread_height(z - angle / (2 * np.pi)).argmax()] > 0


@pytest.mark.parametrize("thread", list(thread_sizes()))
def test_the_major_diameter_is_reached_and_not_passed(thread: str) -> None:
    """Crests stand at the major diameter of the designation, within the relief of grime."""
    spec, model = built(4, thread)
    v = triangles(model.mesh, "thread").reshape(-1, 3)
    assert np.hypot(v[:, 0], v[:, 1]).max() == pytest.approx(spec.size.major_mm / 2, abs=0.06)


@pytest.mark.parametrize("family", ["train", "test"])
def test_all_parts_are_there(family: str) -> None:
    """Nose, centre, strap, rim, thread, hex and upper insulator each have triangles."""
    for seed in range(4):
        present = set(np.unique(built(seed, family=family)[1].mesh.part))
        assert present == {PARTS.index(p) for p in ("nose", "centre", "strap", "rim", "thread", "hex", "upper")}


@pytest.mark.parametrize("seed", [0, 3])
def test_no_ray_from_outside_sees_the_inside(seed: int) -> None:
    """From forty directions the first triangle met faces the eye: there is no hole to look through."""
    _, model = built(seed)
    rng = np.random.default_rng(seed)
    tri = model.mesh.vertices[model.mesh.faces].astype(float)
    target = np.stack([*rng.uniform(-5, 5, (2, 40)), rng.uniform(-50, 4, 40)], -1)
    away = rng.standard_normal((40, 3))
    away = 200 * away / np.linalg.norm(away, axis=1, keepdims=True)
    distance, facing = crossed(target + away, -away / 200, tri)
    assert np.isfinite(distance).sum() > 24
    assert (facing[np.isfinite(distance)] > 0).mean() <= 0.01


def test_vertices_and_material_are_in_range() -> None:
    """Everything is finite; colours and material lie in 0-1."""
    for seed in range(4):
        mesh = built(seed)[1].mesh
        assert np.isfinite(mesh.vertices).all()
        assert 0 <= mesh.colour.min() <= mesh.colour.max() <= 1
        assert 0 <= mesh.material.min() <= mesh.material.max() <= 1


def test_the_same_description_builds_the_same_mesh() -> None:
    """Two builds agree to the last bit."""
    spec, model = built(7)
    again = build_plug(spec, DETAIL)
    assert np.array_equal(model.mesh.vertices, again.mesh.vertices)
    assert np.array_equal(model.mesh.colour, again.mesh.colour)


def test_detail_changes_the_mesh_and_not_the_plug() -> None:
    """A finer mesh has more points, the same gap, and the same nose colour within 0.03."""
    spec, model = built(1)
    fine = build_plug(spec, 0.9)
    assert len(fine.mesh.vertices) > 1.8 * len(model.mesh.vertices)
    assert fine.gap_mm == pytest.approx(model.gap_mm, abs=0.01)
    assert fine.nose_albedo_linear == pytest.approx(model.nose_albedo_linear, abs=0.03)


def test_extents_hold_the_plug() -> None:
    """The stated radius and ends are those of the mesh, and the hex lies across its flats."""
    spec, model = built(3)
    v = model.mesh.vertices
    assert model.extents["radius_max_mm"] == pytest.approx(np.hypot(v[:, 0], v[:, 1]).max(), abs=1e-3)
    assert model.extents["z_back_mm"] == pytest.approx(v[:, 2].min(), abs=1e-3)
    assert model.extents["hex_radius_mm"] == spec.hex_af_mm / 2


def test_a_multi_strap_plug_has_as_many_straps_as_asked() -> None:
    """Feet of the straps stand at as many angles about the axis as the description says."""
    spec = random_spec(np.random.default_rng(3), readings={}, strap="multi", odd=False)
    v = triangles(build_plug(spec, 0.3).mesh, "strap").reshape(-1, 3)
    foot = v[(v[:, 2] < 0.2) & (v[:, 2] > -0.3)]
    turned = np.sort(np.arctan2(foot[:, 1], foot[:, 0]))
    jumps = np.diff(np.r_[turned, turned[0] + 2 * np.pi]) > 0.5
    assert jumps.sum() == spec.strap.count == Strap(count=spec.strap.count).count
