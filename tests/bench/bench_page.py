"""The page with the real reading behind it: a large photo to its reading, and memory over many visits.

    python -m tests.bench.bench_page [--visits 16] [--rounds 4]

The page runs as `plugread page` runs it; photos are those of the sample eight, the large one enlarged to 12 megapixels. Slow
links are Chromium's own (30 ms, 10 Mbit/s up and down). Needs Chromium and playwright.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from playwright.sync_api import sync_playwright

from plugread.page import words
from plugread.resources import app_file, samples_dir
from tests.page.conftest import CHROMIUM, FLAGS, Running, Screen, Server

LARGE = (4032, 3024)
LINK = {"offline": False, "latency": 30, "downloadThroughput": 10e6 / 8, "uploadThroughput": 10e6 / 8}
NEXT = "Photograph plug 2"
WATCH = """(camera) => {
  const root = camera.getRootNode()
  camera.addEventListener('change', () => { window.began = performance.now() }, true)
  const seen = new MutationObserver(() => { if (root.querySelector('.one').textContent.includes('NEXT')) {
    seen.disconnect(); requestAnimationFrame(() => { window.spent = performance.now() - window.began }) } })
  seen.observe(root, { childList: true, subtree: true, characterData: true }) }""".replace("NEXT", NEXT)
"""Takes the time from the browser's having the file to the frame that asks for the next plug: what the phone itself does before
is not the page's."""
EIGHT = "Vee eight, injection, coil on each plug"


def photos() -> list[str]:
    """Return the eight single photos of the sample eight."""
    return [str(path) for path in sorted((samples_dir() / "engine_shared_eight").glob("c*.jpg"))]


def large(folder: Path, number: int) -> str:
    """Return a sample photo enlarged to 12 megapixels, each of eight numbers another one: a photo known is not read again."""
    path = folder / f"large_{number}.jpg"
    picture = Image.open(photos()[number % 8]).resize(LARGE, Image.Resampling.BICUBIC)
    picture.save(path, quality=88, exif=picture.getexif())
    return str(path)


def to_reading(browser: Any, server: Server, photo: str, *, slow_link: bool) -> float:
    """Return the seconds from giving one photo of plug 1 to the camera button until its measures stand on the page."""
    tab = Screen(browser, server.url, "phone")
    if slow_link:
        tab.context.new_cdp_session(tab.page).send("Network.emulateNetworkConditions", LINK)
    tab.page.locator(".i-one").evaluate(WATCH)
    tab.take("one", photo)
    tab.sees(NEXT)
    tab.settle()
    spent = float(tab.page.evaluate("window.spent")) / 1000
    tab.close()
    return spent


def take_eight(browser: Any, server: Server) -> None:
    """Choose an engine of eight; the page remembers it for the next visit."""
    tab = Screen(browser, server.url, "desk")
    tab.press(words.ENGINE_CHANGE)
    tab.select(words.ENGINE_PRESET, EIGHT)
    tab.press(words.ENGINE_SAVE)
    tab.page.locator(".well").nth(7).wait_for()
    tab.close()


def visit(browser: Any, server: Server, pictures: Sequence[str]) -> None:
    """Make one visit with a photo of each plug of an eight, up to its verdict."""
    tab = Screen(browser, server.url, "phone")
    tab.take("pick", *pictures)
    tab.page.get_by_role("button", name=words.SHOW).first.wait_for(timeout=60_000)
    tab.press(words.SHOW)
    tab.page.locator(".pr-verdict").wait_for(timeout=60_000)
    tab.settle()
    tab.close()


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--visits", type=int, default=16)
    parser.add_argument("--rounds", type=int, default=4)
    options = parser.parse_args()
    with sync_playwright() as driver, tempfile.TemporaryDirectory() as place:
        running = Running(app_file(), Path(place), samples_dir())
        server = running.start()
        browser = driver.chromium.launch(executable_path=CHROMIUM, headless=True, args=FLAGS)
        for slow in (False, True):
            times = [to_reading(browser, server, large(Path(place), 4 * slow + k), slow_link=slow) for k in range(options.rounds)]
            link = "10 Mbit/s" if slow else "loopback"
            sys.stdout.write(f"12 MP photo to reading, {link}: median {np.median(times):.2f} s, longest {max(times):.2f} s\n")
        sys.stdout.write(f"memory before the visits: {server.memory_mb():.0f} MB\n")
        take_eight(browser, server)
        for number in range(options.visits):
            visit(browser, server, photos())
            if number % 4 == 3:
                sys.stdout.write(f"memory after {number + 1} visits of 8 photos: {server.memory_mb():.0f} MB\n")
                sys.stdout.flush()
        browser.close()
        running.stop()


if __name__ == "__main__":
    main()
