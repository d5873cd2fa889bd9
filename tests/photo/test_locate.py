"""The finder's own logic, with a net that always knows (`tests/photo/oracle.py`) on drawn label pictures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plugread.errors import PhotoError
from plugread.photo.locate import Locator
from plugread.records import PARTS, FiringEnd
from tests.photo.oracle import CENTRE, HEX, NOSE, RIM, STRAP, THREAD, Oracle, coded

Labels = tuple[np.ndarray, np.ndarray]

SIZE = (480, 640)


def blank(size: tuple[int, int] = SIZE) -> Labels:
    return np.zeros(size, np.int64), np.zeros(size, np.int64)


def draw_plug(labels: Labels, x: int, y: int, number: int, *, scale: float = 1.0, without: tuple[int, ...] = ()) -> None:
    """Draw a plug seen from the side, firing end up: nose middle at (x, y); at scale 1 the nose is 24 px wide and 30 high."""
    blocks = (
        (HEX, -45, 90, 45, 130), (THREAD, -32, 35, 32, 90), (RIM, -30, 15, 30, 35), (NOSE, -12, -15, 12, 15),
        (CENTRE, -5, -24, 5, -15), (STRAP, -30, -44, 8, -34), (STRAP, -30, -34, -22, 15),
    )  # fmt: skip
    parts, plug = labels
    for part, x0, y0, x1, y1 in blocks:
        if part not in without:
            rows = slice(max(round(y + y0 * scale), 0), max(round(y + y1 * scale), 0))
            columns = slice(max(round(x + x0 * scale), 0), max(round(x + x1 * scale), 0))
            parts[rows, columns], plug[rows, columns] = part, number


def nose_iou(end: FiringEnd, labels: Labels, number: int) -> float:
    """Return the overlap of the returned nose with the drawn one, on the picture's pixels."""
    truth = (labels[0] == NOSE) & (labels[1] == number)
    rows, columns = np.mgrid[: truth.shape[0], : truth.shape[1]] + 0.5
    cells = end.parts.probability[NOSE]
    r = np.floor((rows - end.parts.y0) / end.parts.step).astype(int)
    c = np.floor((columns - end.parts.x0) / end.parts.step).astype(int)
    inside = (r >= 0) & (c >= 0) & (r < cells.shape[0]) & (c < cells.shape[1])
    found = np.zeros(truth.shape, bool)
    found[inside] = cells[r[inside], c[inside]] > 0.5
    return float((found & truth).sum() / (found | truth).sum())


@pytest.mark.parametrize("scale", [0.4, 1.0, 2.2])
def test_nose_found_at_any_size(scale: float) -> None:
    """A plug is found and its nose marked on the right pixels whether it fills a tenth of the picture or nearly all of it."""
    labels = blank()
    draw_plug(labels, 300, 180, 1, scale=scale)
    (end,) = Locator(Oracle(), "fine").locate(coded(*labels))
    assert nose_iou(end, labels, 1) > (0.85 if scale >= 1 else 0.75)  # a nose of 10 x 12 px loses a tenth with one row of pixels


def test_upright_picture_needs_no_turning() -> None:
    """The same plug in an upright picture is found as well as in a lying one."""
    labels = blank((640, 480))
    draw_plug(labels, 200, 300, 1)
    (end,) = Locator(Oracle(), "quick").locate(coded(*labels))
    assert nose_iou(end, labels, 1) > 0.85


def test_nose_box_is_in_picture_pixels() -> None:
    """The nose box is the drawn nose, to within three pixels a side."""
    labels = blank()
    draw_plug(labels, 300, 180, 1)
    (end,) = Locator(Oracle(), "fine").locate(coded(*labels))
    assert np.allclose(end.nose_box, (288, 165, 24, 30), atol=3)


def test_row_is_returned_from_left_to_right() -> None:
    """Five plugs in a row come back in the order in which they lie, each once."""
    labels = blank()
    places = (80, 200, 320, 440, 560)
    for number, x in enumerate(places, 1):
        draw_plug(labels, x, 200, number, scale=0.8)
    ends = Locator(Oracle(), "fine").locate(coded(*labels), expected=5)
    assert [round(end.nose_box[0] + end.nose_box[2] / 2, -1) for end in ends] == list(places)


