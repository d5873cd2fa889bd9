"""The files of the web page's frame, as they came with the web server: plain and packed, each read once and kept in memory."""

from __future__ import annotations

import gzip
import re
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

import streamlit

PACKED = {".js", ".css", ".html", ".svg"}
"""Fonts and pictures are packed already."""
IMPORTED = re.compile(r"""(?:from|import)\s*["']\./([\w.-]+\.js)["']""")

Content = tuple[bytes, bytes]
"""A file plain, and packed with gzip (empty where packing gains nothing)."""


def index() -> str:
    """Return the frame's start page as it came."""
    return _folder().joinpath("index.html").read_text(encoding="utf-8")


@cache
def names() -> frozenset[str]:
    """Return the names of all files that may be asked for, like "js/index.abc.js"."""
    root = _folder() / "static"
    return frozenset(path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file())


@cache
def content(name: str) -> Content:
    """Return one of the files named in `names`."""
    return pack((_folder() / "static" / name).read_bytes(), Path(name).suffix)


def pack(data: bytes, suffix: str) -> Content:
    """Return bytes plain and packed."""
    return data, gzip.compress(data, 6, mtime=0) if suffix in PACKED else b""


def pieces(wanted: Sequence[str]) -> list[str]:
    """Return the scripts of pieces of the frame ("Button") and those they import, each once; unknown ones are passed over."""
    found: dict[str, None] = {}
    for piece in wanted:
        for file in sorted(names()):
            if re.fullmatch(rf"js/{piece}\.[\w-]+\.js", file):
                found.update(dict.fromkeys(_with_imports(file)))
    return list(found)


def _with_imports(file: str) -> Iterator[str]:
    waiting, seen = [file], set[str]()
    while waiting:
        one = waiting.pop()
        if one not in seen and one in names():
            seen.add(one)
            yield one
            text = (_folder() / "static" / one).read_text(encoding="utf-8")
            waiting += [f"js/{name}" for name in IMPORTED.findall(text)]


def _folder() -> Path:
    return Path(streamlit.__file__).parent / "static"
