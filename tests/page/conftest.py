"""Runs the page and drives it with headless Chromium; skipped, with the reason printed, where that is not installed."""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from plugread.page.launch import MEMORY, OPTIONS, THREADS
from plugread.resources import app_file, samples_dir

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage"]  # fmt: skip
PHONE_AGENT = "Mozilla/5.0 (Linux; Android 14) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/130.0.0.0 Mobile Safari/537.36"
PHONE: dict[str, Any] = {
    "user_agent": PHONE_AGENT,
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 2,
    "is_mobile": True,
    "has_touch": True,
}
SHAPES: dict[str, dict[str, Any]] = {
    "phone": PHONE,
    "phone-dark": PHONE | {"color_scheme": "dark"},
    "narrow": PHONE | {"viewport": {"width": 320, "height": 640}},
    "desk": {"viewport": {"width": 1366, "height": 900}},
}
SETTLED = """() => {
  const app = document.querySelector('[data-testid=stApp]')
  return app && app.dataset.testScriptState === 'notRunning' && document.fonts.status === 'loaded'
    && !document.querySelector('[data-stale=true],[data-testid=stSkeleton],[data-testid=stAppSkeleton]') }"""


@dataclass(frozen=True)
class Server:
    """A running page."""

    url: str
    pid: int
    home: Path
    samples: Path

    def memory_mb(self) -> float:
        """Return what the page holds, MB."""
        return int(Path(f"/proc/{self.pid}/statm").read_text().split()[1]) * 4096 / 1e6


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


BEGINS_MS = 120
"""A press takes this long at most until the page knows that it is running."""


class Running:
    """Starts a page, can stop and start it again on the same port and notebook."""

    def __init__(self, app: Path, home: Path, samples: Path, extra: dict[str, str] | None = None) -> None:
        self.app, self.home, self.samples, self.extra, self.port = app, home, samples, extra or {}, free_port()

    def start(self) -> Server:
        env = {**os.environ, **MEMORY, **THREADS, **self.extra, "PLUGREAD_HOME": str(self.home), "PYTHONPATH": str(ROOT)}
        env |= {"PLUGREAD_TEST_SAMPLES": str(self.samples), "HOME": str(self.home)}
        flags = [flag for name, value in OPTIONS.items() for flag in (f"--{name}", value)]
        command = [
            sys.executable,
            "-m",
            "streamlit",
            "run",
            str(self.app),
            "--server.address",
            "127.0.0.1",
            "--server.port",
            str(self.port),
        ]
        self.log = (self.home / "log.txt").open("ab")
        self.process = subprocess.Popen([*command, *flags], cwd=ROOT, env=env, stdout=self.log, stderr=subprocess.STDOUT)
        until = time.monotonic() + 60
        while True:
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{self.port}/_stcore/health", timeout=1).close()
                return Server(f"http://127.0.0.1:{self.port}", self.process.pid, self.home, self.samples)
            except OSError:
                if self.process.poll() is not None or time.monotonic() > until:
                    raise RuntimeError((self.home / "log.txt").read_text()) from None
                time.sleep(0.1)

    def stop(self) -> None:
        self.process.terminate()
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.log.close()


