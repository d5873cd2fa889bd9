"""Render training pictures with masks and truth into shards, with many worker processes on one GPU.

    python -m sample_images.render.training_world --seeds 0:20000 --workers 14 --gpu 0 --out DIR [--until EPOCH_SECONDS]

Each worker takes every N-th seed of the range and writes ``s<worker>_<number>.npz`` of about 50 pictures; a shard is
renamed into place when complete, so a reader may follow along. A picture that fails twice is listed in
``failed_<worker>.txt`` and never silently missing. Arrays of a shard, n pictures of H x W:

    image (n, H, W, 3) float16 linear sRGB, robust mean 0.18    parts (n, H, W) uint8, index into mesh.PARTS
    plug (n, H, W) uint8, 0 or number of the plug               keys (n, 8, 4, 2) float32 px, order truth.KEYS, nan = absent
    view (n, 8) uint8, index into truth.VIEWS                   count (n,) visible noses
    seed, family, split, sheet (n,)                             truth (n,) JSON text

`--world close` makes close-ups of one plug each instead, with the arrays listed in `close_ups`.

On a machine without internet (Python 3.12, one GPU, 16 cores), with ``.whl`` packed by `sample_images.render.carry`:

    mkdir -p /tmp/site && tar -xJf .whl/render.tar.xz -C /tmp/site && export PYTHONPATH=/tmp/site:$PWD
    python3 -m sample_images.render.training_world --seeds 0:20000 --workers 14 --gpu 0 --out /tmp/shards
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

MOST_PLUGS = 8
SHARD = 50
MEAN_LEVEL = 0.18
MOST_LEVEL = 60.0


Rendered = tuple[NDArray[np.float32], Any, list[tuple[int, NDArray[np.float64], str]], dict[str, Any]]
"""Linear picture, labels, number, key points (4, 2) in pixels and view of each plug, and what else is known of the scene."""


def level(image: NDArray[np.float32]) -> NDArray[np.float16]:
    """Return the picture scaled to a robust mean of `MEAN_LEVEL`: highlights count at most four medians."""
    luminance = image.mean(-1)
    mean = float(np.minimum(luminance, 4 * np.median(luminance) + 1e-4).mean())
    return np.clip(image * (MEAN_LEVEL / max(mean, 1e-6)), 0, MOST_LEVEL).astype(np.float16)


def one_picture(seed: int, size_px: tuple[int, int], spp: int, detail: float = 0.5, world: str = "first") -> dict[str, Any]:
    """Return one picture's arrays, as listed in the module text, without the leading n."""
    from sample_images.render import close_ups
    from sample_images.render.truth import KEYS, VIEWS

    if world == "close":
        return close_ups.one_picture(seed, size_px, spp, detail)
    image, labels, plugs, known = _second_world(seed, size_px, spp) if world == "second" else _world(seed, size_px, spp, detail)
    keys = np.full((MOST_PLUGS, len(KEYS), 2), np.nan, np.float32)
    view = np.zeros(MOST_PLUGS, np.uint8)
    for number, points, seen in plugs:
        keys[number - 1], view[number - 1] = points, VIEWS.index(seen)
    return {
        "image": level(image), "parts": labels.part, "plug": labels.plug, "keys": keys, "view": view,
        "count": np.uint8((view > 0).sum()), "seed": np.int64(seed), "family": known["family"], "split": known["split"],
        "sheet": "+".join(s["kind"] for s in known["sheets"]) or "none", "truth": json.dumps(known),
    }  # fmt: skip


def _world(seed: int, size_px: tuple[int, int], spp: int, detail: float) -> Rendered:
    from sample_images.render import renderer, truth
    from sample_images.render.scene import Request, compose

    scene = compose(Request(seed=seed, size_px=size_px, detail=detail))
    image, labels = renderer.render(scene.mesh, scene.light.radiance, scene.camera, spp=spp, seed=seed % 2**31)
    known = truth.truth_of(scene, labels)
    placed = zip(sorted(scene.plugs, key=lambda p: p.number), known["plugs"], strict=True)
    plugs = [(plug.number, truth.key_points_px(plug, scene.camera), facts["view"]) for plug, facts in placed]
    return image, labels, plugs, known


