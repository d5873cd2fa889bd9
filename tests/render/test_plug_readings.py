"""Each reading changes on the plug what the trade says it does, and the light meter would agree."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.color import rgb2lab

from sample_images.render.mesh import MATERIAL, PARTS
from sample_images.render.plug.build import PlugModel, build_plug
from sample_images.render.plug.spec import OUTSIDE, READINGS, PlugSpec, random_spec

SEEDS = (1, 2, 3)
Array = NDArray[np.float64]


def spec_of(reading: str, amount: float = 0.95, seed: int = 1) -> PlugSpec:
    readings = {reading: amount} if reading else {}
    gap = 0.05 if reading == "struck" else 0.9
    return random_spec(np.random.default_rng(seed), readings=readings, thread="M14x1.25", strap="j", gap_mm=gap, odd=False)


@lru_cache(maxsize=128)
def built(reading: str, amount: float = 0.95, seed: int = 1) -> PlugModel:
    return build_plug(spec_of(reading, amount, seed), 0.4)


def nose_lab(reading: str, amount: float = 0.95, seed: int = 1) -> Array:
    linear = built(reading, amount, seed).nose_albedo_linear
    srgb = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return rgb2lab(srgb[None, None])[0, 0]


def part_mean(model: PlugModel, part: str, column: str) -> float:
    corners = model.mesh.faces[model.mesh.part == PARTS.index(part)]
    return float(model.mesh.material[corners, MATERIAL.index(column)].mean())


def part_points(model: PlugModel, part: str) -> Array:
    return model.mesh.vertices[np.unique(model.mesh.faces[model.mesh.part == PARTS.index(part)])].astype(float)


@pytest.mark.parametrize("reading", [r for r in READINGS if r != "struck"])
def test_every_reading_changes_the_plug(reading: str) -> None:
    """No reading is a word without a deed: colours, material or shape differ from the same plug without it."""
    spec = spec_of(reading)
    with_it, without = built(reading).mesh, build_plug(replace(spec, readings={}), 0.4).mesh
    if len(with_it.vertices) > len(without.vertices):
        assert len(with_it.part) >= len(without.part) + 50
        return
    moved = np.linalg.norm(with_it.vertices - without.vertices, axis=1) > 0.03
    painted = (np.abs(with_it.colour - without.colour).max(1) > 0.1) | (np.abs(with_it.material - without.material).max(1) > 0.2)
    assert 0.0004 < (moved | painted).mean() < 0.9


@pytest.mark.parametrize("reading", OUTSIDE)
def test_outside_readings_leave_the_nose_alone(reading: str) -> None:
    """What happens in the well is not seen on the nose."""
    assert built(reading).nose_albedo_linear == pytest.approx(built("").nose_albedo_linear, abs=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_soot_and_oil_are_black(seed: int) -> None:
    """A fully sooted or oiled nose lies below L* 25."""
    assert nose_lab("carbon_fouled", seed=seed)[0] < 25
    assert nose_lab("oil_fouled", seed=seed)[0] < 25


@pytest.mark.parametrize("seed", SEEDS)
def test_oil_shines_and_soot_does_not(seed: int) -> None:
    """The clear coat on the nose tells wet oil from dry soot."""
    assert part_mean(built("oil_fouled", seed=seed), "nose", "clearcoat") > 0.7
    assert part_mean(built("carbon_fouled", seed=seed), "nose", "clearcoat") < 0.05
    assert part_mean(built("carbon_fouled", seed=seed), "nose", "roughness") > 0.9


@pytest.mark.parametrize("seed", SEEDS)
def test_additive_stain_is_orange_to_red_on_every_part(seed: int) -> None:
    """The hue angle of the nose lies between brick (25) and orange (75 degrees), and the strap goes with it."""
    lab = nose_lab("additive_stain", seed=seed)
    assert 25 < np.degrees(np.arctan2(lab[2], lab[1])) < 75
    assert np.hypot(lab[1], lab[2]) > 20
    assert part_mean(built("additive_stain", seed=seed), "strap", "metallic") < 0.35


@pytest.mark.parametrize("seed", SEEDS)
def test_lean_and_overheated_noses_are_white(seed: int) -> None:
    """Both lie above L* 84 with hardly any colour; only the overheated one is rough all over."""
    for reading in ("lean_white", "overheated"):
        lab = nose_lab(reading, seed=seed)
        assert lab[0] > 84
        assert np.hypot(lab[1], lab[2]) < 8


@pytest.mark.parametrize("seed", SEEDS)
def test_normal_is_tan_to_grey_and_between_black_and_white(seed: int) -> None:
    """A normal nose lies between L* 40 and 82, warm or neutral, never green or blue."""
    lab = nose_lab("normal", seed=seed)
    assert 40 < lab[0] < 82
    assert lab[1] > -2
    assert lab[2] > 0


@pytest.mark.parametrize("reading", ["glazed", "fuel_wet", "coolant_wet"])
def test_wet_and_glassy_noses_have_a_clear_coat(reading: str) -> None:
    """What shines in life has a clear coat on the nose."""
    assert part_mean(built(reading), "nose", "clearcoat") > 0.5 > part_mean(built(""), "nose", "clearcoat")


def test_a_crust_has_relief() -> None:
    """Ash raises the nose by a few tenths of a millimetre."""
    bare, crusted = (np.hypot(*part_points(built(r), "nose")[:, :2].T) for r in ("", "ash_crust"))
    assert 0.15 < np.abs(crusted - bare).max() < 1.0


def test_the_more_soot_the_darker() -> None:
    """Nose lightness falls with every step of the amount."""
    light = [nose_lab("carbon_fouled", amount)[0] for amount in (0.1, 0.3, 0.6, 0.95)]
    assert np.all(np.diff(light) < 0)


def test_pre_ignition_takes_the_centre_first() -> None:
    """Half-way the centre is shorter and the strap is still there; at the end both have gone back."""
    tops = {a: part_points(built("preignition_melt", a), "centre")[:, 2].max() for a in (0.05, 0.5, 0.95)}
    assert tops[0.05] > tops[0.5] > tops[0.95]


def test_a_missing_piece_shows_clean_ceramic() -> None:
    """On a sooted nose the fracture is white: the brightest nose points exceed 0.7 with it and stay dark without."""
    soot = {"carbon_fouled": 1.0}
    bright = []
    for readings in (soot, soot | {"nose_piece_missing": 0.9}):
        mesh = build_plug(random_spec(np.random.default_rng(4), readings=readings, strap="j", odd=False), 0.4).mesh
        bright.append(np.mean(mesh.colour[np.unique(mesh.faces[mesh.part == PARTS.index("nose")])].min(1) > 0.7))
    assert bright[0] == 0.0
    assert bright[1] > 0.02


def test_a_crack_is_a_thin_dark_line() -> None:
    """A cracked clean nose has dark points, but few of them."""
    spec = random_spec(np.random.default_rng(5), readings={"nose_cracked": 0.9, "lean_white": 1.0}, strap="j", odd=False)
    mesh = build_plug(spec, 1.0).mesh
    dark = mesh.colour[np.unique(mesh.faces[mesh.part == PARTS.index("nose")])].max(1) < 0.15
    assert 0.0005 < dark.mean() < 0.03


def test_metal_specks_are_bright_metal_on_the_nose() -> None:
    """Metal appears on a part that has none."""
    corners = np.unique(built("metal_specks").mesh.faces[built("metal_specks").mesh.part == PARTS.index("nose")])
    assert (built("metal_specks").mesh.material[corners, MATERIAL.index("metallic")] > 0.8).mean() > 0.01
    assert part_mean(built(""), "nose", "metallic") == 0.0


def test_a_bridged_gap_measures_nought() -> None:
    """A lump joins the electrodes: no feeler goes in."""
    assert built("gap_bridged").gap_mm == 0.0


def test_a_struck_gap_is_shut() -> None:
    """A full blow leaves less than 0.1 mm between the electrodes, and bright bruises on the strap."""
    assert built("struck").gap_mm < 0.1
    strap = np.unique(built("struck").mesh.faces[built("struck").mesh.part == PARTS.index("strap")])
    assert (built("struck").mesh.colour[strap].min(1) > 0.45).mean() > 0.01


def test_a_worn_centre_is_rounder() -> None:
    """Wear takes the corner of the centre: the outer edge drops against the middle."""
    drop = []
    for reading in ("", "worn"):
        tip = part_points(built(reading, seed=2), "centre")
        radius, top = np.hypot(tip[:, 0], tip[:, 1]), tip[:, 2].max()
        rim = tip[radius > 0.9 * radius[tip[:, 2] > top - 1.2].max(), 2].max()
        drop.append(top - rim)
    assert drop[1] > drop[0] + 0.15


def test_torn_threads_lose_their_crests() -> None:
    """Some crests of a damaged thread stand lower than they did."""
    intact, torn = (np.hypot(*part_points(built(r), "thread")[:, :2].T) for r in ("", "thread_damaged"))
    assert (intact - torn).max() > 0.2


def test_readings_add_up() -> None:
    """Soot over tan is darker than tan and lighter than full soot."""
    mixed = {"normal": 0.8, "carbon_fouled": 0.35}
    both = build_plug(
        random_spec(np.random.default_rng(1), readings=mixed, thread="M14x1.25", strap="j", gap_mm=0.9, odd=False), 0.4
    )
    dark, tan = built("carbon_fouled").nose_albedo_linear.mean(), built("normal").nose_albedo_linear.mean()
    assert dark < both.nose_albedo_linear.mean() < tan
