"""From a folder to a model on disk: what it says of itself, and that nothing bad costs the model that was there."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from plugread.errors import ModelError
from plugread.reading.by_classifier import load
from plugread.reading.training.lessons import Lesson
from plugread.reading.training.report import report_text, verdict
from plugread.reading.training.study import study
from plugread.reading.training.train import CONFUSION, CURVE, learn, train
from tests.reading.taught import THREE, look, measured, write_folder

Card = Mapping[str, Any]


@pytest.fixture(scope="module")
def taught(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Card]:
    """A model of three readings, one photo unreadable, one reading with too few plugs, one folder misnamed."""
    home = tmp_path_factory.mktemp("taught")
    photos = write_folder(home / "photos", THREE | {"glazed": 2, "carbon fouled": 1})
    (photos / "normal" / "broken-1.jpg").write_text("nothing")
    return home / "model", train(photos, home / "model", look, about="made up for a test")


def test_a_folder_becomes_a_model_that_loads(taught: tuple[Path, Card]) -> None:
    """The model on disk knows the readings with enough plugs and carries its card."""
    model = load(taught[0])
    assert set(model.readings) == set(THREE)
    assert model.card["photos"] == 2 * sum(THREE.values()) and model.card["plugs"] == sum(THREE.values())


def test_the_card_holds_what_a_reader_must_know(taught: tuple[Path, Card]) -> None:
    """Purpose, limits, data, groups, versions, seed, scores and hash stand in the card, as JSON."""
    card = json.loads((taught[0] / "card.json").read_text())
    wanted = (
        "purpose limits made photos_from seed versions groups grouped_by white_reference readings not_evaluable held_out "
        "rules_alone confusion sets refusal learning_curve passed_over temperature estimator sha256"
    )
    assert set(wanted.split()) <= card.keys()
    assert card["photos_from"] == "made up for a test"
    assert {"numpy", "scikit-learn"} <= card["versions"].keys()


def test_counts_of_the_card_agree(taught: tuple[Path, Card]) -> None:
    """Rows of the confusion add up to the photos of each reading."""
    card = taught[1]
    assert [sum(row) for row in card["confusion"]] == [row["photos"] for row in card["readings"].values()]


def test_the_report_tells_what_it_left_out(taught: tuple[Path, Card]) -> None:
    """Too few plugs, unreadable photos and misnamed folders all stand in the report."""
    text = report_text(taught[1])
    assert "not evaluable, left out: fewer than 3 plugs" in text
    assert "normal/broken-1.jpg: broken-1.jpg is not a picture" in text
    assert "folder 'carbon fouled' is no reading that a photo of the firing end shows; did you mean carbon_fouled?" in text


def test_the_report_begins_with_whether_to_trust_it(taught: tuple[Path, Card]) -> None:
    """The first line is the verdict, and everything fits on one screen of 45 lines."""
    lines = report_text(taught[1]).splitlines()
    assert lines[0] == verdict(taught[1])
    assert len(lines) <= 45 and max(map(len, lines)) <= 130


def card_with(**held: float) -> Card:
    readings = {"normal": {"plugs": 20}, "worn": {"plugs": held.pop("plugs", 20)}}
    scores = {"log_loss": 0.5, "balanced_accuracy": 0.9, "ece": 0.03, "ece_noise": 0.04} | held
    return {"held_out": scores, "rules_alone": {"log_loss": 0.8, "balanced_accuracy": 0.8}, "readings": readings}


@pytest.mark.parametrize(
    ("held", "said"),
    [
        ({}, "It beats the colour rules on these plugs."),
        ({"log_loss": 0.9}, "Do not use it yet"),
        ({"balanced_accuracy": 0.7}, "Do not use it yet"),
        ({"ece": 0.07}, "Use it with care"),
        ({"plugs": 9}, "some readings rest on fewer than ten plugs"),
    ],
)
def test_the_verdict_follows_from_the_figures(held: dict[str, float], said: str) -> None:
    """Worse than the rules in either figure: not to be used; chances off by more than noise, or few plugs: with care."""
    assert said in verdict(card_with(**held))


@pytest.mark.parametrize("name", [CONFUSION, CURVE])
def test_pictures_are_whole_and_say_what_they_show(taught: tuple[Path, Card], name: str) -> None:
    """Both pictures are well-formed, named, and stay inside their frame."""
    root = ElementTree.fromstring((taught[0] / name).read_text(encoding="utf-8"))
    svg = "{http://www.w3.org/2000/svg}"
    assert root.find(f"{svg}title") is not None
    width, height = float(root.attrib["width"]), float(root.attrib["height"])
    for text in root.iter(f"{svg}text"):
        assert 0 <= float(text.attrib["x"]) <= width and 0 <= float(text.attrib["y"]) <= height


def test_one_folder_one_model(tmp_path: Path) -> None:
    """Training twice on the same photos gives the same arrays."""
    photos = write_folder(tmp_path / "photos", {"normal": 3, "oil_fouled": 3})
    one, other = (train(photos, tmp_path / name, look) for name in ("one", "other"))
    assert one == other
    assert sorted(p.name for p in (tmp_path / "one").glob("*.npz")) == sorted(p.name for p in (tmp_path / "other").glob("*.npz"))


TOO_LITTLE: dict[str, tuple[dict[str, int], int, str]] = {
    "no photos": ({}, 1, "holds no photos to learn from; one sub-folder for each reading"),
    "one reading": ({"normal": 5}, 2, "only normal has enough plugs; at least two readings with 3 plugs each are needed"),
    "two photos": ({"normal": 1, "carbon_fouled": 1}, 1, r"no reading has .*too few: carbon_fouled \(1\), normal \(1\)"),
    "many shots of two plugs": ({"normal": 5, "glazed": 2}, 9, r"only normal has enough plugs; too few: glazed \(2\)"),
    "misnamed": ({"normall": 5, "worn": 4}, 1, r"passed over: folder 'normall' is no reading .* did you mean normal\?"),
}


@pytest.mark.parametrize("case", TOO_LITTLE)
def test_too_little_to_learn_from_is_told_in_one_line(tmp_path: Path, case: str) -> None:
    """What is there, what is missing and why photos were left out; no model is written."""
    plugs, shots, told = TOO_LITTLE[case]
    photos = write_folder(tmp_path / "photos", plugs, shots)
    photos.mkdir(exist_ok=True)
    with pytest.raises(ModelError, match=told) as caught:
        train(photos, tmp_path / "model", look)
    assert "\n" not in str(caught.value)
    assert list((tmp_path / "model").glob("*")) == []


def test_photos_none_of_which_can_be_read(tmp_path: Path) -> None:
    """The first reasons are told, and how many more there are."""
    photos = write_folder(tmp_path / "photos", {"normal": 3, "worn": 3}, 1)
    for path in photos.rglob("*.jpg"):
        path.write_text("spoiled")
    with pytest.raises(ModelError, match=r"passed over: normal/normal0-0.jpg: .* is not a picture; .* and 4 more"):
        train(photos, tmp_path / "model", look)


def test_interrupted_training_leaves_the_old_model(tmp_path: Path) -> None:
    """Stopped while measuring, the folder holds the old model, byte for byte."""
    photos = write_folder(tmp_path / "photos", {"normal": 3, "oil_fouled": 3})
    train(photos, tmp_path / "model", look)
    before = {path.name: path.read_bytes() for path in (tmp_path / "model").iterdir()}

    def stop(done: int, of: int) -> None:
        if done == 4:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        train(photos, tmp_path / "model", look, progress=stop)
    assert {path.name: path.read_bytes() for path in (tmp_path / "model").iterdir()} == before


def test_a_hopeless_place_is_told_before_measuring(tmp_path: Path) -> None:
    """Where the model cannot be written nothing is measured first."""
    photos = write_folder(tmp_path / "photos", {"normal": 3, "oil_fouled": 3})
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(ModelError, match="could not be written"):
        train(photos, tmp_path / "taken", lambda *_: pytest.fail("measured a photo"))


def test_any_small_collection_is_learned_or_told() -> None:
    """Few plugs in any mixture of engines, plugs and shots give a model or one line, never a crash or a warning."""
    for k in range(12):
        rng = np.random.default_rng(k)
        found = [
            Lesson(Path(f"{reading}/{plug}-{shot}.jpg"), reading, f"e{engine}/{reading}{plug}", f"e{engine}" if k % 2 else None)
            for reading in ("normal", "carbon_fouled", "glazed")[: rng.integers(2, 4)]
            for plug in range(rng.integers(3, 6))
            for engine in [rng.integers(0, 5)]
            for shot in range(rng.integers(1, 4))
        ]
        learned = study(found, [measured(one.reading, one.plug, one.path.name) for one in found])
        with contextlib.suppress(ModelError):
            assert len(learn(learned).readings) >= 2
