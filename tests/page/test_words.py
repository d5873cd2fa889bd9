"""All wording stands in the words files, and every widget has a key."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from plugread.page import help_words, words
from plugread.page.parts.photos import plain_name
from plugread.pipeline import default_rules

PAGE = Path(words.__file__).parent
NOT_PAGES = ("words.py", "check_words.py", "help_words.py", "launch_words.py", "launch.py", "frame.py")
"""Wording, the process that starts the page, and the files of the web page's frame."""
FILES = [p for p in sorted(PAGE.rglob("*.py")) if p.name not in NOT_PAGES]
WIDGETS = {"button", "checkbox", "file_uploader", "number_input", "pills"} | {"segmented_control", "selectbox", "text_input"}
TEXTS = {"header", "subheader", "text", "caption", "markdown", "error", "warning", "info", "success", "expander"} | WIDGETS


def calls(path: Path, names: set[str]) -> list[ast.Call]:
    """Every call of one of `names` on `st` in a file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = [n for n in ast.walk(tree) if isinstance(n, ast.Call) and isinstance(n.func, ast.Attribute) and n.func.attr in names]
    return [n for n in found if _root(n.func) == "st"]


def _root(node: ast.expr) -> str:
    while isinstance(node, ast.Attribute):
        node = node.value
    return node.id if isinstance(node, ast.Name) else ""


def _is_sentence(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and re.search("[A-Za-z]{2}", str(node.value)) is not None


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_every_widget_has_a_key(path: Path) -> None:
    """A widget without a key loses its value when its label changes."""
    assert [c.lineno for c in calls(path, WIDGETS) if not any(k.arg == "key" for k in c.keywords)] == []


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_no_sentence_stands_in_a_page_file(path: Path) -> None:
    """No text shown to people is written in a page file: only marks, icons and numbers."""
    assert [c.lineno for c in calls(path, TEXTS) if c.args and _is_sentence(c.args[0])] == []


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_page_files_open_no_files(path: Path) -> None:
    """A page file gathers input and shows records; files are opened by the store and the pipeline."""
    source = path.read_text(encoding="utf-8")
    assert not re.search(r"\bopen\(|read_bytes|write_bytes|write_text|sqlite3", source)
    assert path.parent.name == "web" or "read_text" not in source


def test_ticks_on_the_page_are_findings() -> None:
    """Each id under the page's headings is a finding of the firing end, each once."""
    known = {f.id for f in default_rules().findings.values() if f.kind == "firing_end"}
    ids = [i for group in words.TICK_GROUPS.values() for i in group]
    assert set(ids) <= known and len(ids) == len(set(ids))


def test_sentences() -> None:
    """Small helpers of language: lists, full stops, engines."""
    assert words.about_cylinders([]) == ""
    assert words.about_cylinders([3]) == "cylinder 3"
    assert words.about_cylinders([1, 2, 4]) == "cylinders 1, 2 and 4"
    assert words.sentence("one line") == "One line." and words.sentence("Ends here.") == "Ends here."
    assert words.engine_name("vee", 8) == "Vee eight" and words.engine_name("inline", 1) == "Single cylinder"


def test_help_names_every_kind_of_finding() -> None:
    """The help page explains the findings of every kind in the rule base."""
    kinds = {kind for group in help_words.KINDS.values() for kind in group}
    assert {f.kind for f in default_rules().findings.values()} <= kinds


def test_file_names_cannot_carry_links() -> None:
    """A file name loses the signs that Markdown or HTML would act on, and keeps what people know it by."""
    assert plain_name("IMG_2041 (1).jpg") == "IMG_2041 _1_.jpg"
    assert not set(plain_name("![x](http://x.example/a.png)<b>`|*")) & set("![]()<>`*|/:")


def test_every_thread_the_command_knows_can_be_told() -> None:
    """The dialog offers the sizes of the command line."""
    from plugread.cli import THREADS

    assert tuple(words.THREAD) == THREADS
