"""The model file: whole or not at all, and nothing foreign, damaged, newer or oversized gets in."""

from __future__ import annotations

import io
import json
import tomllib
import zipfile
from collections.abc import Callable
from dataclasses import replace
from errno import ENOSPC
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from plugread.errors import ModelError
from plugread.reading.by_classifier import load, shipped
from plugread.reading.features import VERSION
from plugread.reading.looks import load_looks
from plugread.reading.model import Model, predict
from plugread.reading.model_file import CARD, array_file, load_model, save_model
from plugread.reading.training.fit import fit
from plugread.resources import models_dir
from tests.reading.taught import three


@pytest.fixture(scope="module")
def model() -> Model:
    study = three()
    bare = fit(study.x, study.reading, study.group, name="logistic regression, C = 0.1, measured features x 1", seed=1)
    readings = {name: {"photos": 12, "plugs": 6} for name in bare.readings}
    return replace(bare, farthest=9.0, doubt=0.7, card={"schema": 1, "features": VERSION, "readings": readings})


@pytest.fixture
def folder(model: Model, tmp_path: Path) -> Path:
    save_model(tmp_path / "model", model, {"picture.svg": "<svg/>"})
    return tmp_path / "model"


def arrays_of(folder: Path) -> dict[str, Any]:
    with np.load(next(folder.glob("arrays-*.npz"))) as packed:
        return dict(packed)


def rewrite(folder: Path, content: bytes) -> None:
    """Put other bytes in the place of the arrays, with a card that vouches for them."""
    for old in folder.glob("arrays-*.npz"):
        old.unlink()
    digest = sha256(content).hexdigest()
    (folder / array_file(digest)).write_bytes(content)
    edit(folder, sha256=digest)


def repack(folder: Path, **other: Any) -> None:
    """Put other arrays in, with a card that vouches for them; None takes one out."""
    packed = io.BytesIO()
    np.savez(packed, **{name: one for name, one in (arrays_of(folder) | other).items() if one is not None})
    rewrite(folder, packed.getvalue())


def edit(folder: Path, **other: Any) -> None:
    card = json.loads((folder / CARD).read_text())
    (folder / CARD).write_text(json.dumps({name: one for name, one in (card | other).items() if one is not None}))


def test_a_model_comes_back_as_it_was_kept(model: Model, folder: Path) -> None:
    """Every array, limit and prediction is the same after a round through the disk; pictures lie beside."""
    back = load(folder)
    assert back.readings == model.readings and (back.farthest, back.doubt) == (9.0, 0.7)
    assert np.array_equal(predict(back, three().x[0]).chance, predict(model, three().x[0]).chance)
    assert (folder / "picture.svg").read_text() == "<svg/>"


