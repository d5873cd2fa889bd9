"""The page's own charts: round numbers on the axes, everything inside the frame, names made safe."""

from __future__ import annotations

import re

import pytest

from plugread.page.parts.charts import HEIGHT, WIDTH, Axis, Bar, Dot, bars, dots, round_step

X, Y = Axis("a*", 20.0), Axis("b*", 20.0)


@pytest.mark.parametrize(
    ("about", "step"), [(1.0, 1.0), (1.2, 2.0), (3.0, 5.0), (6.0, 10.0), (0.07, 0.1), (0.02, 0.02), (40.0, 50.0)]
)
def test_steps_are_round(about: float, step: float) -> None:
    """The step between marks is the next 1, 2 or 5 times a power of ten."""
    assert round_step(about) == pytest.approx(step)


def test_every_dot_lies_inside() -> None:
    """Dots and their ranges lie inside the drawing, however far apart or close together."""
    for points in ([Dot(0, 0)], [Dot(-60, 3, 9, 9, "1"), Dot(90, 80, 5, 5, "2")], [Dot(5, 5.001), Dot(5, 5)]):
        drawn = dots(points, X, Y)
        for x, y in re.findall(r'cx="([\d.-]+)" cy="([\d.-]+)"', drawn):
            assert 0 < float(x) < WIDTH and 0 < float(y) < HEIGHT
        for number in re.findall(r"[MHV]([\d.-]+)", drawn):
            assert 0 <= float(number) <= WIDTH


def test_larger_values_stand_further_right_and_up() -> None:
    """A larger a* lies to the right, a larger b* above."""
    low, high = re.findall(r'cx="([\d.]+)" cy="([\d.]+)"', dots([Dot(1, 1), Dot(5, 9)], X, Y))
    assert float(low[0]) < float(high[0]) and float(low[1]) > float(high[1])


def test_a_bar_ends_where_its_chance_is() -> None:
    """Nought lies at the first mark, one at the last, a half in the middle."""
    at = [
        float(x) for x in re.findall(r'cx="([\d.]+)"', bars([Bar("a", 0.0, 0, 0), Bar("b", 0.5, 0.4, 0.6), Bar("c", 1.0, 1, 1)]))
    ]
    assert at[1] == pytest.approx((at[0] + at[2]) / 2)


def test_names_are_made_safe() -> None:
    """A name cannot bring its own marks into the drawing."""
    assert "<b>" not in bars([Bar("<b>", 0.5, 0.5, 0.5)]) and "<i>" not in dots([Dot(1, 1, label="<i>")], X, Y)
