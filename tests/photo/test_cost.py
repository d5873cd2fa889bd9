"""What opening a photo costs: memory of large files, and what must stay unloaded."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

READ = """
import resource, sys
from plugread.photo.decode import open_photo
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
photo = open_photo(sys.argv[1])
used = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
print(photo.scale, photo.size[0], photo.size[1], round(used))
"""


def _large_jpeg(path: Path, width: int, height: int) -> Path:
    tile = np.random.default_rng(0).integers(0, 255, (height // 40, width // 40, 3), dtype=np.uint8)
    cv2.imwrite(str(path), cv2.resize(tile, (width, height), interpolation=cv2.INTER_LINEAR), [cv2.IMWRITE_JPEG_QUALITY, 88])
    return path


@pytest.mark.skipif(sys.platform == "win32", reason="the resource module is not there")
@pytest.mark.parametrize(("width", "height", "scale"), [(8160, 6120, 1), (12000, 9000, 2)], ids=["50 MP", "108 MP"])
def test_a_large_photo_stays_below_600_megabytes(tmp_path: Path, width: int, height: int, scale: int) -> None:
    """A 50-million-pixel JPEG is unpacked in full, a larger one at half size; both stay below 600 MB."""
    path = _large_jpeg(tmp_path / "large.jpg", width, height)
    done = subprocess.run([sys.executable, "-c", READ, str(path)], capture_output=True, text=True, check=True)
    found_scale, w, h, used_mb = map(int, done.stdout.split())
    assert (found_scale, w, h) == (scale, width, height)
    assert used_mb < 600


def test_reading_loads_no_heavy_library() -> None:
    """From bytes to a reading, neither scipy nor scikit-learn nor pandas nor streamlit is imported."""
    code = (
        "import sys\n"
        "from tests.photo import files\n"
        "from plugread.measure.plug import measure_plug\n"
        "from plugread.photo.by_hand import end_from_box\n"
        "from plugread.photo.decode import open_photo\n"
        "from plugread.photo.quality import judge\n"
        "from plugread.photo.white import find_white\n"
        "from plugread.reading.by_rules import read\n"
        "photo = open_photo(files.encoded())\n"
        "end = end_from_box(photo, (100, 70, 80, 50))\n"
        "quality = judge(photo, end)\n"
        "read(measure_plug(photo, end, find_white(photo, (end,)), quality).measures, quality, end)\n"
        "print([m for m in ('scipy', 'sklearn', 'pandas', 'streamlit') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2])
    assert done.stdout.strip() == "[]"