def _second_world(seed: int, size_px: tuple[int, int], spp: int) -> Rendered:
    from sample_images.render import renderer
    from sample_images.render.second_world import scene as second

    scene = second.compose(seed, size_px)
    image, labels = renderer.render(scene.mesh, scene.sky, scene.camera, spp=spp, seed=seed % 2**31)
    plugs = [(p.number, second.keys_px(p, scene.camera), second.seen_from(p, scene.camera, labels)) for p in scene.plugs]
    return image, labels, plugs, second.known(seed, labels)


def work(worker: int, seeds: range, options: argparse.Namespace) -> None:
    """Render the worker's share of `seeds`, shard by shard, until done or out of time."""
    if options.gpu is not None:
        os.environ["CUDA_VISIBLE_DEVICES"] = str(options.gpu)
    import cv2

    cv2.setNumThreads(1)
    waiting: list[dict[str, Any]] = []
    shard, made, start = 0, 0, time.time()
    for seed in seeds:
        if options.until and time.time() >= options.until:
            break
        picture = _tried_twice(seed, options, options.out / f"failed_{worker:02d}.txt")
        if picture is None:
            continue
        waiting.append(picture)
        made += 1
        if len(waiting) >= options.shard:
            _write(options.out / f"s{worker:02d}_{shard:04d}.npz", waiting)
            waiting, shard = [], shard + 1
    if waiting:
        _write(options.out / f"s{worker:02d}_{shard:04d}.npz", waiting)
    print(f"worker {worker}: {made} pictures, {(time.time() - start) / max(made, 1):.2f} s each", flush=True)


def _tried_twice(seed: int, options: argparse.Namespace, failures: Path) -> dict[str, Any] | None:
    for attempt in range(2):
        try:
            return one_picture(seed, options.size, options.spp, options.detail, options.world)
        except Exception as error:  # one bad scene must not end the night's run; it is listed
            if attempt:
                with failures.open("a", encoding="utf-8") as out:
                    out.write(f"{seed} {type(error).__name__}: {str(error)[:200]}\n")
                print(f"seed {seed} failed twice: {type(error).__name__}: {str(error)[:120]}", file=sys.stderr, flush=True)
    return None


def _write(path: Path, pictures: list[dict[str, Any]]) -> None:
    half = path.with_suffix(".part")
    with half.open("wb") as out:
        np.savez(out, **{name: np.stack([p[name] for p in pictures]) for name in pictures[0]})
    half.rename(path)


def _size(text: str) -> tuple[int, int]:
    width, _, height = text.partition("x")
    return int(width), int(height)


def _seeds(text: str) -> range:
    low, _, high = text.partition(":")
    return range(int(low), int(high))


def parsed(arguments: list[str] | None = None) -> argparse.Namespace:
    """Return the command's options."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seeds", type=_seeds, required=True, help="A:B, half-open")
    parser.add_argument("--world", choices=("first", "second", "close"), default="first", help="second: by another hand")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--gpu", type=int, help="index of the GPU all workers use")
    parser.add_argument("--size", type=_size, default=(512, 384), help="WxH, default 512x384")
    parser.add_argument("--spp", type=int, default=40, help="light paths a pixel")
    parser.add_argument("--detail", type=float, default=0.5, help="mesh density")
    parser.add_argument("--shard", type=int, default=SHARD)
    parser.add_argument("--until", type=float, default=0.0, help="stop at this time, seconds since 1970")
    parser.add_argument("--out", type=Path, required=True)
    return parser.parse_args(arguments)


def main(arguments: list[str] | None = None) -> int:
    """Render the asked range of seeds."""
    options = parsed(arguments)
    options.out.mkdir(parents=True, exist_ok=True)
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[name] = "1"
    spawn = multiprocessing.get_context("spawn")
    shares = [options.seeds[k :: options.workers] for k in range(options.workers)]
    if options.workers == 1:
        work(0, options.seeds, options)
        return 0
    processes = [spawn.Process(target=work, args=(k, share, options)) for k, share in enumerate(shares)]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
    return int(any(p.exitcode for p in processes))


if __name__ == "__main__":
    raise SystemExit(main())
