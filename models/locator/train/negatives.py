"""Collect photos without a plug from the wheels of scikit-image and scikit-learn, for a machine that has neither.

    python -m models.locator.train.negatives .whl/negatives.npz

One JPEG a crop, named `<photo>-<k>`; `models.locator.train.mixing.HELD_OUT` says which photos are kept for testing.
"""

from __future__ import annotations

import argparse
from importlib.util import find_spec
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

PHOTOS = {
    "skimage": (
        "astronaut", "brick", "camera", "chelsea", "coffee", "coins", "grass", "gravel", "hubble_deep_field", "ihc", "moon",
        "motorcycle_left", "motorcycle_right", "page", "retina", "rocket", "text",
    ),
    "sklearn": ("china", "flower"),
}  # fmt: skip
CROPS, WIDTH, HEIGHT, JPEG_QUALITY = 4, 512, 384, 90


def crops(picture: NDArray[np.uint8], seed: int) -> list[NDArray[np.uint8]]:
    """Return 4 : 3 crops of shrinking size at random places, resized."""
    rng = np.random.default_rng(seed)
    height, width = picture.shape[:2]
    found = []
    for k in range(CROPS):
        side = min(width / WIDTH, height / HEIGHT) * (1 - 0.2 * k)
        w, h = int(WIDTH * side), int(HEIGHT * side)
        x, y = rng.integers(0, width - w + 1), rng.integers(0, height - h + 1)
        found.append(cv2.resize(picture[y : y + h, x : x + w], (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA))
    return found


def main() -> None:
    """Write the file named on the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    out = parser.parse_args().out
    files: dict[str, NDArray[np.uint8]] = {}
    for package, names in PHOTOS.items():
        spec = find_spec(package)
        assert spec is not None and spec.origin is not None, package
        for path in sorted(Path(spec.origin).parent.rglob("*.*")):
            if path.stem in names and path.suffix in (".png", ".jpg"):
                for k, crop in enumerate(crops(cv2.imread(str(path), cv2.IMREAD_COLOR), seed=len(files))):
                    files[f"{path.stem}-{k}"] = cv2.imencode(".jpg", crop, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])[1]
    out.parent.mkdir(parents=True, exist_ok=True)
    np.savez(out, **files)
    print(f"{len(files)} crops, {out.stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
