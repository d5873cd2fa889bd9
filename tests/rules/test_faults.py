"""Each kind of fault, once: a sound rule base is copied, one place is spoilt, and the fault must be named with its place."""

from __future__ import annotations

import re
import shutil
import tomllib
from pathlib import Path

import pytest

from plugread.rules.load import own_folder
from plugread.rules.validate import faults, main

SPOILT = tomllib.loads((Path(__file__).parent / "spoilt.toml").read_text("utf-8"))


def spoil(folder: Path, file: str, good: str, bad: str) -> None:
    for path in own_folder().glob("*.toml"):
        shutil.copy(path, folder)
    text = (folder / file).read_text("utf-8")
    assert good in text
    (folder / file).write_text(text.replace(good, bad, 1), "utf-8")


def test_own_rule_base_has_no_fault() -> None:
    """The rule base that comes with the package is sound."""
    assert faults(own_folder()) == []


@pytest.mark.parametrize("kind", SPOILT)
def test_fault_is_named_with_its_place(kind: str, tmp_path: Path) -> None:
    """The spoilt place is named, with the nearest known word where there is one."""
    spoilt = SPOILT[kind]
    spoil(tmp_path, spoilt["file"], spoilt["good"], spoilt["bad"])
    found = faults(tmp_path)
    assert any(re.search(spoilt["message"], line) for line in found), found


def test_one_fault_hides_no_other(tmp_path: Path) -> None:
    """A file that is not TOML at all leaves the faults of the other files in the list."""
    spoil(tmp_path, "links_oil.toml", "rings_worn", "rings_wron")
    (tmp_path / "cautions.toml").write_text("[caution", "utf-8")
    found = "\n".join(faults(tmp_path))
    assert "cautions.toml: not valid TOML" in found
    assert "rings_wron" in found


def test_row_that_is_no_table_is_a_fault(tmp_path: Path) -> None:
    """A bare word in a list of rows is reported, not a crash."""
    spoil(tmp_path, "links_oil.toml", "link = [", 'link = [ "rings",')
    assert any("link row 1: no field 'not a row'" in line for line in faults(tmp_path))


def test_command_leaves_with_one_and_all_faults(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The command prints every fault on stderr, nothing on stdout, and leaves with 1."""
    spoil(tmp_path, "links_oil.toml", "rings_worn", "rings_wron")
    assert main([str(tmp_path)]) == 1
    printed = capsys.readouterr()
    assert "rings_wron" in printed.err
    assert printed.out == ""


def test_command_leaves_with_nought_for_the_own_rule_base(capsys: pytest.CaptureFixture[str]) -> None:
    """Without faults the command leaves with 0 and stderr stays empty."""
    assert main([]) == 0
    assert capsys.readouterr().err == ""
