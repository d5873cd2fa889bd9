"""The page with stand-ins that can learn: a photo's features follow from its mean colour; started by the browser tests."""

import zlib
from dataclasses import replace
from typing import Any

import numpy as np

from plugread import pipeline
from plugread.page import main
from plugread.reading.features import NAMES
from plugread.reading.looks import load_looks
from plugread.reading.portrait import Portrait
from plugread.records import Box, PhotoRead
from tests.page import stand_ins


def portrait(source: object, nose_box: Box | None = None) -> Portrait:
    """Measure a photo as the stand-in for reading does; its bytes tell plug from plug."""
    data = source.read_bytes()  # type: ignore[attr-defined]
    lab = stand_ins.read_photo(data, name="photo").plugs[0].measures.lab
    assert lab is not None
    rng = np.random.default_rng(zlib.crc32(data))
    vector = rng.normal(0, 0.1, len(NAMES)) + lab[0] / 30
    return Portrait(vector, rng.random(256) < 0.5, dict.fromkeys(load_looks().look, 1.0), "paper")


def read_photo(source: bytes, *, model: Any = None, **other: Any) -> PhotoRead:
    """Read a photo as the stand-in does, and note a taught model."""
    photo = stand_ins.read_photo(source, **other)
    return photo if model is None else replace(photo, notes=("read by the taught model",))


stand_ins.install()
pipeline.portrait, pipeline.read_photo = portrait, read_photo  # type: ignore[assignment]
main.run()
