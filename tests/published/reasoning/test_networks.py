"""Small networks in print, to their printed digits."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product

import numpy as np
import pytest

from tests.published.reasoning.sums import Published, strength


@pytest.mark.parametrize(
    ("cold", "flu", "malaria", "fever"),
    [(0, 0, 1, 0.9), (0, 1, 0, 0.8), (0, 1, 1, 0.98), (1, 0, 0, 0.4), (1, 0, 1, 0.94), (1, 1, 0, 0.88), (1, 1, 1, 0.988)],
)
def test_fever_table(cold: int, flu: int, malaria: int, fever: float) -> None:
    """Noisy-OR with inhibitions 0.6, 0.2, 0.1 (Russell and Norvig, Artificial Intelligence, chapter 14, table of fever)."""
    roots = dict.fromkeys(("cold", "flu", "malaria"), 0.5)
    net = Published(roots, {"fever": (0.0, {"cold": 0.4, "flu": 0.8, "malaria": 0.9})})
    state = {"cold": bool(cold), "flu": bool(flu), "malaria": bool(malaria)}
    assert net.chance({**state, "fever": True}) / net.chance(state) == pytest.approx(fever, abs=1e-12)


# ---- chest clinic: Lauritzen and Spiegelhalter 1988, J. R. Statist. Soc. B 50 ---------------------------------


def clinic() -> Published:
    return Published(
        {"asia": 0.01, "smoke": 0.5},
        {
            "tub": (0.01, {"asia": strength(0.01, 0.05)}),
            "lung": (0.01, {"smoke": strength(0.01, 0.1)}),
            "bronc": (0.3, {"smoke": strength(0.3, 0.6)}),
        },
    )


def clinic_table(xray: bool | None, dyspnoea: bool | None):
    def chance(values: Mapping[str, bool]) -> float:
        either = values["tub"] or values["lung"]
        shadow = 0.98 if either else 0.05
        breathless = {(True, True): 0.9, (True, False): 0.7, (False, True): 0.8, (False, False): 0.1}[either, values["bronc"]]
        return _of(shadow, xray) * _of(breathless, dyspnoea)

    return chance


def _of(chance: float, seen: bool | None) -> float:
    return 1.0 if seen is None else chance if seen else 1.0 - chance


def clinic_by_hand(asia: bool | None, smoke: bool | None, xray: bool | None, dyspnoea: bool | None) -> np.ndarray:
    """Evidence and joint chances of tub, lung, bronc from the full joint table."""
    table = clinic_table(xray, dyspnoea)
    sums = np.zeros(4)
    for a, s, tub, lung, bronc in product((False, True), repeat=5):
        if (asia is None or a == asia) and (smoke is None or s == smoke):
            weight = _of(0.01, a) * 0.5 * _of(0.05 if a else 0.01, tub) * _of(0.1 if s else 0.01, lung)
            weight *= _of(0.6 if s else 0.3, bronc) * table({"tub": tub, "lung": lung, "bronc": bronc})
            sums += weight * np.array([1.0, tub, lung, bronc])
    return sums


def test_chest_clinic_every_evidence() -> None:
    """All 81 combinations of visit, smoking, X-ray and dyspnoea known or not agree with the joint table to 1e-12."""
    net = clinic()
    for asia, smoke, xray, dyspnoea in product((None, False, True), repeat=4):
        known = {name: value for name, value in (("asia", asia), ("smoke", smoke)) if value is not None}
        total, chances = net.with_table(known, clinic_table(xray, dyspnoea))
        wanted = clinic_by_hand(asia, smoke, xray, dyspnoea)
        assert total == pytest.approx(wanted[0], abs=1e-12)
        assert list(chances.values()) == pytest.approx(list(wanted[1:] / wanted[0]), abs=1e-12)


def test_chest_clinic_printed_digits() -> None:
    """Marginals 0.0104, 0.055, 0.45; X-ray 0.11029; dyspnoea 0.43597 (the model's published tables)."""
    net = clinic()
    _, chances = net.with_table({}, clinic_table(None, None))
    assert [chances["tub"], chances["lung"], chances["bronc"]] == pytest.approx([0.0104, 0.055, 0.45], abs=5e-5)
    assert net.with_table({}, clinic_table(True, None))[0] == pytest.approx(0.11029, abs=5e-6)
    assert net.with_table({}, clinic_table(None, True))[0] == pytest.approx(0.43597, abs=5e-6)


def test_chest_clinic_visit_and_dyspnoea() -> None:
    """After a visit and with dyspnoea: 0.0878, 0.0995, 0.8114 (digits from memory, recomputed from the joint table)."""
    _, chances = clinic().with_table({"asia": True}, clinic_table(None, True))
    assert list(chances.values()) == pytest.approx([0.0878, 0.0995, 0.8114], abs=5e-5)


# ---- two textbook networks -----------------------------------------------------------------------------------


def test_sprinkler() -> None:
    """Wet 0.6471; sprinkler given wet 0.4298, rain 0.7079; sprinkler given wet and rain 0.1945 (Murphy, from memory)."""
    # Roots and children turned so that each child rises with its root: clear sky -> sprinkler, clear sky -> no rain.
    net = Published(
        {"clear": 0.5}, {"sprinkler": (0.1, {"clear": strength(0.1, 0.5)}), "no_rain": (0.2, {"clear": strength(0.2, 0.8)})}
    )

    def wet(values: Mapping[str, bool]) -> float:
        return {(True, True): 0.99, (True, False): 0.9, (False, True): 0.9, (False, False): 0.0}[
            values["sprinkler"], not values["no_rain"]
        ]

    total, chances = net.with_table({}, wet)
    assert total == pytest.approx(0.6471, abs=5e-5)
    assert chances["sprinkler"] == pytest.approx(0.4298, abs=5e-5)
    assert 1.0 - chances["no_rain"] == pytest.approx(0.7079, abs=5e-5)
    assert net.with_table({"no_rain": False}, wet)[1]["sprinkler"] == pytest.approx(0.1945, abs=5e-5)


def test_burglary_alarm() -> None:
    """Burglary when both neighbours call: 0.2842 (Russell and Norvig, chapter 14; from memory, recomputed)."""
    net = Published({"burglary": 0.001, "quake": 0.002}, {"b": (0.0, {"burglary": 1.0}), "e": (0.0, {"quake": 1.0})})

    def both_call(values: Mapping[str, bool]) -> float:
        alarm = {(True, True): 0.95, (True, False): 0.94, (False, True): 0.29, (False, False): 0.001}[values["b"], values["e"]]
        return alarm * 0.9 * 0.7 + (1.0 - alarm) * 0.05 * 0.01

    assert net.with_table({}, both_call)[1]["b"] == pytest.approx(0.2842, abs=5e-5)
