"""Starts the page: on this machine only, or opened to the network on purpose with a one-time key in the address.

This module loads no Streamlit: the page runs in a process of its own.
"""

from __future__ import annotations

import os
import secrets
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
import webbrowser
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlencode

from plugread.errors import PlugreadError
from plugread.page import launch_words as words
from plugread.resources import app_file, samples_dir

KEY_VARIABLE = "PLUGREAD_PAGE_KEY"
FIRST_PORT, PORTS_TRIED = 8517, 20
HOME_ADDRESS, ANY_ADDRESS = "127.0.0.1", "0.0.0.0"
START_S = 30.0
MEMORY = {"MALLOC_ARENA_MAX": "2", "MALLOC_TRIM_THRESHOLD_": "4000000", "MALLOC_MMAP_THRESHOLD_": "1000000"}
"""Lets the C library give freed photo memory back (harmless where it is not glibc)."""
THREADS = {"OPENBLAS_NUM_THREADS": "1"}
"""The reasoning multiplies small tables: a second thread only takes the core that the browser needs to show the answer."""

OPTIONS: Mapping[str, str] = {
    "logger.level": "warning",
    "server.headless": "true",
    "server.showEmailPrompt": "false",
    "server.fileWatcherType": "none",
    "server.maxUploadSize": "25",
    "server.disconnectedSessionTTL": "3600",
    "browser.gatherUsageStats": "false",
    "client.toolbarMode": "viewer",
    "client.showErrorDetails": "none",
    "client.showErrorLinks": "false",
    "theme.baseFontSize": "17",
    "theme.buttonRadius": "10px",
    "theme.light.primaryColor": "#1f6fb2",
    "theme.dark.primaryColor": "#2a78b0",
}
"""Passed as flags, for a settings file is looked for only in the folder the command runs in."""


@dataclass(frozen=True)
class Door:
    """Where the page listens and under which address people open it; `key` None = nobody but this machine gets in."""

    listen: str
    host: str
    port: int
    key: str | None
    sample: str | None

    @property
    def address(self) -> str:
        """The address to open, with key and sample engine."""
        asked = {name: value for name, value in (("key", self.key), ("sample", self.sample)) if value}
        return f"http://{self.host}:{self.port}/" + (f"?{urlencode(asked)}" if asked else "")


def launch(phone: bool, sample: str | None, port: int | None) -> int:
    """Start the page, tell its address, and return the exit code once it ends.

    Parameters
    ----------
    phone : listen to the network and ask for a one-time key; otherwise this machine only.
    sample : name of a sample engine to open with.
    port : port to listen on; None = the first free one of a few.

    Raises
    ------
    PlugreadError
        The sample engine is unknown, or the port is taken.
    """
    _check_sample(sample)
    host = _own_address() if phone else HOME_ADDRESS
    door = Door(ANY_ADDRESS if phone else HOME_ADDRESS, host, _port(port), secrets.token_urlsafe(9) if phone else None, sample)
    sys.stderr.write(words.start(door.address, phone=phone))
    page = subprocess.Popen(command(door), env=environment(door), stdout=subprocess.DEVNULL)
    if not phone and sys.stdout.isatty():
        threading.Thread(target=_open_browser, args=(door,), daemon=True).start()
    try:
        return page.wait()
    except KeyboardInterrupt:
        page.terminate()
        page.wait()
        return 0


def command(door: Door) -> list[str]:
    """Return the command line that starts the page."""
    places = {"server.address": door.listen, "server.port": str(door.port)}
    if door.key is not None:
        places |= {"browser.serverAddress": door.host}
    flags = [flag for name, value in {**OPTIONS, **places}.items() for flag in (f"--{name}", value)]
    hosts = ["--server.allowedHosts", door.host] if door.key is not None else []
    return [sys.executable, "-m", "streamlit", "run", str(app_file()), *flags, *hosts]


def environment(door: Door) -> dict[str, str]:
    """Return the environment of the page's process."""
    own = {name: value for name, value in os.environ.items() if name != KEY_VARIABLE}
    return {**MEMORY, **THREADS, **own} | ({KEY_VARIABLE: door.key} if door.key is not None else {})


def _check_sample(sample: str | None) -> None:
    if sample is None or (samples_dir() / sample / "case.toml").is_file():
        return
    known = sorted(path.parent.name for path in Path(samples_dir()).glob("engine_*/case.toml"))
    raise PlugreadError(f"there is no sample engine {sample!r}", f"known: {', '.join(known) or 'none'}")


def _port(wanted: int | None) -> int:
    """Return a port that is free on this machine."""
    for port in [wanted] if wanted is not None else _ports():
        with socket.socket() as probe:
            try:
                probe.bind((HOME_ADDRESS, port))
            except OSError:
                continue
            return port
    what = f"port {wanted}" if wanted is not None else f"each of the ports {FIRST_PORT} to {FIRST_PORT + PORTS_TRIED - 1}"
    raise PlugreadError(f"{what} is taken", "give another with --port")


def _ports() -> Iterator[int]:
    yield from range(FIRST_PORT, FIRST_PORT + PORTS_TRIED)


def _own_address() -> str:
    """Return this machine's address on its network; nothing is sent, the system only looks up its own route."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address reserved for documentation
            return str(probe.getsockname()[0])
        except OSError as problem:
            raise PlugreadError("this machine is on no network", "join the workshop network first") from problem


def _open_browser(door: Door) -> None:
    """Open the page once it answers."""
    until = time.monotonic() + START_S
    while time.monotonic() < until:
        try:
            with urllib.request.urlopen(f"http://{door.host}:{door.port}/_stcore/health", timeout=1):
                webbrowser.open(door.address)
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
