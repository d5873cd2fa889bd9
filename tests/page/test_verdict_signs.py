"""The verdict's inks stay apart for every kind of colour sight, and its words can be read on its papers."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from plugread.colour import delta_e_2000, linear_srgb_to_lab, srgb_decode
from plugread.page import theme, words
from plugread.page.parts.verdict import bar

# Machado, Oliveira, Fernandes: A Physiologically-based Model for Simulation of Color Vision Deficiency, IEEE Transactions on
# Visualization and Computer Graphics 15 (2009), table 1, severity 1.0 (figures from memory).
SIGHTS = {
    "normal": [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
JUDGED = ("carry_on", "investigate", "do_not_run")


def linear(code: str) -> np.ndarray:
    return np.asarray(srgb_decode(np.array([int(code[k : k + 2], 16) for k in (1, 3, 5)]) / 255))


@pytest.mark.parametrize("sight", list(SIGHTS))
def test_inks_differ_for_every_sight(sight: str) -> None:
    """The three inks of a judgement are at least 20 CIELAB units apart under each simulated sight."""
    seen = {name: linear_srgb_to_lab(np.clip(np.array(SIGHTS[sight]) @ linear(theme.INK[name]), 0, 1)) for name in JUDGED}
    assert min(float(np.linalg.norm(seen[a] - seen[b])) for a, b in combinations(JUDGED, 2)) > 20
    assert min(float(delta_e_2000(seen[a], seen[b])) for a, b in combinations(JUDGED, 2)) > 10


@pytest.mark.parametrize("action", list(theme.INK))
def test_words_can_be_read_on_their_paper(action: str) -> None:
    """Ink on paper has a contrast of at least 4.5 to 1 (WCAG 2.2, 1.4.3)."""
    weights = np.array([0.2126, 0.7152, 0.0722])
    light, dark = (float(weights @ linear(code[action])) for code in (theme.PAPER, theme.INK))
    assert (light + 0.05) / (dark + 0.05) >= 4.5


def test_each_verdict_has_its_word_and_shape() -> None:
    """No two verdicts share a word or a shape class."""
    bars = {action: bar(action, "") for action in words.VERDICT}
    assert len(set(words.VERDICT.values())) == len(bars)
    assert all(action.replace("_", "-") in html for action, html in bars.items())
