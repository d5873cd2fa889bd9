"""What the browser gets before the page runs: our start page, the frame's files packed, everything else handed on."""

from __future__ import annotations

import contextlib
import gzip
import re
from typing import Any

from plugread.page import front, theme, words
from plugread.page.web import frame


async def behind(scope: Any, receive: Any, send: Any) -> None:
    """Stand in for the web server: answers nothing, says that it was asked."""
    await send({"type": "http.response.start", "status": 299, "headers": []})
    await send({"type": "http.response.body", "body": b""})


def asked(path: str, accepts: str = "gzip", method: str = "GET") -> tuple[int, dict[str, str], bytes]:
    """Ask the front for a path; returns status, headers and body."""
    sent: list[Any] = []

    async def send(message: Any) -> None:
        sent.append(message)

    headers = [(b"accept-encoding", accepts.encode())]
    scope = {"type": "http", "method": method, "path": path, "headers": headers, "query_string": b"", "root_path": ""}
    with contextlib.suppress(StopIteration):  # nothing in it waits, so it needs no event loop
        front.Front(behind)(scope, None, send).send(None)  # type: ignore[arg-type]
    told = {name.decode(): value.decode() for name, value in sent[0]["headers"]}
    return sent[0]["status"], told, sent[1]["body"]


def script() -> str:
    return next(name for name in sorted(frame.names()) if re.fullmatch(r"js/index\.[\w-]+\.js", name))


def test_a_script_comes_packed_and_whole() -> None:
    """A packed script unpacks to the very bytes that a browser without unpacking gets, in under half the size."""
    status, told, small = asked(f"/static/{script()}")
    plain = asked(f"/static/{script()}", accepts="identity")
    assert (status, told["content-encoding"], told["cache-control"]) == (200, "gzip", front.FOREVER)
    assert "content-encoding" not in plain[1] and gzip.decompress(small) == plain[2]
    assert 2 * len(small) < len(plain[2])


def test_fonts_are_not_packed_again() -> None:
    """A font is sent as it lies on disk."""
    font = next(name for name in sorted(frame.names()) if name.endswith(".woff2"))
    assert "content-encoding" not in asked(f"/static/{font}")[1]


def test_the_start_page_is_ours() -> None:
    """Title, look and first line stand in the start page of every address of the page, and it is asked for anew each time."""
    for path in ("/", *(f"/{name}" for name in words.PAGES)):
        status, told, body = asked(path, accepts="")
        text = body.decode()
        assert (status, told["cache-control"]) == (200, "no-cache")
        assert f"<title>{words.TITLE}</title>" in text and theme.look() in text and words.OPENING in text
        assert '<div id="root"></div>' in text


def test_what_is_fetched_early_exists() -> None:
    """Every file the start page names is one that can be had, and the pieces of the first view are among them."""
    named = re.findall(r'(?:href|src)="\./static/([^"]+)"', front.start_page()[0].decode())
    assert set(named) <= frame.names() and len(named) == len(set(named))
    for piece in front.FIRST_PIECES:
        assert any(name.startswith(f"js/{piece}.") for name in named), piece
    assert any("MaterialSymbols" in name for name in named)


def test_unknown_pieces_are_passed_over() -> None:
    """A piece this version of the frame lacks does no harm."""
    assert frame.pieces(["NoSuchPiece"]) == []


def test_everything_else_is_handed_on() -> None:
    """Other addresses, files that do not exist, ways out of the folder, and posts go to the web server."""
    for path in ("/_stcore/health", "/media/a.png", "/static/js/none.js", "/static/../index.html", "/bench/x"):
        assert asked(path)[0] == 299
    assert asked("/", method="POST")[0] == 299
