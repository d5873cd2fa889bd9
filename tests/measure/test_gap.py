"""The gap on drawn side views with perfect part maps: what the geometry alone can do, and what it refuses."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from plugread.measure.axis import upright
from plugread.measure.edges import follow
from plugread.measure.gap import measure_gap
from plugread.measure.scale import thread_scale
from plugread.measure.tilt import Tilt, further_out
from plugread.records import PARTS, FiringEnd, PartMap, Photo, Quality

PX_PER_MM, PITCH_MM, STEP = 30.0, 1.25, 2
SHARP = Quality(blur_px=1.5, exposure=0.5, clipped_share=0.0, px_per_mm=None)


def drawn(gap_mm: float, *, turn_deg: float = 0.0, radius_mm: float = 7.0) -> tuple[Photo, FiringEnd]:
    """A plug lying along x, firing end to the right, as photo and as the finder would mark it.

    Thread crests 1.25 mm apart with 0.7 mm deep roots; shell face at x = 700; centre tip 2 mm in front of it, strap above.
    """
    size = (1000, 700)
    part = np.zeros(size[::-1], np.uint8)
    x = np.arange(150, 700)
    depth = 0.35 * (1 + np.cos(2 * np.pi * (700 - x) / (PITCH_MM * PX_PER_MM)))
    middle = 350
    for column, d in zip(x, depth, strict=True):
        half = round((radius_mm - 0.7 + d) * PX_PER_MM)
        part[middle - half : middle + half, column] = PARTS.index("thread")
    face, tip = 700, 700 + int(2 * PX_PER_MM)
    strap = tip + round(gap_mm * PX_PER_MM)
    boxes = (
        ("rim", face, face + 6, middle - 180, middle + 180),
        ("nose", face + 6, face + 36, middle - 70, middle + 70),
        ("centre", face + 36, tip, middle - 36, middle + 36),
        ("strap", strap, strap + 40, middle - 170, middle + 40),
        ("strap", face + 6, strap, middle - 170, middle - 130),
    )
    for name, left, right, top, bottom in boxes:
        part[top:bottom, left:right] = PARTS.index(name)
    grey = np.array([205, 230, 120, 90, 140, 110, 0, 0, 0], np.uint8)[part]
    across = np.arcsin(np.clip((np.arange(size[1]) - middle) / (radius_mm * PX_PER_MM), -1, 1))[:, None]
    turns = np.cos(2 * np.pi * (700 - np.arange(size[0])) / (PITCH_MM * PX_PER_MM) - across)
    grey = np.where(part == PARTS.index("thread"), grey + 30 * turns, grey).astype(np.uint8)
    turn = cv2.getRotationMatrix2D((500, 350), turn_deg, 1.0)
    grey = cv2.warpAffine(cv2.GaussianBlur(grey, (0, 0), 0.8), turn, size, borderValue=205)
    part = cv2.warpAffine(part, turn, size, flags=cv2.INTER_NEAREST)
    noise = np.random.default_rng(1).normal(0, 2, (*size[::-1], 3))
    rgb = np.clip(grey[..., None] + noise, 0, 255).astype(np.uint8)
    small = (size[0] // STEP, size[1] // STEP)
    maps = np.stack([cv2.resize((part == k).astype(np.float32), small, interpolation=cv2.INTER_AREA) for k in range(len(PARTS))])
    end = FiringEnd((706, 280, 30, 140), "side", {"side": 1.0}, PartMap(maps, 0.0, 0.0, float(STEP)), {}, 1.0, 1.0)
    return Photo("drawn", rgb, 1, size, np.eye(3)), end


@pytest.mark.parametrize("gap_mm", [0.5, 0.8, 1.1, 1.6])
@pytest.mark.parametrize("turn_deg", [0.0, 17.0, -140.0])
def test_the_drawn_gap_is_found(gap_mm: float, turn_deg: float) -> None:
    """At any turn the gap is within 0.05 mm of the drawing and inside its own interval."""
    found, why = measure_gap(*drawn(gap_mm, turn_deg=turn_deg), SHARP)
    assert found is not None, why
    assert abs(found.value - gap_mm) <= min(0.05, found.spread)


def test_the_thread_gives_the_scale() -> None:
    """Ten turns of 1.25 mm give the drawing's 30 pixels per mm within 1 %."""
    plug = upright(*drawn(0.8, turn_deg=30.0))
    assert plug is not None
    assert thread_scale(plug).px_per_mm == pytest.approx(PX_PER_MM, rel=0.01)


def test_a_slim_thread_must_be_named() -> None:
    """A 12 mm thread could have either of two pitches: without its size the gap is refused, with it measured."""
    photo, end = drawn(0.8, radius_mm=6.0)
    found, why = measure_gap(photo, end, SHARP)
    assert found is None
    assert why is not None
    assert "say which" in why
    told, _ = measure_gap(photo, end, SHARP, "M12x1.25")
    assert told is not None
    assert told.value == pytest.approx(0.8, abs=0.05)


