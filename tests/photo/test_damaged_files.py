"""Damaged files: whatever is done to the bytes of a photo, it is read or refused with a `PhotoError`; nothing else comes out.

`PLUGREAD_FUZZ=10000` raises the number of cases.
"""

from __future__ import annotations

import os
import time
from functools import cache

import numpy as np
import pytest

from plugread.errors import PhotoError
from plugread.measure.plug import measure_plug
from plugread.photo.by_hand import end_from_box
from plugread.photo.decode import open_photo
from plugread.photo.quality import judge
from plugread.photo.white import find_white
from plugread.reading.by_rules import read
from tests.photo import files

CASES = int(os.environ.get("PLUGREAD_FUZZ", "400"))
KINDS = ("JPEG", "JPEG", "PNG", "WEBP", "AVIF", "TIFF", "BMP", "16 bit", "alpha", "P3", "turned")
LONGEST_S = 10.0
"""Processor time: 120 million pixels may stand in a damaged header of a file large enough to hold them."""


@cache
def _good(kind: str) -> bytes:
    scene = np.random.default_rng(3).normal(0, 12, (128, 192, 3)) + files.picture()
    rgb = np.clip(scene, 0, 255).astype(np.uint8)
    if kind == "16 bit":
        return files.png16(rgb.astype(np.uint16) * 257)
    if kind == "alpha":
        return files.encoded("PNG", rgb, mode="RGBA")
    if kind == "P3":
        return files.encoded("JPEG", rgb, icc_profile=files.profile())
    if kind == "turned":
        return files.encoded("JPEG", rgb, turn=6)
    return files.encoded(kind, rgb)


def _damaged(seed: int) -> bytes:
    """A good file with bytes changed, cut out, doubled, or cut off; the first 200 bytes are hit more often than the rest."""
    rng = np.random.default_rng(seed)
    data = bytearray(_good(KINDS[seed % len(KINDS)]))
    for _ in range(int(rng.integers(1, 9))):
        end = min(len(data), 200) if rng.random() < 0.6 else len(data)
        at = int(rng.integers(0, end))
        how = rng.random()
        if how < 0.65:
            data[at] = int(rng.integers(0, 256))
        elif how < 0.8:
            data[at : at + int(rng.integers(1, 20))] = bytes(rng.integers(0, 256, int(rng.integers(0, 20)), dtype=np.uint8))
        elif how < 0.9:
            data[at:at] = data[at : at + int(rng.integers(1, 40))]
        else:
            del data[max(at, 8) :]
    return bytes(data)


def _read(data: bytes) -> str:
    """The whole way from bytes to a reading inside a box."""
    try:
        photo = open_photo(data)
        end = end_from_box(photo, (20, 20, 80, 60))
    except PhotoError:
        return "refused"
    quality = judge(photo, end)
    measured = measure_plug(photo, end, find_white(photo, (end,)), quality)
    return read(measured.measures, quality, end).status


@pytest.mark.parametrize("block", range(8))
def test_no_damaged_file_brings_the_reading_down(block: int) -> None:
    """Each damaged file ends in a reading or a `PhotoError`, within the time limit."""
    for seed in range(block, CASES, 8):
        start = time.process_time()
        assert _read(_damaged(seed)) in ("read", "unsure", "refused")
        assert time.process_time() - start < LONGEST_S, f"case {seed} hung"


def test_the_undamaged_files_are_read() -> None:
    """The damage test starts from files that do open."""
    assert {_read(_good(kind)) for kind in KINDS} <= {"read", "unsure"}
