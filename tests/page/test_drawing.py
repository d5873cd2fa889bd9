"""The engine drawing: one place a cylinder, banks, groups and states, in words too."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import pytest

from plugread.engine import Engine
from plugread.notebook.engines import presets
from plugread.page.parts.drawing import Place, describe, draw
from plugread.records import EngineSpec

FOUR = presets()["Inline four, injection, shared coils"]


def engines() -> list[EngineSpec]:
    """Every preset, and the largest engine of each layout."""
    order = tuple(range(1, 13))
    large = [EngineSpec(layout, 12, order, "port_injection", "wasted_spark", True) for layout in ("inline", "vee", "flat")]
    return [*presets().values(), *large]


def wells(svg: str) -> dict[int, tuple[float, float]]:
    """Where each well stands, by cylinder."""
    found = re.findall(r'data-cylinder="(\d+)" transform="translate\((\d+) (\d+)\)"', svg)
    return {int(n): (float(x), float(y)) for n, x, y in found}


@pytest.mark.parametrize("spec", engines(), ids=lambda s: f"{s.layout}{s.cylinders}")
def test_one_well_a_cylinder_inside_the_frame(spec: EngineSpec) -> None:
    """Each cylinder stands once on the drawing, inside its frame, and no two closer than a plug is wide."""
    svg = draw(Engine(spec), [], None)
    root = ElementTree.fromstring(svg)
    width, height = (float(v) for v in root.attrib["viewBox"].split()[2:])
    places = wells(svg)
    assert sorted(places) == list(range(1, spec.cylinders + 1))
    assert all(33 <= x <= width - 33 and 33 <= y <= height - 33 for x, y in places.values())
    spots = list(places.values())
    assert all(abs(a[0] - b[0]) + abs(a[1] - b[1]) > 66 for k, a in enumerate(spots) for b in spots[:k])


def test_banks_lie_apart() -> None:
    """The two banks of a vee lie on two levels, odd cylinders on one and even on the other."""
    places = wells(draw(Engine(presets()["Vee eight, injection, coil on each plug"]), [], None))
    assert len({places[n][1] for n in (1, 3, 5, 7)}) == 1
    assert places[1][1] != places[2][1]


def test_shared_coils_are_drawn_and_single_ones_are_not() -> None:
    """Coils that serve two cylinders are named on the drawing; a coil on each plug is not."""
    assert "coil A" in draw(Engine(FOUR), [], None) and "coil B" in draw(Engine(FOUR), [], None)
    assert "coil" not in draw(Engine(replace(FOUR, ignition="coil_on_plug")), [], None)


def test_two_carburettors_are_drawn() -> None:
    """Cylinders fed by one of two carburettors are bracketed; one carburettor for all is not worth a bracket."""
    one = presets()["Inline four, carburettor, contact breaker"]
    assert "carb A" in draw(Engine(replace(one, feeds=((1, 2), (3, 4)))), [], None)
    assert "carb" not in draw(Engine(one), [], None)


def test_colour_and_odd_mark_sit_on_their_cylinder() -> None:
    """The measured colour fills the nose of its own plug, and the odd one carries the word."""
    svg = draw(Engine(FOUR), [Place(3, "read", "#8a7050", odd=True)], 3)
    third = re.search(r'data-cylinder="3".*?(?=data-cylinder="4")', svg, re.S)
    assert third is not None and "#8a7050" in third.group() and ">odd<" in third.group()
    assert svg.count("#8a7050") == 1


def test_states_differ_without_colour() -> None:
    """Empty, ticked and refused wells differ by shape, not by colour alone."""
    drawn = [draw(Engine(FOUR), [Place(1, state)], None) for state in ("empty", "ticked", "refused", "read", "unsure")]
    shapes = [re.sub(r'class="[^"]*"', "", svg) for svg in drawn]
    assert len(set(shapes)) == len(shapes)


@pytest.mark.parametrize("state", ["empty", "ticked", "refused", "read", "unsure"])
def test_each_state_without_a_colour_is_well_formed(state: str) -> None:
    """The drawing is XML a browser takes as it stands, and a nose whose colour is held back has no colour of its own."""
    root = ElementTree.fromstring(draw(Engine(FOUR), [Place(1, state)], None))
    noses = [one for one in root.iter() if "nose" in one.attrib.get("class", "").split()]
    assert len(noses) == (state in ("read", "unsure"))
    assert all("unmeasured" in one.attrib["class"].split() and "style" not in one.attrib for one in noses)


def test_the_drawing_can_be_read_aloud() -> None:
    """The words name each cylinder's state and the odd one."""
    said = describe(Engine(FOUR), [Place(1, "read"), Place(3, "refused", odd=True)])
    assert "cylinder 1: read" in said and "cylinder 3: photo cannot be used, the odd one" in said


def test_brackets_do_not_lie_on_one_another() -> None:
    """Three nested coils of a straight six lie on three levels, each with its name, inside the frame."""
    six = replace(presets()["Inline six, injection, coil on each plug"], ignition="wasted_spark", coils=((1, 6), (2, 5), (3, 4)))
    svg = draw(Engine(six), [], None)
    shared = svg[svg.index('class="shared"') :]
    levels = [float(y) for y in re.findall(r"([0-9.]+)H[0-9.]+", shared)][:3]
    names = re.findall(r">(coil [ABC])<", shared)
    assert len(set(levels)) == 3 and sorted(names) == ["coil A", "coil B", "coil C"]
    assert max(levels) + 15 < float(ElementTree.fromstring(svg).attrib["viewBox"].split()[3])
