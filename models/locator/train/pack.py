"""Take a few rendered pictures home: each through a camera drawn from its seed, as JPEG, with all that is known of it.

    python -m models.locator.train.pack --data DATA --split val --count 160 --out OUT/val_pack.npz

The pack is an npz with, for each picture k: `picture_k` (JPEG bytes), `parts_k` and `plug_k` (PNG bytes), and for all
together `keys`, `view`, `count`, `seed`, `quality` as in a shard (`models.locator.train.shards`). About 90 kB a picture.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np
import torch
from numpy.typing import NDArray

from models.locator.train.camera import photographed

JPEG_QUALITY = 93


class Picture(NamedTuple):
    """One picture of a pack, decoded."""

    rgb: NDArray[np.uint8]
    parts: NDArray[np.uint8]
    plug: NDArray[np.uint8]
    keys: NDArray[np.float32]
    view: NDArray[np.uint8]
    count: int
    seed: int
    quality: int


def pictures(path: Path) -> Iterator[Picture]:
    """Yield the pictures of a pack."""
    with np.load(path) as file:
        whole = {name: file[name] for name in ("keys", "view", "count", "seed", "quality")}
        for k in range(len(whole["seed"])):
            rgb = cv2.imdecode(file[f"picture_{k}"], cv2.IMREAD_COLOR_RGB)
            parts, plug = (cv2.imdecode(file[f"{name}_{k}"], cv2.IMREAD_UNCHANGED) for name in ("parts", "plug"))
            row = {name: whole[name][k] for name in whole}
            numbers = {name: int(row[name]) for name in ("count", "seed", "quality")}
            yield Picture(rgb, parts, plug, row["keys"], row["view"], **numbers)


def shot(linear: NDArray[np.float16], seed: int, *, spoil: bool) -> tuple[NDArray[np.uint8], int]:
    """Return one scene (h, w, 3) as 8-bit RGB through a camera that depends on `seed` only, and its quality."""
    torch.manual_seed(seed)
    random.seed(seed)
    scene = torch.from_numpy(np.nan_to_num(linear.astype(np.float32))).permute(2, 0, 1)[None]
    shots = photographed(scene, spoil=spoil)
    return (shots.rgb[0].permute(1, 2, 0).numpy() * 255).round().astype(np.uint8), int(shots.quality[0])


def chosen(folder: Path, split: str, count: int) -> Iterator[dict[str, NDArray[np.generic]]]:
    """Yield up to `count` pictures of a split, each as a dictionary of the shard's arrays."""
    left = count
    for path in sorted(folder.glob("**/*.npz")):
        if left <= 0:
            return
        with np.load(path) as file:
            rows = np.flatnonzero(np.broadcast_to(file["split"], len(file["seed"])).astype(str) == split)[:left]
            arrays = {name: file[name][rows] for name in file.files} if len(rows) else {}
        for k in range(len(rows)):
            yield {name: value[k] for name, value in arrays.items()}
        left -= len(rows)


def main() -> None:
    """Write the pack named on the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--split", default="val")
    parser.add_argument("--count", type=int, default=160)
    options = parser.parse_args()
    files: dict[str, NDArray[np.generic]] = {}
    rows: dict[str, list[object]] = {name: [] for name in ("keys", "view", "count", "seed", "quality", "truth")}
    for k, scene in enumerate(chosen(options.data, options.split, options.count)):
        rgb, quality = shot(scene["image"], int(scene["seed"]), spoil=True)
        files[f"picture_{k}"] = cv2.imencode(".jpg", rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])[1]
        for name in ("parts", "plug"):
            files[f"{name}_{k}"] = cv2.imencode(".png", scene[name])[1]
        for name, values in rows.items():
            values.append(quality if name == "quality" else scene.get(name, ""))
    np.savez(options.out, **files, **{name: np.array(values) for name, values in rows.items()})
    print(f"{options.out}: {len(rows['seed'])} pictures, {options.out.stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
