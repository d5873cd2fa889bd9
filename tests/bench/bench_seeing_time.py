"""How long photos take at 12 megapixels: over one full decode in the same process, and cold from the command line.

    python -m tests.bench.bench_seeing_time [PHOTO ...]

Without photos: a side view, an end view, two plugs and a row of the sample set. Each photo is enlarged to 12 megapixels, and
grain as of a small sensor is added until the JPEG is as large as a phone writes it, some 0.3 MB a megapixel (3.6 MB for 12;
phones write 3 to 5 MB, common practice, no source): a smooth enlargement is a quarter of that and far too cheap to decode.
All times are the least of `ROUNDS`. `--threads` sets how many OpenCV may use.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.photo.decode import open_photo
from plugread.pipeline import read_photo
from plugread.records import PlugType
from plugread.resources import samples_dir

ROUNDS = 7
MEGAPIXELS, BYTES_A_PIXEL, QUALITY = 12.0, 0.3, 92
GRAIN_BLUR_PX = 0.6
"""Grain of a colour-filter sensor is not white: neighbouring pixels share what was interpolated (our estimate)."""
THREAD = PlugType(thread="M14x1.25")
"""The thread is told, so that the gap is taken wherever it can be."""

Picture = NDArray[np.uint8]


def phone_file(bgr: Picture) -> bytes:
    """Return a picture as a 12-megapixel JPEG of about the size a phone writes; its own detail does not change."""
    factor = (MEGAPIXELS * 1e6 / (bgr.shape[0] * bgr.shape[1])) ** 0.5
    large = cv2.resize(bgr, None, fx=factor, fy=factor, interpolation=cv2.INTER_CUBIC).astype(np.float32)
    grain = np.random.default_rng(0).standard_normal(large.shape, dtype=np.float32)
    grain = cv2.GaussianBlur(grain, (0, 0), GRAIN_BLUR_PX)
    for codes in np.arange(0.0, 40.0, 2.0):
        grainy = np.clip(large + codes * grain, 0, 255).astype(np.uint8)
        data = bytes(cv2.imencode(".jpg", grainy, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])[1])
        if len(data) >= BYTES_A_PIXEL * MEGAPIXELS * 1e6:
            break
    return data


def samples() -> dict[str, Picture]:
    """Return the pictures timed by default; the two plugs are the left half of the row."""
    engine = samples_dir() / "engine_healthy"
    row = cv2.imread(str(engine / "row.jpg"))
    readings = samples_dir() / "readings"
    return {
        "side view": cv2.imread(str(readings / "normal_1.jpg")),
        "side view, small nose": cv2.imread(str(engine / "c1.jpg")),
        "other view": cv2.imread(str(readings / "normal_2.jpg")),
        "two plugs": np.ascontiguousarray(row[:, : row.shape[1] // 2]),
        "row of four": row,
    }


def figures(name: str, data: bytes) -> str:
    """Return full and quick reading over one decode, and a cold command, of one file."""
    decode = least(lambda: open_photo(data, name=name))
    full, quick = (least(lambda q=q: read_photo(data, name=name, quick=q, plug=THREAD)) for q in (False, True))
    read = read_photo(data, name=name, plug=THREAD)
    found = f"{len(read.plugs)} found, {sum(p.measures.gap_mm is not None for p in read.plugs)} gaps"
    ratios = f"{full / decode:5.2f} / {quick / decode:.2f}"
    times = f"decode {decode * 1e3:.0f}, full {full * 1e3:.0f}, quick {quick * 1e3:.0f} ms, cold {cold(data):.2f} s"
    return f"{name:<24} {ratios}   ({len(data) / 1e6:.1f} MB, {times}; {found})"


def cold(data: bytes) -> float:
    """Return the wall time in seconds of `plugread read` in a process of its own, compiled once as an installed program is."""
    with tempfile.TemporaryDirectory() as folder:
        photo = Path(folder) / "photo.jpg"
        photo.write_bytes(data)
        around = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"} | {"PYTHONPYCACHEPREFIX": folder}
        command = [sys.executable, "-m", "plugread", "read", str(photo), "--thread", str(THREAD.thread), "--json"]
        return least(lambda: subprocess.run(command, capture_output=True, check=False, env=around))


def least(work: Callable[[], object]) -> float:
    """Return the shortest of some runs, seconds."""
    taken = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        work()
        taken.append(time.perf_counter() - began)
    return min(taken)


def main() -> None:
    """Print a line a photo."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("photos", type=Path, nargs="*")
    parser.add_argument("--threads", type=int, help="threads OpenCV may use (not in the cold command, which takes all)")
    options = parser.parse_args()
    if options.threads:
        cv2.setNumThreads(options.threads)
    pictures = {p.stem: cv2.imread(str(p)) for p in options.photos} or samples()
    sys.stdout.write(f"12 MP over one decode, full / quick; OpenCV on {cv2.getNumThreads()} threads\n")
    for name, picture in pictures.items():
        sys.stdout.write(figures(name, phone_file(picture)) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
