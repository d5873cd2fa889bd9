"""Chances in words: one wording for the verdict, the causes and the report."""

from __future__ import annotations

import pytest

from plugread.chances import in_words
from plugread.diagnose.words import spoken


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.999, "almost certain"),
        (0.92, "about 9 in 10"),
        (0.76, "about 3 in 4"),
        (0.6, "about 3 in 5"),
        (0.5, "about 1 in 2"),
        (0.28, "about 3 in 10"),
        (0.14, "about 1 in 7"),
        (0.15, "about 1 in 7"),
        (0.05, "about 1 in 20"),
        (0.011, "about 1 in 90"),
        (0.002, "very unlikely"),
    ],
)
def test_a_chance_as_people_say_it(chance: float, words: str) -> None:
    """The nearest simple fraction; the verdict says the same with its figure."""
    assert in_words(chance) == words
    assert spoken(chance).startswith(words)


@pytest.mark.parametrize("percent", range(3, 97))
def test_the_words_are_near_the_figure(percent: int) -> None:
    """Between 3 and 97 of 100 the fraction lies within a quarter of the chance or of its opposite, or 2.6 of 100, of it."""
    count, _, of = in_words(percent / 100).removeprefix("about ").partition(" in ")
    off = abs(int(count) / int(of) - percent / 100)
    assert off <= max(0.25 * min(percent / 100, 1 - percent / 100), 0.026)
