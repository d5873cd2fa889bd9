"""The README keeps its word: help text, pictures and commands as they are."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from plugread.cli import main, parser

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_help_text_is_the_real_one(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The help of `read` printed in the README is what the command prints."""
    monkeypatch.setenv("COLUMNS", "100")
    with pytest.raises(SystemExit):
        main(["read", "--help"])
    shown = re.search(r"<!-- help read -->\n```text\n(.*?)\n```", README, re.DOTALL)
    assert shown is not None
    assert shown.group(1) == capsys.readouterr().out.strip()


def test_every_picture_is_there() -> None:
    """Each picture the README shows is in the repository."""
    pictures = re.findall(r"""<img src="([^"]+)" """, README)
    assert len(pictures) >= 3
    assert [name for name in pictures if not (ROOT / name).is_file()] == []


def test_every_command_shown_is_one() -> None:
    """Each `plugread` command line in the README parses."""
    lines = re.findall(r"^plugread (.+?)(?:\s+#.*)?$", README, re.MULTILINE)
    assert len(lines) >= 5
    for line in lines:
        assert parser().parse_args(line.split()).command in line
