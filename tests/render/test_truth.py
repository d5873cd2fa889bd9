"""Truth of a rendered picture: masks, key points, gap and albedo agree with second ways of getting them."""

from __future__ import annotations

import numpy as np
import pytest

from sample_images.render import truth
from sample_images.render.camera import Camera
from sample_images.render.colour import lab_of_linear
from sample_images.render.mesh import PARTS, MeshBuilder
from sample_images.render.surfaces import ball


def _drawn(mesh, camera):
    """Part map by projecting every triangle and drawing far ones first: a painter's second opinion."""
    import cv2

    image = np.zeros((camera.height_px, camera.width_px), np.uint8)
    place = camera.project(mesh.vertices.astype(float))[mesh.faces]
    usable = np.isfinite(place).all((1, 2))
    for k in np.argsort(-place[..., 2].mean(1), kind="stable"):
        if usable[k]:
            corners = np.clip((place[k, :, :2] - 0.5) * 16, -1e6, 1e6).round().astype(np.int32)
            cv2.fillConvexPoly(image, corners, int(mesh.part[k]) + 1, shift=4)
    return image.astype(int) - 1


def _without_table(mesh):
    keep = mesh.plug > 0
    from dataclasses import replace

    return replace(mesh, faces=mesh.faces[keep], part=mesh.part[keep], plug=mesh.plug[keep])


def test_part_mask_agrees_with_projected_triangles(side_scene, side_labels):
    """Away from outlines, rays and painted triangles name the same part in 98 of 100 pixels."""
    import cv2

    drawn = _drawn(_without_table(side_scene.mesh), side_scene.camera)
    drawn = np.where(drawn < 0, 0, drawn)
    edge = cv2.dilate(cv2.morphologyEx(drawn.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3))), np.ones((2, 2))) > 0
    inside = ~edge
    assert inside.mean() > 0.5
    assert (drawn == side_labels.part)[inside].mean() > 0.98


def test_plug_mask_is_where_plug_parts_are(side_labels):
    """Every pixel with a plug's part carries a plug number, and no other."""
    of_plug = (side_labels.part > 0) & (side_labels.part < PARTS.index("sheet"))
    assert np.array_equal(of_plug, side_labels.plug > 0)
    assert of_plug.any()


def test_gap_in_pixels_over_scale_is_the_gap(side_scene):
    """In a side view the distance of the two gap points, over px_per_mm and the tilt's cosine, is gap_mm within 2 %."""
    plug = side_scene.plugs[0]
    keys = truth.key_points_px(plug, side_scene.camera)
    scale = side_scene.camera.px_per_mm(truth._gap_centre(plug))
    seen_mm = np.hypot(*(keys[0] - keys[1])) / scale / np.cos(np.deg2rad(truth.tilt_deg(plug, side_scene.camera)))
    assert seen_mm == pytest.approx(plug.model.gap_mm, rel=0.02)


def test_key_points_land_on_their_parts(side_scene, side_labels):
    """Strap and centre are found within two pixels of their gap points."""
    keys = truth.key_points_px(side_scene.plugs[0], side_scene.camera)
    for point, part in ((keys[0], "strap"), (keys[1], "centre")):
        x, y = np.floor(point).astype(int)
        assert (side_labels.part[y - 2 : y + 3, x - 2 : x + 3] == PARTS.index(part)).any(), part


def test_view_of_a_side_scene_is_side(side_scene, side_labels):
    """The truth of the lying plug seen square says "side" and shows its nose."""
    known = truth.truth_of(side_scene, side_labels)["plugs"][0]
    assert known["view"] == "side"
    assert known["nose_px"] > 0


@pytest.mark.parametrize(
    ("tilt", "opening", "pixels", "view"),
    [
        (0, 90, 500, "side"),
        (16, 90, 500, "oblique"),
        (-15, 30, 500, "side"),
        (0, 29, 500, "oblique"),
        (65, 90, 500, "end"),
        (64, 90, 500, "oblique"),
        (0, 90, 3, "none"),
    ],
)
def test_view_follows_its_definition(tilt, opening, pixels, view):
    """Limits of the module text: 25 degrees for end, 15 and 30 for side, few pixels for none."""
    assert truth.view_of(tilt, opening, pixels) == view


@pytest.mark.parametrize(("roughness", "flatness"), [(0.5, 0.0), (0.5, 0.55), (1.0, 0.25)])
def test_albedo_in_a_white_furnace_is_the_truth(renderer, roughness, flatness):
    """Two balls in white light from all sides differ by the difference of their reflectances, within 1 % (gloss cancels)."""
    grid = ball(np.zeros(3), 10.0, 40, 60)
    camera = Camera(np.array([0.0, -200.0, 0.0]), np.zeros(3), np.array([0.0, 0, 1]), 6.0, 0.0, 200.0, 16, 12)
    y, x = np.indices((12, 16))
    disc = np.hypot(x - 7.5, y - 5.5) < 6
    shown = []
    for value in (0.1, 0.6):
        builder = MeshBuilder()
        builder.add(
            grid.points.reshape(-1, 3), grid.faces(), "nose", (value, value, value), roughness=roughness, flatness=flatness
        )
        image = renderer.picture(builder.join(), np.ones((8, 16, 3), np.float32), camera, spp=256)
        shown.append(float(image[disc].mean()))
    assert (shown[1] - shown[0]) / 0.5 == pytest.approx(1.0, abs=0.01)


def test_nose_albedo_is_the_mean_of_its_mesh(side_scene):
    """The stated nose Lab is that of the stated linear colour, and lies among the colours of the nose's vertices."""
    plug = side_scene.plugs[0]
    faces = plug.model.mesh.faces[plug.model.mesh.part == PARTS.index("nose")]
    colours = plug.model.mesh.colour[faces].reshape(-1, 3)
    albedo = plug.model.nose_albedo_linear
    assert (albedo >= colours.min(0)).all()
    assert (albedo <= colours.max(0)).all()
    assert lab_of_linear(np.ones(3)) == pytest.approx([100, 0, 0], abs=1e-6)


def test_same_seed_renders_the_same_picture(renderer, side_scene):
    """Two renders with one seed are equal but for the order in which threads add light."""
    small = side_scene.camera.sized(32, 24)
    first, second = (renderer.picture(side_scene.mesh, side_scene.light.radiance, small, spp=2, seed=4) for _ in range(2))
    assert np.allclose(first, second, rtol=1e-4)


def test_denoised_picture_keeps_the_mean(renderer, side_scene):
    """Denoising moves the picture's mean by less than 3 %."""
    pytest.importorskip("pyoidn", reason="pyoidn is not installed; pip install pyoidn")
    small = side_scene.camera.sized(48, 36)
    plain = renderer.picture(side_scene.mesh, side_scene.light.radiance, small, spp=16, seed=4)
    smooth = renderer.picture(side_scene.mesh, side_scene.light.radiance, small, spp=16, seed=4, denoise=True)
    assert smooth.mean() == pytest.approx(plain.mean(), rel=0.03)
