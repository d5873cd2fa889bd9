"""Probabilities in words: "about 3 in 5", never a bare decimal."""

from __future__ import annotations

ALMOST = 0.97
"""Above this (or below one minus this) a count out of ten would mislead."""


def in_words(probability: float) -> str:
    """Return a chance as people say it, e.g. "about 3 in 5" for 0.61.

    Parameters
    ----------
    probability : 0 to 1.
    """
    if probability > ALMOST:
        return "almost certain"
    if probability < 0.005:
        return "very unlikely"
    if probability < 1 - ALMOST:
        return f"about 1 in {_round_number(1 / probability)}"
    numerator, denominator = min(_fractions(), key=lambda f: abs(f[0] / f[1] - probability))
    return f"about {numerator} in {denominator}"


def _fractions() -> list[tuple[int, int]]:
    said = (2, 3, 4, 5, 6, 8, 10, 20)
    return [*((1, n) for n in (*said, 7, 15, 30)), *((n - 1, n) for n in said), (2, 5), (3, 5), (3, 10), (7, 10)]


def _round_number(value: float) -> int:
    step = 10 if value < 100 else 50
    return int(step * max(1, round(value / step)))