@pytest.fixture(scope="session")
def samples(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two sample engines of plain pictures: a four with one dark plug, a vee six of dark ones."""
    folder = tmp_path_factory.mktemp("samples")
    _sample(folder / "engine_one_odd", 4, "inline", "[1, 3, 4, 2]", dark={3})
    _sample(folder / "engine_shared_six", 6, "vee", "[1, 2, 3, 4, 5, 6]", dark={1, 2, 3, 4, 5, 6})
    return folder


def _sample(folder: Path, count: int, layout: str, order: str, dark: set[int]) -> None:
    folder.mkdir()
    text = f'[engine]\nlayout = "{layout}"\ncylinders = {count}\nfiring_order = {order}\n'
    text += 'induction = "port_injection"\nclosed_loop = true\nignition = "wasted_spark"\n'
    for n in range(1, count + 1):
        picture(folder / f"c{n}.jpg", dark=n in dark, seed=n)
        text += f'[[plug]]\ncylinder = {n}\nphoto = "c{n}.jpg"\n'
    (folder / "case.toml").write_text(text)


def picture(path: Path, *, dark: bool = False, seed: int = 0, size: tuple[int, int] = (800, 600)) -> str:
    """Write a picture of one tone with a little grain, and return its path."""
    rng = np.random.default_rng(seed)
    tone = (60, 58, 56) if dark else (205, 190, 165)
    grain = rng.integers(-12, 12, (size[1] // 8, size[0] // 8, 1))
    small = np.clip(np.array(tone) + grain, 0, 255).astype(np.uint8)
    Image.fromarray(small).resize(size, Image.Resampling.BICUBIC).save(path, quality=90)
    return str(path)


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory, samples: Path) -> Iterator[Server]:
    """The page with stand-ins behind it."""
    running = Running(HERE / "app_with_stand_ins.py", tmp_path_factory.mktemp("home"), samples)
    yield running.start()
    running.stop()


@pytest.fixture(scope="module")
def shipped(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """The page's own start file, as `plugread page` runs it."""
    running = Running(app_file(), tmp_path_factory.mktemp("shipped"), samples_dir())
    yield running.start()
    running.stop()


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if not Path(CHROMIUM).exists():
        pytest.skip(f"no Chromium at {CHROMIUM}")
    with playwright.sync_playwright() as driver:
        shown = driver.chromium.launch(executable_path=CHROMIUM, headless=True, args=FLAGS)
        yield shown
        shown.close()


class Screen:
    """One browser tab on the page, with what a test wants to know about it."""

    def __init__(self, browser: Any, url: str, shape: str, watch: str | None = None) -> None:
        self.context = browser.new_context(**SHAPES[shape])
        self.context.set_default_timeout(15_000)
        self.page = self.context.new_page()
        self.outside: list[str] = []
        self.errors: list[str] = []
        own = (watch or url).split("?")[0].rstrip("/")
        allowed = (own, own.replace("http", "ws", 1), "data:", "blob:")
        self.page.on("request", lambda r: None if r.url.startswith(allowed) else self.outside.append(r.url))
        self.page.on("pageerror", lambda e: self.errors.append(str(e)))
        self.page.on("console", lambda m: self.errors.append(m.text) if m.type == "error" else None)
        self.page.goto(url)
        self.settle()

    def settle(self) -> None:
        """Wait until the script has run and lazily loaded parts have drawn."""
        self.page.wait_for_timeout(BEGINS_MS)
        self.page.wait_for_selector("[data-testid=stMain] [data-testid=stVerticalBlock] >> nth=0", state="attached")
        self.page.wait_for_function(SETTLED)
        self.page.evaluate("() => new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")

    def sees(self, text: str) -> None:
        """Wait until a text is on the page."""
        self.page.get_by_text(text).first.wait_for()

    def press(self, name: str) -> None:
        """Press a button and wait until the page is still."""
        self.page.get_by_role("button", name=name).first.click()
        self.settle()

    def tick(self, name: str) -> None:
        """Tick one of the pills."""
        self.page.locator("[data-testid=stButtonGroup] button", has_text=name).first.click()
        self.settle()

    def take(self, kind: str, *files: str) -> None:
        """Give pictures to the camera button: `kind` is one, all or pick."""
        self.page.locator(f".i-{kind}").set_input_files(list(files))

    def unfold(self, text: str) -> None:
        """Open a part that is folded away."""
        self.settle()
        part = self.page.locator("details", has=self.page.locator("summary", has_text=text)).last
        if part.get_attribute("open") is None:
            part.locator("summary").first.click()
        self.settle()

    def choose(self, cylinder: int) -> None:
        """Pick a cylinder."""
        self.page.locator("[class*=st-key-pick]").get_by_role("radio", name=str(cylinder), exact=True).click()
        self.settle()

    def select(self, label: str, option: str) -> None:
        """Choose from a list with the keyboard."""
        box = self.page.get_by_role("combobox", name=label).first
        wanted = self.page.get_by_role("option", name=option, exact=True)
        from playwright.sync_api import TimeoutError as PlaywrightTimeout

        for _ in range(5):  # a key pressed while the page is being drawn again is lost
            box.focus()
            box.press("ArrowDown")
            with contextlib.suppress(PlaywrightTimeout):
                wanted.wait_for(timeout=4000)
                break
        wanted.wait_for()
        for key in ["ArrowDown"] * 15 + ["ArrowUp"] * 15:
            if self.page.evaluate("document.querySelector('[role=option][data-focused=true]')?.innerText") == option:
                break
            box.press(key)
        box.press("Enter")
        self.settle()

    def verdict(self) -> str:
        """Return what the verdict bar says."""
        return str(self.page.locator(".pr-verdict b").inner_text())

    def close(self) -> None:
        self.context.close()


@pytest.fixture
def screen(browser: Any, server: Server) -> Iterator[Any]:
    """Open the page in tabs of a shape, on a notebook without visits; closes them afterwards."""
    for file in server.home.glob("notebook.sqlite*"):
        file.unlink()
    opened: list[Screen] = []

    def open_screen(shape: str = "phone", query: str = "", url: str | None = None, watch: str | None = None) -> Screen:
        opened.append(Screen(browser, (url or server.url) + query, shape, watch))
        return opened[-1]

    yield open_screen
    for tab in opened:
        tab.close()


class Relay:
    """A relay on this machine in front of the page, so that a test can cut the link as a locked phone does."""

    def __init__(self, port: int) -> None:
        self.port, self.up, self.links = port, True, set[socket.socket]()
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self.listener.getsockname()[1]}"
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self.listener.accept()
            except OSError:
                return
            if not self.up:
                near.close()
                continue
            far = socket.create_connection(("127.0.0.1", self.port))
            self.links |= {near, far}
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=self._pass_on, args=(one, other), daemon=True).start()

    @staticmethod
    def _pass_on(one: socket.socket, other: socket.socket) -> None:
        try:
            while data := one.recv(65536):
                other.sendall(data)
        except OSError:
            pass
        for end in (one, other):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def cut(self) -> None:
        self.up = False
        for link in list(self.links):
            with contextlib.suppress(OSError):
                link.shutdown(socket.SHUT_RDWR)
            link.close()
        self.links.clear()

    def mend(self) -> None:
        self.up = True


@pytest.fixture
def relay(server: Server) -> Iterator[Relay]:
    passed = Relay(int(server.url.rsplit(":", 1)[1]))
    yield passed
    passed.cut()
    passed.listener.close()


AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="session")
def axe() -> Any:
    """Run axe-core on a tab; returns its serious and critical findings. Skipped where AXE_JS names no file."""
    script = os.environ.get("AXE_JS", "")
    if not Path(script).is_file():
        pytest.skip("AXE_JS names no axe-core script (npm pack axe-core)")
    source = Path(script).read_text(encoding="utf-8")

    def run(tab: Screen) -> list[tuple[str, str, str]]:
        tab.page.evaluate(source)
        options = {"resultTypes": ["violations"], "runOnly": {"type": "tag", "values": AXE_TAGS}}
        found = tab.page.evaluate("async (o) => await axe.run(document, o)", options)["violations"]
        return [(v["id"], v["impact"], v["nodes"][0]["html"][:160]) for v in found if v["impact"] in ("serious", "critical")]

    return run
