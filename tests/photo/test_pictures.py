"""What is written of a photo: the nose mask, and the picture that explains what was found."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from plugread.errors import PhotoError
from plugread.photo.outlines import STYLES, dashes
from plugread.photo.pictures import EXPLAIN_SIDE_PX, OUTLINED, explained, explanation, write_mask
from plugread.records import PARTS, FiringEnd, PartMap, PhotoRead, PlugMeasures, PlugRead, Quality, Reading, White

WIDTH, HEIGHT = 800, 600


def plug(x: int, y: int) -> PlugRead:
    """A plug whose nose is a square of 40 px with its corner at (x, y), known to cells of 4 px."""
    chance = np.zeros((len(PARTS), HEIGHT // 4, WIDTH // 4), np.float32)
    chance[PARTS.index("nose"), y // 4 : y // 4 + 10, x // 4 : x // 4 + 10] = 1.0
    end = FiringEnd((x, y, 40, 40), "side", {"side": 1.0}, PartMap(chance, 0.0, 0.0, 4.0), {}, 0.9, 0.9)
    nothing = PlugMeasures(None, None, None, None, None, None, None, {})
    quality = Quality(1.0, 0.5, 0.0, 20.0)
    return PlugRead(Reading("unsure", None, {}, {}, None), nothing, quality, end, np.ones((40, 40), bool), (x, y, 40, 40))


def read_of(*plugs: PlugRead, lineup: bool = False) -> PhotoRead:
    """A photo read with these plugs."""
    return PhotoRead("photo.jpg", "unsure", None, (WIDTH, HEIGHT), None, plugs, lineup)


def plain() -> bytes:
    """A photo of the right size in one brownish colour."""
    return bytes(cv2.imencode(".jpg", np.full((HEIGHT, WIDTH, 3), (90, 110, 118), np.uint8))[1])


def mask_of(photo: PhotoRead, folder: Path) -> np.ndarray:
    """The mask as it lies on the disk."""
    write_mask(photo, folder / "photo.png")
    return np.asarray(cv2.imread(str(folder / "photo.png"), cv2.IMREAD_UNCHANGED))


def test_mask_of_one_plug_is_255_on_the_nose(tmp_path: Path) -> None:
    """The mask has the photo's upright size, 255 on the nose's pixels and 0 elsewhere."""
    expected = np.zeros((HEIGHT, WIDTH), np.uint8)
    expected[200:240, 100:140] = 255
    assert np.array_equal(mask_of(read_of(plug(100, 200)), tmp_path), expected)


def test_mask_of_a_row_counts_by_tens(tmp_path: Path) -> None:
    """In a line-up the nose of plug k is 10 x k."""
    mask = mask_of(read_of(plug(100, 200), plug(300, 200), plug(500, 200), lineup=True), tmp_path)
    assert [int(mask[220, x]) for x in (120, 320, 520)] == [10, 20, 30]


def test_mask_of_a_photo_without_a_plug_is_empty(tmp_path: Path) -> None:
    """A refused photo that could be opened gets a mask of zeros."""
    assert not mask_of(read_of(), tmp_path).any()


def test_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    """A mask that cannot be written is an error that names the file and what to do."""
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(PhotoError, match=r"photo\.png.*choose a folder you may write to"):
        write_mask(read_of(plug(100, 200)), tmp_path / "file" / "photo.png")


def test_nose_is_outlined_where_it_is() -> None:
    """The nose's outline, in its own ink, lies on the edge of the square, to within half a cell."""
    drawn = explanation(plain(), read_of(plug(400, 200))).astype(int)
    factor = EXPLAIN_SIDE_PX / WIDTH
    rows, columns = np.nonzero(
        (np.abs(drawn - STYLES["nose"].ink).sum(-1) < 60) & (np.arange(drawn.shape[1]) > EXPLAIN_SIDE_PX // 4)
    )
    edges = np.array([columns.min(), columns.max(), rows.min(), rows.max()]) / factor
    assert np.allclose(edges, (400, 440, 200, 240), atol=3)


def test_lines_told_are_those_drawn() -> None:
    """Of a plug whose nose alone is sure only the nose is told, where it is; a reference is told with its box."""
    found = explained(plain(), read_of(plug(400, 200))).lines
    assert [one.name for one in found] == ["nose"]
    assert np.allclose(found[0].box, (400, 200, 40, 40), atol=4)
    white = White("paper", "white paper", np.ones(3), np.ones(3), np.eye(3), True, (2.0, 1.0, 1.0), (50, 60, 200, 100))
    found = explained(plain(), replace(read_of(plug(400, 200)), white=white)).lines
    assert [one.name for one in found] == ["nose", "reference"]
    assert np.allclose(found[1].box, (50, 60, 200, 100), atol=1)


def test_picture_of_the_page_has_no_key_on_it() -> None:
    """The page's picture shows the photo where the file written by the command has its key."""
    photo = read_of(plug(400, 200))
    page = np.asarray(cv2.imdecode(np.frombuffer(explained(plain(), photo).picture, np.uint8), cv2.IMREAD_COLOR)).astype(int)
    written = explanation(plain(), photo)[..., ::-1].astype(int)
    corner = (slice(-30, None), slice(None, 60))
    assert np.abs(page[corner] - (90, 110, 118)).max() < 12
    assert np.abs(written[corner] - (90, 110, 118)).max() > 50


def test_outlines_differ_without_colour() -> None:
    """No two parts are outlined with the same dashes."""
    assert len({STYLES[name].dash for name in OUTLINED}) == len(OUTLINED)


def test_dashes_are_drawn_and_left_out_in_turn() -> None:
    """Six drawn, three left out, over a corner too: the pieces cover two thirds of the way, with gaps of three between."""
    path = np.array([[0, 0], [90, 0], [90, 90]], np.int32)
    pieces = dashes(path, [6, 3])
    assert len(pieces) == 20 and all(len(piece) == 6 for piece in pieces)
    first, second = pieces[:2]
    assert first.tolist() == [[x, 0] for x in range(6)] and second[0].tolist() == [9, 0]


def test_explaining_picture_has_the_photo_s_shape() -> None:
    """The explaining picture is as wide to high as the photo, its longest side 1600 px."""
    assert explanation(plain(), read_of(plug(100, 200))).shape == (EXPLAIN_SIDE_PX * HEIGHT // WIDTH, EXPLAIN_SIDE_PX, 3)