def test_a_strap_that_is_not_marked_gives_no_gap() -> None:
    """Without a cell that is likely strap there is nothing to measure to."""
    photo, end = drawn(0.8)
    end.parts.probability[PARTS.index("strap")] *= 0.4
    assert measure_gap(photo, end, SHARP) == (None, "strap and centre electrode are not both in view")


def unsure(edges_px: float) -> tuple[Photo, FiringEnd]:
    """The drawing with a strap marked at 0.7, seen with edges that wide."""
    photo, end = drawn(0.8)
    end.parts.probability[PARTS.index("strap")] *= 0.7
    photo.rgb[:, 701:] = cv2.GaussianBlur(photo.rgb[:, 701:], (0, 0), edges_px)
    return photo, end


def test_an_unsure_part_map_gives_no_gap_where_the_edges_are_soft() -> None:
    """A strap marked at 0.7 is not sure enough by itself."""
    assert measure_gap(*unsure(9.0), SHARP) == (
        None,
        "strap and centre electrode cannot be told apart surely enough here; use a wire gauge",
    )


def test_plain_edges_make_up_for_an_unsure_part_map() -> None:
    """The same strap with edges that stand out in the photo is measured, and right."""
    found, why = measure_gap(*unsure(0.5), SHARP)
    assert found is not None, why
    assert abs(found.value - 0.8) <= min(0.06, found.spread)


def test_a_thread_without_turns_in_front_gives_no_gap() -> None:
    """Where the crests cannot be followed the lean is not known, and a lean of some degrees hides a tenth of a millimetre."""
    photo, end = drawn(0.8)
    photo.rgb[140:560, 150:690] = np.random.default_rng(5).normal(140, 20, (420, 540, 3)).astype(np.uint8)
    found, why = measure_gap(photo, end, SHARP)
    assert found is None
    assert why is not None
    assert "turns cannot be counted" in why
    told, why = measure_gap(photo, end, SHARP, "M14x1.25")
    assert told is None
    assert why is not None
    assert "how far the plug leans" in why


def test_edges_that_cannot_be_seen_give_no_gap() -> None:
    """A perfect part map over a picture that shows nothing at the gap: no number, advice instead."""
    photo, end = drawn(0.8)
    photo.rgb[:, 701:] = np.random.default_rng(2).normal(128, 4, photo.rgb[:, 701:].shape).astype(np.uint8)
    found, why = measure_gap(photo, end, SHARP)
    assert found is None
    assert why is not None
    assert "hold plain white paper behind the gap" in why


def test_the_photo_corrects_the_map() -> None:
    """A strap marked 0.07 mm too near is put right by its edge in the photo."""
    photo, end = drawn(0.8)
    strap = end.parts.probability[PARTS.index("strap")]
    strap[:] = np.maximum(strap, np.roll(strap, -1, axis=1))
    found, _ = measure_gap(photo, end, SHARP)
    assert found is not None
    assert found.value == pytest.approx(0.8, abs=0.04)


def test_a_near_lens_sees_the_gap_from_another_side() -> None:
    """At 100 mm, 5 mm further out along the axis, the line of sight has turned by atan(5 / 100) = 2.86 degrees."""
    there = further_out(Tilt(1.0, 1.0), 5.0, (1 / 100, 0.0))
    assert there.degrees == pytest.approx(1.0 - 2.862, abs=0.001)


def test_the_lens_distance_unsettles_the_lean() -> None:
    """A distance known to 1/mm +- 0.002 adds twice 5 x 0.002 rad to the 95 % spread."""
    there = further_out(Tilt(0.0, 0.0), 5.0, (0.01, 0.002))
    assert there.spread == pytest.approx(2 * np.degrees(0.01), rel=0.01)


@pytest.mark.parametrize("metal_above", [True, False])
def test_an_edge_is_followed_between_pixels(*, metal_above: bool) -> None:
    """A slanting soft edge, expected 2 pixels off, is found within a fifth of a pixel in every column."""
    columns, rows = np.arange(60), np.arange(80)[:, None]
    true = 40 + 0.1 * columns
    side = -1 if metal_above else 1
    level = 0.3 + 0.4 / (1 + np.exp(-side * (rows - true[None]) / 0.8))
    picture = np.repeat(level[..., None], 3, axis=2).astype(np.float32)
    found = follow(picture, true + 2, true - 15 * side, reach_px=3.0, sigma_px=0.8)
    assert np.abs(found.rows - true).max() < 0.2


def test_blur_gives_no_gap() -> None:
    """Edges 0.2 mm wide are refused with the width found."""
    soft = Quality(blur_px=6.0, exposure=0.5, clipped_share=0.0, px_per_mm=None)
    found, why = measure_gap(*drawn(0.8), soft)
    assert found is None
    assert why is not None
    assert "0.20 mm wide" in why


def test_a_shut_gap_is_called_shut() -> None:
    """Strap touching centre: no number, the reason names it."""
    found, why = measure_gap(*drawn(0.0), SHARP)
    assert found is None
    assert why is not None
    assert "bridged, shut or hidden" in why
