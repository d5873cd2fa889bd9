"""The order of plugs in a row, and counting each once."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from plugread.photo.lineup import counted_once, in_order, nose_centre
from plugread.records import Box, FiringEnd, PartMap


def end(box: Box, score: float = 0.9) -> FiringEnd:
    parts = PartMap(np.zeros((9, 2, 2), np.float32), 0.0, 0.0, 1.0)
    return FiringEnd(box, "side", {"side": 1.0}, parts, {}, score=score, agreement=1.0)


def test_lying_row_reads_from_left_to_right() -> None:
    """A row that is wider than high is read from the left."""
    row = [end((300, 20, 10, 10)), end((10, 40, 10, 10)), end((150, 0, 10, 10))]
    assert [e.nose_box[0] for e in in_order(row)] == [10, 150, 300]


def test_standing_row_reads_from_top_to_bottom() -> None:
    """A row that is higher than wide is read from the top."""
    row = [end((20, 300, 10, 10)), end((40, 10, 10, 10)), end((0, 150, 10, 10))]
    assert [e.nose_box[1] for e in in_order(row)] == [10, 150, 300]


@given(st.permutations(range(6)))
def test_order_does_not_depend_on_the_order_found(found: list[int]) -> None:
    """However the finds are shuffled, the row comes back the same."""
    ordered = in_order([end((100 * k, 3 * k, 20, 20)) for k in found])
    assert [e.nose_box[0] for e in ordered] == [0, 100, 200, 300, 400, 500]


def test_one_plug_found_twice_counts_once() -> None:
    """Two boxes about the same nose are one plug, and the surer find stays."""
    (kept,) = counted_once([end((100, 100, 40, 60), 0.6), end((104, 98, 38, 60), 0.8)])
    assert kept.score == 0.8


def test_neighbours_are_not_merged() -> None:
    """Noses that lie side by side without overlap stay two plugs."""
    assert len(counted_once([end((100, 100, 40, 60)), end((145, 100, 40, 60))])) == 2


def test_nose_centre_is_the_middle_of_the_box() -> None:
    """(10, 20, 30, 40) has its middle at (25, 40): 10 + 30 / 2 and 20 + 40 / 2."""
    assert nose_centre(end((10, 20, 30, 40))) == (25.0, 40.0)
