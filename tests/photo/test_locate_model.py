"""The shipped nets and their card, and what happens when they are damaged."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from plugread.errors import ModelError, PhotoError
from plugread.photo.locate import Kind, load_locator
from plugread.photo.part_net import Answer, load_net, shipped_nets
from plugread.records import KEY_POINTS, PARTS
from plugread.resources import models_dir, samples_dir

SHIPPED = models_dir() / "locator"
shipped = pytest.mark.skipif(not (SHIPPED / "card.json").is_file(), reason="the nets have not been trained yet")

KINDS: tuple[Kind, ...] = ("fine", "quick")

REASONS = r"no plug|upper end|not look like|no insulator|neither|no shell|cannot be told|disagree|too (bright|dark)|blurred"


def folder_with(tmp_path: Path, data: bytes, **changes: object) -> Path:
    """Write a model folder whose card fits `data`, but for `changes`."""
    card = {
        "dense": {"parts": PARTS, "heats": (*KEY_POINTS, "nose_centre")},
        "nets": {"fine": {"file": "fine.onnx", "sha256": hashlib.sha256(data).hexdigest()}},
    }
    (tmp_path / "card.json").write_text(json.dumps(card | changes))
    (tmp_path / "fine.onnx").write_bytes(data)
    return tmp_path


def test_damaged_weights_are_refused(tmp_path: Path) -> None:
    """Weights that are not those of the card are not loaded."""
    folder = folder_with(tmp_path, b"weights")
    (folder / "fine.onnx").write_bytes(b"other")
    with pytest.raises(ModelError, match="not those of its card; install the package again"):
        load_net(folder, "fine")


def test_missing_net_is_named(tmp_path: Path) -> None:
    """A card that lists no net is an error that names the net asked for and the folder."""
    with pytest.raises(ModelError, match=r"locator 'quick' in .* could not be read"):
        load_net(folder_with(tmp_path, b"weights", nets={}), "quick")


def test_foreign_parts_are_refused(tmp_path: Path) -> None:
    """A net that tells other parts apart than the program knows is not used."""
    dense = {"parts": ("background", "wheel"), "heats": KEY_POINTS}
    with pytest.raises(ModelError, match="other parts apart"):
        load_net(folder_with(tmp_path, b"weights", dense=dense), "fine")


def test_mirroring_twice_changes_nothing() -> None:
    """An answer mirrored twice is itself, and mirroring turns the offsets' x about."""
    rng = np.random.default_rng(3)
    maps = (rng.random((n, 4, 6)).astype(np.float32) for n in (9, 5, 2))
    answer = Answer(*maps, {"side": 1.0}, {"fine": 1.0})
    assert np.array_equal(answer.mirrored().mirrored().offsets, answer.offsets)
    assert np.array_equal(answer.mirrored().offsets[0], -answer.offsets[0, :, ::-1])


@shipped
@pytest.mark.parametrize("kind", shipped_nets(SHIPPED))
def test_shipped_net_answers_in_probabilities(kind: Kind) -> None:
    """Each shipped net loads, and its parts, views and qualities each sum to one."""
    answer = load_net(SHIPPED, kind).answer(np.full((96, 128, 3), 128, np.uint8), (128, 96))
    assert np.allclose(answer.parts.sum(0), 1, atol=1e-4)
    assert np.isclose([sum(answer.views.values()), sum(answer.qualities.values())], 1, atol=1e-4).all()


@shipped
def test_shipped_nets_are_small() -> None:
    """All shipped nets together stay under 8 MB."""
    assert 1e5 < sum(path.stat().st_size for path in SHIPPED.glob("*.onnx")) < 8e6


