"""What a browser gets before the page itself runs: packed scripts, the look, the pieces the bench needs, a first line of text.

The web server behind the page hands its scripts out unpacked, one file read after another, and tells the browser about the
pieces of the first view only once the view is there. On a workshop's link that is most of the wait. Here they are packed once,
kept in memory, and named in the first answer; the page's own look stands in it too, so that nothing jumps when it arrives.
"""

from __future__ import annotations

import contextlib
import re
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import cache
from html import escape
from mimetypes import guess_type
from pathlib import Path
from typing import Any

from starlette.datastructures import Headers
from starlette.middleware import Middleware
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from plugread import pipeline
from plugread.errors import PlugreadError
from plugread.page import theme, web, words
from plugread.page.web import frame

PAGE = re.compile("/[a-z]*")
"""The addresses of the pages; everything else that is asked for has more than one part, or a full stop."""
FOREVER, NEVER = "public, immutable, max-age=31536000", "no-cache"
"""A file with a mark of its content in its name never changes; the start page is asked for anew each time."""
FIRST_PIECES = ("Html", "PageLink", "Button", "ButtonGroup", "BidiComponent")
"""Pieces of the first view that the frame asks for only when the view has come in."""
ICONS = "MaterialSymbols-Rounded.*.woff2"


def middleware() -> list[Middleware]:
    """Return what stands in front of the page's web server."""
    return [Middleware(Front)]


@asynccontextmanager
async def lifespan(_: Any) -> AsyncIterator[None]:
    """Make ready beside the start what the first visitor would have to wait for."""
    threading.Thread(target=_make_ready, daemon=True).start()
    yield


def _make_ready() -> None:
    """Pack the files of the first view, then load the finder and the rules."""
    for name in re.findall(r'(?:href|src)="\./static/([^"]+)"', start_page()[0].decode()):
        if name in frame.names():
            frame.content(name)
    with contextlib.suppress(PlugreadError):  # told at the first photo, with what to do
        pipeline.warm_up()


class Front:
    """Answers for the start page and the files of the web page's frame; hands everything else on."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or hand it on."""
        answer = _answer(scope) if scope["type"] == "http" and scope["method"] in ("GET", "HEAD") else None
        await (answer or self.app)(scope, receive, send)


def _answer(scope: Scope) -> Response | None:
    """Return the answer to a request for the start page or one of the frame's files; None for anything else."""
    path, packed = scope["path"], "gzip" in Headers(scope=scope).get("accept-encoding", "")
    if PAGE.fullmatch(path):
        return _response(start_page(), ".html", NEVER, packed)
    name = path.removeprefix("/static/")
    known = name != path and name in frame.names()
    return _response(frame.content(name), Path(name).suffix, FOREVER, packed) if known else None


def _response(content: frame.Content, suffix: str, keep: str, packed: bool) -> Response:
    plain, small = content
    headers = {"Cache-Control": keep, "Vary": "Accept-Encoding", "X-Content-Type-Options": "nosniff"}
    if packed and small:
        headers["Content-Encoding"] = "gzip"
    return Response(small if packed and small else plain, media_type=guess_type(f"x{suffix}")[0], headers=headers)


def in_place() -> bool:
    """Return whether this process hands out our start page, so that the look is in the browser already."""
    return start_page.cache_info().currsize > 0


# ---- the start page ----------------------------------------------------------------------------------------


@cache
def start_page() -> frame.Content:
    """Return the start page, plain and packed: the frame's own with our title, look and first line, and what to fetch early."""
    page = re.sub(r"<title>.*?</title>", f"<title>{escape(words.TITLE)}</title>", frame.index())
    page = page.replace("</head>", f"{_early(page)}</head>", 1)
    page = re.sub(r"(<body[^>]*>)", lambda found: found.group(1) + _look() + _waiting(), page, count=1)
    return frame.pack(page.encode(), ".html")


def _early(page: str) -> str:
    """Return the links that make the browser fetch the first view's pieces and the icons at once."""
    scripts = [name for name in frame.pieces(FIRST_PIECES) if name not in page]
    icons = [name for name in frame.names() if Path(name).match(ICONS)]
    links = [f'<link rel="modulepreload" crossorigin href="./static/{name}">' for name in scripts]
    links += [f'<link rel="preload" as="font" type="font/woff2" crossorigin href="./static/{name}">' for name in icons]
    return "".join(links)


def _look() -> str:
    """Return the look; it stands in the body, for the frame adds its own rules to the head later, and the last one wins."""
    return f"<style>{theme.look()}</style>"


def _waiting() -> str:
    """Return what stands on the screen until the page itself does: its name and that it is on its way."""
    return web.text("waiting.html").replace("{title}", escape(words.TITLE)).replace("{text}", escape(words.OPENING))
