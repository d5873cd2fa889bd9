"""Lay many small pictures, with their label maps, on one sheet to look at.

python -m sample_images.render.contact_sheet --seeds 0:24 --out /tmp/sheet.jpg [--masks] [--size 256x192] [--spp 16]
python -m sample_images.render.contact_sheet --files a.jpg b.jpg --out /tmp/sheet.jpg
"""

from __future__ import annotations

import argparse
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.render.colour import encode

Pixels = NDArray[np.uint8]

PART_COLOURS = np.array(
    [
        (40, 40, 40),
        (240, 240, 90),
        (230, 120, 30),
        (220, 40, 60),
        (60, 200, 80),
        (50, 130, 230),
        (150, 90, 220),
        (160, 160, 170),
        (250, 250, 250),
    ],
    np.uint8,
)
"""One colour a part, in the order of `mesh.PARTS`."""


def developed(linear: NDArray[np.floating]) -> Pixels:
    """Return a plain sRGB rendering of a linear picture, exposed for its own level."""
    level = np.quantile(linear.mean(-1), 0.5) + 0.25 * linear.mean()
    x = np.asarray(linear, float) * (0.25 / max(float(level), 1e-6))
    return (encode(x / (1 + np.clip(x - 0.7, 0, None))) * 255).round().astype(np.uint8)


def tiled(pictures: list[Pixels], columns: int) -> Pixels:
    """Return pictures of one size side by side in rows of `columns`."""
    blank = np.zeros_like(pictures[0])
    padded = pictures + [blank] * (-len(pictures) % columns)
    rows = [np.concatenate(padded[k : k + columns], 1) for k in range(0, len(padded), columns)]
    return np.concatenate(rows, 0)


def of_seeds(seeds: range, size_px: tuple[int, int], spp: int, *, masks: bool, detail: float) -> list[Pixels]:
    """Render the scenes of `seeds` and return them developed, with their label maps beside them when `masks`."""
    from sample_images.render import renderer
    from sample_images.render.scene import Request, compose

    out = []
    for seed in seeds:
        scene = compose(Request(seed=seed, size_px=size_px, detail=detail))
        picture = developed(
            renderer.picture(scene.mesh, scene.light.radiance, scene.camera, spp=spp, seed=seed % 2**31, denoise=True)
        )
        cv2.putText(picture, str(seed), (3, 12), cv2.FONT_HERSHEY_SIMPLEX, 0.4, (255, 60, 60), 1)
        if masks:
            picture = np.concatenate([picture, PART_COLOURS[renderer.labels(scene.mesh, scene.camera).part]], 1)
        out.append(picture)
    return out


def of_files(files: list[Path], size_px: tuple[int, int]) -> list[Pixels]:
    """Return the pictures of `files` fitted into one size, names written on them."""
    out = []
    for path in files:
        image = cv2.imread(str(path), cv2.IMREAD_COLOR_RGB)
        scale = min(size_px[0] / image.shape[1], size_px[1] / image.shape[0])
        small = cv2.resize(image, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        tile = np.zeros((size_px[1], size_px[0], 3), np.uint8)
        tile[: small.shape[0], : small.shape[1]] = small
        cv2.putText(tile, path.stem, (4, size_px[1] - 6), cv2.FONT_HERSHEY_SIMPLEX, 0.45, (255, 255, 80), 1)
        out.append(tile)
    return out


def main(arguments: list[str] | None = None) -> int:
    """Write the sheet."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seeds", help="A:B")
    parser.add_argument("--files", nargs="*", type=Path, default=[])
    parser.add_argument("--size", default="256x192")
    parser.add_argument("--spp", type=int, default=16)
    parser.add_argument("--detail", type=float, default=0.5)
    parser.add_argument("--columns", type=int, default=5)
    parser.add_argument("--masks", action="store_true")
    parser.add_argument("--out", type=Path, required=True)
    options = parser.parse_args(arguments)
    width, height = (int(n) for n in options.size.split("x"))
    pictures = of_files(options.files, (width, height))
    if options.seeds:
        low, high = (int(n) for n in options.seeds.split(":"))
        pictures += of_seeds(range(low, high), (width, height), options.spp, masks=options.masks, detail=options.detail)
    cv2.imwrite(str(options.out), tiled(pictures, options.columns)[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 88])
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