def with_nets(tmp_path: Path, *kinds: str) -> Path:
    """Return a copy of the shipped folder whose card lists the fine net under each of the kinds."""
    card = json.loads((SHIPPED / "card.json").read_text())
    fine = card["nets"]["fine"]
    (tmp_path / fine["file"]).write_bytes((SHIPPED / fine["file"]).read_bytes())
    (tmp_path / "card.json").write_text(json.dumps(card | {"nets": dict.fromkeys(kinds, fine)}))
    return tmp_path


@shipped
def test_one_net_does_it_all_where_there_is_no_other(tmp_path: Path) -> None:
    """Where the card lists no quick net both locators run the fine one for every look, loaded once."""
    folder = with_nets(tmp_path, "fine")
    fine, quick = load_locator("fine", folder), load_locator("quick", folder)
    assert fine._net is fine._close.net is quick._net is quick._close.net


@shipped
def test_quick_net_looks_at_whole_pictures(tmp_path: Path) -> None:
    """Where the card lists both, the quick net looks at whole pictures, the fine one closely; a preview has the quick one."""
    folder = with_nets(tmp_path, "fine", "quick")
    fine, quick = load_locator("fine", folder), load_locator("quick", folder)
    assert fine._net is quick._net is quick._close.net
    assert fine._close.net is not fine._net


def test_folder_without_card_ships_nothing(tmp_path: Path) -> None:
    """A folder without a card lists no nets."""
    assert shipped_nets(tmp_path) == ()


@shipped
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("picture", ["grey", "noise", "stripes"])
def test_patterns_are_no_plugs(kind: Kind, picture: str) -> None:
    """Plain grey, noise and a striped pattern (which looks a little like a thread) are refused."""
    made = {
        "grey": np.full((480, 640, 3), 118, np.uint8),
        "noise": np.random.default_rng(5).integers(0, 256, (480, 640, 3), dtype=np.uint8),
        "stripes": np.tile(((np.arange(640) // 8) % 2 * 160 + 40).astype(np.uint8)[None, :, None], (480, 1, 3)),
    }
    with pytest.raises(PhotoError, match=REASONS):
        load_locator(kind).locate(made[picture])


@shipped
def test_card_says_what_it_was_trained_on() -> None:
    """The card names how many pictures each net was trained on, and scores the finder on pictures that were not."""
    card = json.loads((SHIPPED / "card.json").read_text())
    assert all(net["trained_on"]["pictures"] > 1000 for net in card["nets"].values())
    assert card["finder"]["fine_test"]["nose_iou"]["n"] >= 50
    assert card["finder"]["fine_test"]["source"] != card["finder"]["fine_val"]["source"]


@shipped
def test_card_hash_is_that_of_the_file() -> None:
    """The card's size and hash are those of the shipped weights."""
    for net in json.loads((SHIPPED / "card.json").read_text())["nets"].values():
        data = (SHIPPED / net["file"]).read_bytes()
        assert (len(data), hashlib.sha256(data).hexdigest()) == (net["bytes"], net["sha256"])


def small_row(engine: str, scale: float) -> np.ndarray:
    """A sample row as it lies in a 5-megapixel photo taken from further away, the bench about it plain."""
    row = np.asarray(Image.open(samples_dir() / engine / "row.jpg"))
    row = cv2.resize(row, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    photo = np.full((1920, 2560, 3), np.median(row, axis=(0, 1)), np.uint8)
    top, left = (photo.shape[0] - row.shape[0]) // 2, (photo.shape[1] - row.shape[1]) // 2
    photo[top : top + row.shape[0], left : left + row.shape[1]] = row
    return photo


@shipped
@pytest.mark.parametrize(("engine", "plugs"), [("engine_shared_eight", 8), ("engine_shared_six", 6), ("engine_healthy", 4)])
def test_a_row_far_from_the_lens_is_looked_at_finely(engine: str, plugs: int) -> None:
    """Noses some 20 pixels wide in a photo of 2,560: a coarse look sees one to five of these plugs, a finer one all."""
    assert len(load_locator("fine").locate(small_row(engine, 0.5), expected=plugs)) == plugs
