"""The order of plugs in a row, and counting each once."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from plugread.photo.doubt import Doubt
from plugread.photo.firing_end import Candidate
from plugread.photo.lineup import counted_once, empty_places, in_order, nose_centre, plugs_of_row
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


def plug(x: float, *, score: float = 0.9, doubt: str | None = None, reach: float = 60.0, a_plug: bool = True) -> Candidate:
    """Return a candidate whose nose lies at x, with a doubt that leaves it a plug (or not)."""
    found = end((round(x) - 10, 90, 20, 20), score)
    return Candidate(found, Doubt(doubt, a_plug=a_plug) if doubt else None, (x, 100.0), reach)


def test_one_plug_found_twice_counts_once() -> None:
    """Two finds about the same nose are one plug, and the surer one stays."""
    (kept,) = counted_once([plug(100, score=0.6), plug(104, score=0.8)])
    assert kept.end is not None
    assert kept.end.score == 0.8


def test_believed_find_stays_before_a_doubted_one() -> None:
    """Of two finds of one plug the believed one stays, whatever their scores."""
    (kept,) = counted_once([plug(100, score=0.9, doubt="disagree"), plug(104, score=0.5)])
    assert kept.doubt is None


def test_neighbours_are_not_merged() -> None:
    """Plugs that lie side by side, as far apart as their firing ends are wide, stay two plugs."""
    assert len(counted_once([plug(100), plug(160)])) == 2


def test_doubted_plug_counts_in_company() -> None:
    """Between two believed plugs of its size a doubted one is the middle of three."""
    row = plugs_of_row([plug(100), plug(300), plug(200, doubt="disagree", score=0.2)], None)
    assert [e.nose_box[0] for e in row] == [90, 190, 290]


def test_doubted_plug_alone_does_not_count() -> None:
    """Beside one believed plug, nothing said of a row, a doubted find is left out."""
    assert len(plugs_of_row([plug(100), plug(200, doubt="disagree")], None)) == 1


def test_a_known_number_calls_for_the_doubted() -> None:
    """Where two plugs are expected and one is believed, the doubted find is the other; where one is expected it is not."""
    found = [plug(100), plug(200, doubt="disagree")]
    assert [len(plugs_of_row(found, n)) for n in (1, 2)] == [1, 2]


def test_no_more_doubted_plugs_than_are_missing() -> None:
    """Of two doubted finds only the one nearer to the others' size fills the one place that is missing."""
    found = [plug(100), plug(200), plug(300, doubt="disagree", reach=90), plug(400, doubt="disagree", reach=62)]
    assert [e.nose_box[0] for e in plugs_of_row(found, 3)] == [90, 190, 390]


def test_company_must_be_of_like_size() -> None:
    """A doubted find three times as large as the plugs beside it is none of them."""
    assert len(plugs_of_row([plug(100), plug(200), plug(500, doubt="disagree", reach=180)], None)) == 2


def test_what_is_no_plug_is_not_counted() -> None:
    """A find doubted because it is no plug at all is left out in any company."""
    assert len(plugs_of_row([plug(100), plug(200), plug(300, doubt="no shell", a_plug=False)], None)) == 2


def test_nothing_believed_is_no_row() -> None:
    """Doubted finds alone are no row, unless they are as many as are known to lie there."""
    found = [plug(100, doubt="disagree"), plug(200, doubt="disagree")]
    assert [len(plugs_of_row(found, n)) for n in (None, 2, 3)] == [0, 2, 0]


def test_row_has_room_where_a_plug_is_missing() -> None:
    """Plugs at 100, 200, 400, 500 leave room at 300, and one step beyond either end (600; 0 is no longer in the picture)."""
    places = empty_places([plug(100), plug(200), plug(400), plug(500)], (200, 640))
    assert sorted(round(x) for x, _, _ in places) == [300, 600]


def test_two_plugs_do_not_show_how_a_row_runs() -> None:
    """With two plugs nothing is known of the steps of a row."""
    assert empty_places([plug(100), plug(200)], (200, 640)) == []


def test_nose_centre_is_the_middle_of_the_box() -> None:
    """(10, 20, 30, 40) has its middle at (25, 40): 10 + 30 / 2 and 20 + 40 / 2."""
    assert nose_centre(end((10, 20, 30, 40))) == (25.0, 40.0)