def test_touching_plugs_are_told_apart() -> None:
    """Two plugs whose shells touch are two plugs."""
    labels = blank()
    draw_plug(labels, 280, 200, 1)
    draw_plug(labels, 345, 200, 2)
    assert len(Locator(Oracle(), "fine").locate(coded(*labels))) == 2


@pytest.mark.parametrize("plugs", [1, 2, 4])
@pytest.mark.parametrize("scale", [0.5, 1.0])
def test_wandering_votes_do_not_change_the_count(plugs: int, scale: float) -> None:
    """Votes that miss the nose centre by 15 % of the firing end's size neither split a plug nor merge two."""
    labels = blank()
    for number in range(1, plugs + 1):
        draw_plug(labels, 640 * number // (plugs + 1), 200, number, scale=scale)
    assert len(Locator(Oracle(wander=0.15), "fine").locate(coded(*labels))) == plugs


def test_map_of_one_plug_leaves_out_its_neighbour() -> None:
    """In the map of one plug of a pair the other's nose is background."""
    labels = blank()
    draw_plug(labels, 280, 200, 1)
    draw_plug(labels, 345, 200, 2)
    ends = Locator(Oracle(), "fine").locate(coded(*labels))
    assert [nose_iou(end, labels, number) > 0.85 for number, end in enumerate(ends, 1)] == [True, True]


def test_plug_cut_by_the_edge_is_found() -> None:
    """Half a firing end at the picture's edge is found, and nothing is marked beyond the edge."""
    labels = blank()
    draw_plug(labels, 8, 200, 1)
    (end,) = Locator(Oracle(), "fine").locate(coded(*labels))
    columns = end.parts.x0 + (np.arange(end.parts.probability.shape[2]) + 0.5) * end.parts.step
    assert end.parts.probability[1:, :, columns < 0].max() == 0.0


def test_map_reaches_over_the_thread() -> None:
    """The closer look ends within the thread, but the map shows the thread to its end, and nothing of a plug beside it."""
    labels = blank()
    draw_plug(labels, 200, 100, 1)
    draw_plug(labels, 270, 100, 2)
    end = Locator(Oracle(), "fine").locate(coded(*labels))[0]
    row = int((185 - end.parts.y0) / end.parts.step)
    here, beside = (int((x - end.parts.x0) / end.parts.step) for x in (200, 270))
    assert end.parts.probability[THREAD, row, here] > 0.5
    assert end.parts.probability[THREAD, row, beside] < 0.5


def test_probabilities_sum_to_one() -> None:
    """Every cell's parts sum to one, beyond the edge as well."""
    labels = blank()
    draw_plug(labels, 8, 200, 1)
    (end,) = Locator(Oracle(), "fine").locate(coded(*labels))
    assert np.allclose(end.parts.probability.sum(0), 1.0, atol=1e-5)


def test_key_points_lie_in_picture_pixels() -> None:
    """The centre tip comes back where the centre electrode was drawn."""
    labels = blank()
    draw_plug(labels, 300, 180, 1)
    (end,) = Locator(Oracle(), "fine").locate(coded(*labels))
    assert np.allclose(end.key_points["centre_tip"][:2], (300, 160.5), atol=2)


def test_box_limits_the_search() -> None:
    """With a box only the plug inside it is returned, in pixels of the whole picture."""
    labels = blank()
    draw_plug(labels, 150, 180, 1)
    draw_plug(labels, 450, 180, 2)
    (end,) = Locator(Oracle(), "fine").locate(coded(*labels), box=(340, 80, 250, 250))
    assert nose_iou(end, labels, 2) > 0.85


def test_missed_plugs_are_looked_for_more_finely() -> None:
    """When fewer plugs are found than expected, a second, finer first look is taken."""
    labels = blank()
    draw_plug(labels, 300, 180, 1)
    oracle = Oracle()
    Locator(oracle, "fine").locate(coded(*labels), expected=2)
    assert max(width for width, _ in oracle.asked) > oracle.asked[0][0]


@pytest.mark.parametrize(
    ("without", "reason"),
    [
        ((NOSE,), "no insulator nose"),
        ((CENTRE, STRAP, RIM), "no plug|neither strap nor shell"),
        ((NOSE, CENTRE, STRAP, RIM, THREAD), "only the upper end"),
    ],
)
def test_what_does_not_hang_together_is_refused(without: tuple[int, ...], reason: str) -> None:
    """Without a nose, without neighbours of the nose, or without the firing end the picture is refused, each with its reason."""
    labels = blank()
    draw_plug(labels, 300, 180, 1, without=without)
    with pytest.raises(PhotoError, match=reason):
        Locator(Oracle(), "fine").locate(coded(*labels))


def test_large_plain_body_is_no_nose() -> None:
    """A white cylinder with a collar, most of it marked as nose, is refused: a nose is small beside its metal."""
    labels = blank()
    labels[0][100:340, 220:340], labels[1][100:340, 220:340] = NOSE, 1
    labels[0][340:380, 210:350], labels[1][340:380, 210:350] = RIM, 1
    with pytest.raises(PhotoError, match="too large and plain"):
        Locator(Oracle(), "fine").locate(coded(*labels))


def test_empty_picture_is_refused() -> None:
    """A picture of nothing is refused with what to do instead."""
    with pytest.raises(PhotoError, match=r"no plug found.*fill a third"):
        Locator(Oracle(), "fine").locate(coded(*blank()))


@pytest.mark.parametrize(("quality", "reason"), [("blurred", "blurred"), ("blown_out", "too bright"), ("too_dark", "too dark")])
def test_spoiled_picture_is_refused(quality: str, reason: str) -> None:
    """A picture that the net calls spoiled is refused even where it shows a plug."""
    labels = blank()
    draw_plug(labels, 300, 180, 1)
    with pytest.raises(PhotoError, match=reason):
        Locator(Oracle(quality=quality), "fine").locate(coded(*labels))


def test_unsure_net_is_not_believed() -> None:
    """A nose that is only more likely than not is refused, with the certainty found and the one needed."""
    labels = blank()
    draw_plug(labels, 300, 180, 1)
    with pytest.raises(PhotoError, match=r"certainty 0\.5.*0\.55"):
        Locator(Oracle(sure=0.52), "fine").locate(coded(*labels))


class Fickle(Oracle):
    """Sees no nose in every second crop."""

    def answer(self, rgb, size):  # type: ignore[no-untyped-def]
        seen = super().answer(rgb, size)
        if len(self.asked) % 2 == 0:
            return seen
        parts = seen.parts.copy()
        parts[[NOSE, RIM]] = parts[[RIM, NOSE]]
        return replace(seen, parts=parts)


def test_looks_that_disagree_are_not_believed() -> None:
    """When the plain and the mirrored look mark different noses the find is refused."""
    labels = blank()
    draw_plug(labels, 300, 180, 1)
    with pytest.raises(PhotoError, match=r"cannot be told|disagree|no insulator nose"):
        Locator(Fickle(), "fine").locate(coded(*labels))


def test_part_channels_are_those_of_the_records() -> None:
    """A returned map has one channel for each part of the records."""
    labels = blank()
    draw_plug(labels, 300, 180, 1)
    (end,) = Locator(Oracle(), "fine").locate(coded(*labels))
    assert end.parts.probability.shape[0] == len(PARTS)


@pytest.mark.parametrize(("expected", "looks"), [(None, 2), (1, 2), (4, 3), (6, 2)])
def test_only_rows_are_looked_at_a_third_time(expected: int | None, looks: int) -> None:
    """An empty large picture costs one plug two whole looks; a row gets the finest as well, a long row starts with the second."""
    net = Oracle()
    with pytest.raises(PhotoError):
        Locator(net, "fine").locate(coded(*blank((1440, 1920))), expected=expected)
    assert len(net.asked) == looks