def test_the_same_model_gives_the_same_bytes(model: Model, tmp_path: Path) -> None:
    """Two writings of one model agree byte for byte, so a hash identifies it."""
    for name in ("one", "two"):
        save_model(tmp_path / name, model, {})
    names = [sorted(path.name for path in (tmp_path / name).iterdir()) for name in ("one", "two")]
    assert names[0] == names[1]
    assert all((tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes() for name in names[0])


def test_a_model_may_be_named_by_its_card(folder: Path) -> None:
    """The card's own path names the model as well as its folder."""
    assert load(folder / CARD).readings == load(folder).readings


CARDS: dict[str, tuple[Callable[[Path], object], str]] = {
    "no folder": (lambda f: f.joinpath(CARD).unlink(), "no model at .*No such file"),
    "no JSON": (lambda f: f.joinpath(CARD).write_text("{"), "is no JSON"),
    "deep": (lambda f: f.joinpath(CARD).write_text("[" * 100_000), "is no JSON"),
    "a list": (lambda f: f.joinpath(CARD).write_text("[]"), "is no model card: everything missing"),
    "no hash": (lambda f: edit(f, sha256=None), "is no model card: sha256 missing"),
    "a way out": (lambda f: edit(f, sha256="/../../../etc/passwd"), "sha256 must be 64 hexadecimal digits"),
    "large": (lambda f: f.joinpath(CARD).write_text(" " * 2_000_001), "is larger than 2000000 bytes"),
    "newer": (lambda f: edit(f, schema=2), f"schema 2, features {VERSION}; this program reads schema 1, features {VERSION}; "),
    "other features": (lambda f: edit(f, features=99), "schema 1, features 99; this program reads"),
    "foreign reading": (lambda f: edit(f, readings={"normal": {}, "happy": {}, "oil_fouled": {}}), "'happy' is no reading"),
    "one reading": (lambda f: edit(f, readings={"normal": {}}), "a model tells 2 to 22 readings apart"),
    "readings a number": (lambda f: edit(f, readings=3), "a model tells 2 to 22 readings apart"),
    "two of three": (lambda f: edit(f, readings={"normal": {}, "oil_fouled": {}}), "damaged: an array of shape"),
}


def _spoil_first_entry(folder: Path) -> None:
    """Packed arrays whose deflate stream is broken, vouched for by the card."""
    packed = io.BytesIO()
    np.savez_compressed(packed, **arrays_of(folder))
    content = bytearray(packed.getvalue())
    content[60:90] = bytes(30)
    rewrite(folder, bytes(content))


ARRAYS: dict[str, tuple[Callable[[Path], object], str]] = {
    "gone": (lambda f: next(f.glob("arrays-*.npz")).unlink(), "no model at .*arrays-"),
    "a byte changed": (lambda f: flip(next(f.glob("arrays-*.npz"))), "the arrays are not those of the card"),
    "no archive": (lambda f: rewrite(f, b"hello"), "the array file is damaged"),
    "cut": (lambda f: rewrite(f, next(f.glob("arrays-*.npz")).read_bytes()[:-100]), "the array file is damaged"),
    "broken stream": (_spoil_first_entry, "the array file is damaged"),
    "one missing": (lambda f: repack(f, share=None), "holds other arrays than a model has"),
    "one more": (lambda f: repack(f, extra=np.zeros(3)), "holds other arrays than a model has"),
    "wrong shape": (lambda f: repack(f, mean=np.zeros(3)), r"damaged: an array of shape \(3,\)"),
    "wrong type": (lambda f: repack(f, doubt=np.array("x")), "damaged: an array of shape .* and type <U1"),
    "objects": (lambda f: repack(f, doubt=np.array(print, dtype=object)), "damaged: an array of shape .* and type object"),
    "not finite": (lambda f: repack(f, bias=np.full(3, np.nan)), "bias must be finite"),
    "no spread": (lambda f: repack(f, scale=0 * arrays_of(f)["scale"]), "scale must be finite, and scales"),
    "large": (lambda f: rewrite(f, bytes(4_000_001)), "is larger than 4000000 bytes"),
}


def flip(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(bytes(content))


BAD = {f"card {name}": case for name, case in CARDS.items()} | {f"arrays {name}": case for name, case in ARRAYS.items()}


@pytest.mark.parametrize("case", BAD)
def test_a_bad_model_is_refused_in_one_line(folder: Path, case: str) -> None:
    """Missing, damaged, foreign, newer, executable or oversized: one line says what was found and what to do.

    That holds for the card, and for the arrays even where the card vouches for them.
    """
    spoil, told = BAD[case]
    spoil(folder)
    with pytest.raises(ModelError, match=told) as caught:
        load(folder)
    assert "\n" not in str(caught.value)


def test_a_small_file_that_unpacks_to_a_large_one_is_refused(folder: Path) -> None:
    """The size is judged before anything is unpacked."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in arrays_of(folder):
            archive.writestr(f"{name}.npy", bytes(3_000_000))
    assert len(packed.getvalue()) < 100_000
    rewrite(folder, packed.getvalue())
    with pytest.raises(ModelError, match="holds other arrays than a model has"):
        load(folder)


def test_nothing_in_a_model_is_executed(folder: Path, tmp_path: Path) -> None:
    """A pickle in the place of an array is refused unread."""

    class Trap:
        def __reduce__(self) -> tuple[Any, ...]:
            return (Path.touch, (tmp_path / "sprung",))

    repack(folder, doubt=np.array(Trap(), dtype=object))
    with pytest.raises(ModelError, match="damaged"):
        load(folder)
    assert not (tmp_path / "sprung").exists()


def test_a_new_model_takes_the_place_of_the_old(model: Model, folder: Path) -> None:
    """After writing again there is one model, the new one, and nothing left lying about."""
    save_model(folder, replace(model, doubt=0.5), {"picture.svg": "<svg>new</svg>"})
    assert load(folder).doubt == 0.5
    assert len(list(folder.glob("arrays-*.npz"))) == 1
    assert [path.name for path in folder.iterdir() if path.name.startswith(".")] == []


@pytest.mark.parametrize("writes", [0, 1, 2])
def test_a_full_disk_leaves_the_old_model(model: Model, folder: Path, monkeypatch: pytest.MonkeyPatch, writes: int) -> None:
    """Whichever of the three files the disk fills up at, the old model still loads, and one line says what happened."""
    import os

    done = iter(range(100))
    before = {path.name: path.read_bytes() for path in folder.iterdir()}

    def full(handle: int) -> None:
        if next(done) >= writes:
            raise OSError(ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ModelError, match="No space left on device; a model that was there is untouched"):
        save_model(folder, replace(model, doubt=0.5), {"picture.svg": "new"})
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_folder_that_cannot_be_made_is_told(model: Model, tmp_path: Path) -> None:
    """A file in the place of the folder is named."""
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(ModelError, match=r"could not be written to .*taken"):
        save_model(tmp_path / "taken", model, {})


def test_readings_this_program_has_not_are_foreign(folder: Path) -> None:
    """A model of readings that this program does not know is refused, however well it is made."""
    with pytest.raises(ModelError, match="'oil_fouled' is no reading of this program"):
        load_model(folder, ("normal", "carbon_fouled", "glazed"))


def test_the_wheel_takes_the_shipped_model_along() -> None:
    """The arrays the shipped card names, and the card, are listed as package data."""
    root = Path(__file__).parents[2]
    card = root / "models" / "classifier" / CARD
    if not card.exists():
        pytest.skip("no model ships")
    listed = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"]["targets"]["wheel"]
    for name in (CARD, array_file(json.loads(card.read_text(encoding="utf-8"))["sha256"])):
        assert listed["force-include"][f"models/classifier/{name}"] == f"plugread/_data/models/classifier/{name}"


def test_the_shipped_model_loads_or_there_is_none() -> None:
    """Where a model ships it is whole, knows only looks of the table, and its card says that it never saw a real photo."""
    if not (models_dir() / "classifier" / CARD).exists():
        assert shipped() is None
        return
    model = load(models_dir() / "classifier")
    assert set(model.readings) <= set(load_looks().look)
    assert any("never seen a real photo" in line for line in model.card["limits"])
    assert (shipped() is not None) == (model.card["used_unasked"] is True)
