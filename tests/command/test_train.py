"""`plugread train` and `--model`: exit codes, what goes to stdout and stderr, and that reading never loads the learner."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from plugread import pipeline
from plugread.cli import main
from plugread.pipeline import portrait, read_photo
from plugread.reading.model import Model
from plugread.reading.model_file import save_model
from plugread.reading.training.train import learn
from plugread.resources import samples_dir
from tests.reading.taught import THREE, look, studied, write_folder

PHOTO = samples_dir() / "readings" / "additive_stain_1.jpg"


@pytest.fixture(autouse=True)
def stand_in(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command learns from made-up photos; `portrait` above stays the real one."""
    monkeypatch.setattr(pipeline, "portrait", look)


@pytest.fixture(scope="module")
def model() -> Model:
    return replace(learn(studied(THREE)), farthest=1e9)


@pytest.fixture
def kept(model: Model, tmp_path: Path) -> Path:
    save_model(tmp_path / "model", model, {})
    return tmp_path / "model"


def test_train_prints_a_report(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The report goes to stdout, where the model lies to stderr, exit 0; there is no bar where there is no terminal."""
    photos = write_folder(tmp_path / "photos", {"normal": 4, "carbon_fouled": 3})
    assert main(["train", str(photos), "--out", str(tmp_path / "model")]) == 0
    out, err = capsys.readouterr()
    assert "Learned from 14 photos of 7 plugs" in out and "95 % interval" in out
    assert err == f"plugread: model, card and pictures written to {tmp_path / 'model'}\n"


def test_train_json_prints_the_card_and_nothing_else(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`--json` prints one document, the card as it lies beside the model, but for the hash of the arrays."""
    photos = write_folder(tmp_path / "photos", {"normal": 4, "carbon_fouled": 3})
    assert main(["train", str(photos), "--out", str(tmp_path / "model"), "--json", "--about", "my shed"]) == 0
    printed = json.loads(capsys.readouterr().out)
    kept = json.loads((tmp_path / "model" / "card.json").read_text())
    assert printed["photos_from"] == "my shed"
    assert printed == {name: value for name, value in kept.items() if name != "sha256"}


def test_too_little_is_one_line_and_code_3(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that teaches nothing: exit 3, one line on stderr, nothing on stdout."""
    assert main(["train", str(write_folder(tmp_path / "photos", {"normal": 1})), "--out", str(tmp_path / "model")]) == 3
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert "no reading has enough plugs" in err


@pytest.mark.parametrize("words", [["train", "x"], ["train", "--out", "m"], ["train", "x", "--out", "m", "--jobs", "0"]])
def test_wrong_use_of_train_is_code_2(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """A missing folder, a missing place or no worker at all is wrong use."""
    with pytest.raises(SystemExit) as stopped:
        main(words)
    assert stopped.value.code == 2
    assert "usage: plugread train" in capsys.readouterr().err


def test_a_full_disk_is_one_line_and_keeps_the_old_model(tmp_path: Path) -> None:
    """A model larger than the room there is: exit 3, one line, and the old model still loads (a real limit on file size)."""
    photos = write_folder(tmp_path / "photos", {"normal": 4, "carbon_fouled": 3})
    code = (
        "import resource, signal, sys; from plugread import pipeline; from plugread.cli import main; "
        "from tests.reading.taught import look; pipeline.portrait = look; words = sys.argv[1:]; assert main(words) == 0; "
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN); resource.setrlimit(resource.RLIMIT_FSIZE, (5000, 5000)); "
        "sys.exit(main(words))"
    )
    words = ["train", str(photos), "--out", str(tmp_path / "model"), "--json"]
    pytest.importorskip("resource")
    done = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, cwd=Path(__file__).parents[2])
    assert done.returncode == 3
    assert "could not be written to" in done.stderr.splitlines()[-1]
    from plugread.reading.by_classifier import load

    assert set(load(tmp_path / "model").readings) == {"normal", "carbon_fouled"}


def test_one_real_picture_from_file_to_features() -> None:
    """A rendered sample photo is measured into a vector with its colour in it; a file that is no picture tells why."""
    seen = portrait(PHOTO)
    assert seen.why is None and seen.vector is not None and np.isfinite(seen.vector).sum() > 40
    assert portrait(Path(__file__)).vector is None


def test_the_nose_meant_is_chosen_by_its_box() -> None:
    """The box of the nose that is found anyway gives the same features; a box elsewhere measures what lies there."""
    found = read_photo(PHOTO).plugs[0].end
    assert found is not None
    free, boxed = portrait(PHOTO), portrait(PHOTO, found.nose_box)
    assert np.array_equal(free.vector, boxed.vector, equal_nan=True)
    elsewhere = portrait(PHOTO, (40, 40, 200, 200))
    assert elsewhere.vector is None or not np.array_equal(free.vector, elsewhere.vector, equal_nan=True)


def test_reading_with_a_model_never_loads_the_learner(kept: Path) -> None:
    """`read --model` reads by the model and leaves scikit-learn, scipy and pandas unloaded."""
    code = (
        "import sys; from plugread.cli import main; code = main(sys.argv[1:]); "
        "print(code, sorted({'sklearn', 'scipy', 'pandas', 'joblib'} & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "read", str(PHOTO), "--json", "--model", str(kept)], capture_output=True, text=True
    )
    assert done.stderr == "0 []\n"
    assert json.loads(done.stdout)[0]["status"] in ("read", "unsure")


def test_a_model_takes_the_place_of_the_rules(model: Model) -> None:
    """The same photo read with a model says so and differs; one unlike all the model has seen stays with the rules."""
    rules, taught = read_photo(PHOTO).plugs[0].reading, read_photo(PHOTO, model=model).plugs[0].reading
    assert (rules.by, taught.by) == ("rules", "classifier")
    assert rules.probability != taught.probability
    left = read_photo(PHOTO, model=replace(model, farthest=1e-9)).plugs[0].reading
    assert left == rules


@pytest.mark.parametrize("command", ["read", "diagnose"])
def test_a_bad_model_is_told_in_one_line_and_the_rules_carry_on(
    command: str, tmp_path: Path, kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A newer model: one line on stderr, the answer as by the rules alone, exit 0."""
    card = json.loads((kept / "card.json").read_text())
    (kept / "card.json").write_text(json.dumps(card | {"schema": 2}))
    case = tmp_path / "case.toml"
    shutil.copy(PHOTO, tmp_path / "c1.jpg")
    case.write_text(
        '[engine]\nlayout = "inline"\ncylinders = 1\nfiring_order = [1]\ninduction = "carburettor"\n'
        'ignition = "contact_breaker"\n[[plug]]\ncylinder = 1\nphoto = "c1.jpg"\n'
    )
    words = [command, str(PHOTO if command == "read" else case), "--json"]
    assert main([*words, "--model", "rules"]) == 0
    plain = capsys.readouterr()
    assert main([*words, "--model", str(kept)]) == 0
    warned = capsys.readouterr()
    assert warned.out == plain.out and plain.err == ""
    assert warned.err.count("\n") == 1 and "schema 2" in warned.err and "the colour rules read instead" in warned.err
