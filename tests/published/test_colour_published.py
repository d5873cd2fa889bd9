"""Colour formulas against published numbers; the numbers stand in `colour/`, each file names its source."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from plugread import colour

DATA = Path(__file__).parent / "colour"


def _rows(name: str) -> list[list[str]]:
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return [line.split(",") for line in lines if line and not line.startswith("#")][1:]


PAIRS = np.array(_rows("ciede2000_pairs.csv"), float)
SRGB = np.array(_rows("srgb_values.csv"), float)
CHART = [(row[0], np.array(row[1:4], float), np.array(row[4:7], float)) for row in _rows("chart_24_patches.csv")]


@pytest.mark.parametrize("pair", PAIRS, ids=[f"pair{k + 1}" for k in range(len(PAIRS))])
def test_each_published_ciede2000_pair_is_met_to_its_last_digit(pair: np.ndarray) -> None:
    """Sharma, Wu, Dalal 2005, table 1: four printed decimals."""
    assert colour.delta_e_2000(pair[:3], pair[3:6]) == pytest.approx(pair[6], abs=0.5e-4)


def test_there_are_all_34_pairs() -> None:
    """The published table has 34 rows."""
    assert PAIRS.shape == (34, 7)


@pytest.mark.parametrize(("encoded", "linear", "tolerance"), SRGB)
def test_srgb_decoding_meets_known_values(encoded: float, linear: float, tolerance: float) -> None:
    """IEC 61966-2-1 transfer function at values worked out from its constants."""
    assert colour.srgb_decode(encoded) == pytest.approx(linear, abs=tolerance)


def test_the_matrix_rounds_to_the_standards_printed_one() -> None:
    """IEC 61966-2-1, 5.2, equation (8): four decimals, the last of which differs by one where the standard rounded early."""
    printed = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    assert np.abs(colour.srgb_to_xyz_matrix() - printed).max() < 1e-4


def test_bradford_from_d50_to_d65_meets_the_published_matrix() -> None:
    """Lindbloom, "Chromatic Adaptation", Bradford D50 -> D65, seven decimals (from memory)."""
    printed = [[0.9555766, -0.0230393, 0.0631636], [-0.0282895, 1.0099416, 0.0210077], [0.0122982, -0.0204830, 1.3299098]]
    d50 = [0.96422, 1.0, 0.82521]
    d65 = [0.95047, 1.0, 1.08883]
    assert np.abs(colour.adaptation_matrix(d50, d65) - printed).max() < 1e-6


@pytest.mark.parametrize(("name", "lab_d50", "lab_d65"), CHART, ids=[row[0] for row in CHART])
def test_chart_patches_adapt_to_d65(name: str, lab_d50: np.ndarray, lab_d65: np.ndarray) -> None:
    """24-patch chart, D50 -> D65 by Bradford as colour-science gives it, two decimals."""
    white = colour.xy_to_xyz((0.3457, 0.3585))
    moved = colour.adapt(colour.lab_to_xyz(lab_d50, white), white, colour.xy_to_xyz(colour.D65_XY))
    assert np.abs(colour.xyz_to_lab(moved) - lab_d65).max() < 0.02, name


def test_an_18_percent_card_has_lightness_49_5() -> None:
    """CIE 15, 8.2.1: L* of Y = 0.18 is 116 * cbrt(0.18) - 16 = 49.496."""
    assert colour.linear_srgb_to_lab([0.18] * 3)[0] == pytest.approx(49.496, abs=5e-4)
