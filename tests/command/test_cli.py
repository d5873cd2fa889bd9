"""The commands: exit codes, what goes to stdout and stderr, and the shape of the documents."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from plugread.cli import main
from plugread.resources import samples_dir

CASE = """
[engine]
layout = "inline"
cylinders = 4
firing_order = [1, 3, 4, 2]
induction = "carburettor"
ignition = "contact_breaker"
[[plug]]
cylinder = 1
seen = ["normal"]
[[plug]]
cylinder = 2
seen = ["normal"]
[[plug]]
cylinder = 3
seen = ["carbon_fouled"]
[[plug]]
cylinder = 4
seen = ["normal"]
"""


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = tmp_path / "case.toml"
    path.write_text(CASE, encoding="utf-8")
    return path


def test_diagnose_prints_one_json_document(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`diagnose --json` prints exactly one document with the promised keys, causes best first."""
    assert main(["diagnose", str(case), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert {"plugs", "pattern", "causes", "none_listed", "verdict", "next_checks", "cautions", "service"} <= document.keys()
    shares = [cause["probability"] for cause in document["causes"]]
    assert shares == sorted(shares, reverse=True)
    assert [plug["cylinder"] for plug in document["plugs"] if plug["odd"]] == [3]


def test_diagnose_in_text_reads_like_a_note(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The plain text says what is seen, what it means, how sure, what next, and the verdict."""
    assert main(["diagnose", str(case)]) == 0
    text = capsys.readouterr().out
    assert [word for word in ("What is seen", "What it means", "How sure", "What next", "Verdict") if word not in text] == []


def test_a_bad_case_gives_one_line_and_code_3(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Input that cannot be read: exit 3, one line on stderr, nothing on stdout."""
    assert main(["diagnose", str(tmp_path / "none.toml")]) == 3
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)


@pytest.mark.parametrize(
    "words", [["reed", "x.jpg"], ["read"], ["read", "x.jpg", "--nose", "1,2,3"], ["read", "x.jpg", "--lineup", "0"], []]
)
def test_wrong_use_is_code_2(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Wrong use: exit 2 and the usage on stderr."""
    with pytest.raises(SystemExit) as stopped:
        main(words)
    assert stopped.value.code == 2
    assert "usage: plugread" in capsys.readouterr().err


def test_one_bad_photo_does_not_stop_the_others(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that is no picture comes back refused; the good one is read; exit 0."""
    bad = tmp_path / "notes.jpg"
    bad.write_text("no picture", encoding="utf-8")
    good = sorted((samples_dir() / "engine_healthy").glob("c1.*"))[0]
    assert main(["read", str(bad), str(good), "--json"]) == 0
    first, second = json.loads(capsys.readouterr().out)
    assert (first["status"], second["status"] in ("read", "unsure")) == ("refused", True)


def test_only_bad_photos_is_code_3(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every photo refused: exit 3, the reason on stderr."""
    bad = tmp_path / "empty.jpg"
    bad.write_bytes(b"")
    assert main(["read", str(bad), "--json"]) == 3
    out, err = capsys.readouterr()
    assert json.loads(out)[0]["status"] == "refused"
    assert "empty.jpg" in err


def test_the_module_runs_as_a_command() -> None:
    """`python -m plugread --version` prints name and version."""
    done = subprocess.run([sys.executable, "-m", "plugread", "--version"], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("plugread ")
