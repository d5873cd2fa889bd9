"""Phone photos with exact truth for tuning (split val) and judging (split test) the measurements; never committed.

    python -m sample_images.render.judged_photos --split test --count 200 --rows 24 --out DIR [--workers N --gpu 0] [--pack DIR]

Line-ups in cylinder order, then single plugs, every firing-end reading equally often and half of them side-on, with paper, grey
card, both, a chart or nothing beside them, then pictures to refuse: things that are no plug, near-plugs and wrong ends of plugs
(`--empty`), photos spoiled by every fault (`--spoiled`). The truth lists each plug's readings with amounts.
Writes NAME.jpg, NAME.png (part + 16 x plug number) and NAME.json (truth).
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import sys
import tarfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

MOST_PACKED = 15 * 2**20
REFERENCES = (("paper",), ("card",), ("paper", "card"), ("chart",), ())
VIEWS = ("side", "side", "oblique", "end")
NEAR = ("washer_bolt", "fitting", "glow_pin", "lug", "injector", "upper_end", "boot", "socket", "walnut", "tap")
"""What is most easily taken for a plug: every other picture without one has it in the middle."""


@dataclass(frozen=True)
class Wanted:
    """One picture: its seed and what is fixed about it; the rest is drawn from the seed."""

    name: str
    seed: int
    layout: str
    view: str | None = None
    """Of the plug; "back" is its wrong end, to be refused."""
    references: tuple[str, ...] | None = None
    fault: str | None = None
    reading: str | None = None
    shown: bool = False
    """The reading is plain to see, see `shown`."""
    plug_seed: int | None = None
    things: tuple[str, ...] | None = None


def wanted(split: str, singles: int, rows: int, empty: int, spoiled: int) -> list[Wanted]:
    """Return the list of pictures of a split; the same arguments give the same list."""
    from sample_images.render.families import SEEDS
    from sample_images.render.phone import FAULTS
    from sample_images.render.plug.spec import FIRING_END

    start = SEEDS[split][0] + 500_000
    rng = np.random.default_rng(start)
    one, bad = [], []
    for k in range(singles):
        view = VIEWS[(k + k // len(FIRING_END)) % len(VIEWS)]
        papers = REFERENCES[int(rng.integers(len(REFERENCES)))]
        reading = FIRING_END[k % len(FIRING_END)]
        one.append(Wanted(f"one_{k:04d}", start + k, "one", view, papers, None, reading, plug_seed=start + k))
    row = [Wanted(f"row_{k:04d}", start + 10_000 + k, "row") for k in range(rows)]
    for k in range(spoiled):
        view = VIEWS[(k + k // len(FAULTS)) % len(VIEWS)]
        bad.append(Wanted(f"bad_{k:04d}", start + 30_000 + k, "one", view, (), FAULTS[k % len(FAULTS)]))
    return row + one + [_plugless(start + 20_000, k) for k in range(empty)] + bad


def _plugless(start: int, k: int) -> Wanted:
    """Return the k-th picture without a firing end: by turns a near-plug, any thing, a near-plug, the wrong end of a plug."""
    name, seed = f"none_{k:04d}", start + k
    if k % 4 == 3:
        return Wanted(name, seed, "one", "back", ())
    if k % 2 == 0:
        rng = np.random.default_rng(seed)
        others = tuple(str(t) for t in rng.choice(NEAR, int(rng.integers(0, 4))))
        return Wanted(name, seed, "none", things=(NEAR[k // 2 % len(NEAR)], *others))
    return Wanted(name, seed, "none")


def taught(split: str, plugs: int) -> list[Wanted]:
    """Return pictures that show one known reading each: `plugs` plugs of every one of the firing end, two photos of each."""
    from sample_images.render.families import SEEDS
    from sample_images.render.plug.spec import FIRING_END
    from sample_images.render.shown import view_of

    start = SEEDS[split][0] + 700_000
    rng = np.random.default_rng(start)
    out = []
    for k in range(plugs):  # all readings in turn, so that a run cut short has them all
        for r, reading in enumerate(FIRING_END):
            for shot in range(2):
                view = view_of(rng, reading)
                references = (("paper",), ("card",), ("paper", "card"), ())[int(rng.integers(4))]
                seed = start + r * 1000 + 2 * k + shot
                out.append(
                    Wanted(f"{reading}-{k:03d}-{shot}", seed, "one", view, references, None, reading, True, start + r * 1000 + k)
                )
    return out


def _specs(want: Wanted) -> Any:
    """Return the plug of a picture with a known reading, None to draw it."""
    if want.reading is None:
        return None
    from sample_images.render.families import family_of
    from sample_images.render.plug.spec import random_spec
    from sample_images.render.shown import amount_of, shown_plug

    rng = np.random.default_rng([int(want.plug_seed or 0), 92])
    family = family_of(want.seed).plug_family
    if want.shown:
        return (shown_plug(rng, family, {want.reading: amount_of(rng, want.reading)}),)
    return (random_spec(rng, family=family, readings={want.reading: float(rng.uniform(0.4, 1.0))}, odd=False),)


def request_of(want: Wanted, size_px: tuple[int, int]) -> Any:
    """Return the scene request of a picture."""
    from sample_images.render.scene import Request
    from sample_images.render.shown import facing_of

    specs = _specs(want)
    return Request(
        seed=want.seed, layout=want.layout, view=want.view, references=want.references, size_px=size_px,
        detail=0.75 if want.layout == "one" else 0.45, tidy=want.layout != "none", specs=specs, things=want.things,
        pose="lie" if want.view == "back" else None, facing=facing_of(specs[0]) if want.shown else None,
    )  # fmt: skip


def render(want: Wanted, out: Path, size_px: tuple[int, int], spp: int) -> None:
    """Render one picture and write photo, mask and truth."""
    from dataclasses import replace

    from sample_images.render import phone, renderer, truth
    from sample_images.render.scene import compose

    scene = compose(request_of(want, size_px))
    linear = renderer.picture(scene.mesh, scene.light.radiance, scene.camera, spp=spp, seed=want.seed % 2**31, denoise=True)
    labels = renderer.labels(scene.mesh, scene.camera, scene.light.radiance, seed=want.seed % 2**31)
    rng = np.random.default_rng([want.seed, 91])
    setting = phone.random_phone(rng, scene.light.colour_on(np.array([0.0, 0.0, 1.0])), tidy=False)
    setting = replace(setting, orientation=1)
    if want.fault:
        setting = phone.spoiled(setting, want.fault, rng, scene.camera.width_px)
    known = truth.truth_of(scene, labels) | {
        "gains": list(setting.gains), "display_p3": setting.display_p3, "fault": want.fault, "reading": want.reading,
        "refuse": bool(want.fault) or want.name.startswith("none"), "plug_seed": want.plug_seed, "name": want.name,
    }  # fmt: skip
    (out / f"{want.name}.jpg").write_bytes(phone.photograph(linear, setting).jpeg)
    phone.save_mask(labels.part + 16 * labels.plug, out / f"{want.name}.png", phone.plug_palette())
    (out / f"{want.name}.json").write_text(json.dumps(known), encoding="utf-8")


def _work(listed: list[Wanted], options: argparse.Namespace) -> None:
    if options.gpu is not None:
        os.environ["CUDA_VISIBLE_DEVICES"] = str(options.gpu)
    for want in listed:
        if options.until and time.time() > options.until:
            return
        try:
            render(want, options.out, options.size, options.spp)
        except Exception as error:  # one bad scene must not end the run; it is listed
            print(f"{want.name} failed: {type(error).__name__}: {error}", file=sys.stderr, flush=True)


def pack(folder: Path, target: Path) -> None:
    """Write all files as ``judged_<k>.tar`` of at most `MOST_PACKED` bytes each, whole pictures together."""
    target.mkdir(parents=True, exist_ok=True)
    size, part = MOST_PACKED, -1
    archive: tarfile.TarFile | None = None
    for photo in sorted(folder.glob("*.jpg")):
        files = [f for f in (photo, photo.with_suffix(".png"), photo.with_suffix(".json")) if f.exists()]
        weight = sum(f.stat().st_size + 1536 for f in files)
        if archive is None or size + weight > MOST_PACKED:
            if archive is not None:
                archive.close()
            part, size = part + 1, 0
            archive = tarfile.open(target / f"judged_{part}.tar", "w")  # noqa: SIM115 - several members, closed below
        for file in files:
            archive.add(file, file.name)
        size += weight
    if archive is not None:
        archive.close()


def main(arguments: list[str] | None = None) -> int:
    """Render the asked pictures; exit code 1 when more than one in twenty is missing."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--split", choices=("train", "val", "test"), required=True)
    parser.add_argument(
        "--taught", type=int, default=0, help="instead: so many plugs of every firing-end reading, plain to see, two photos each"
    )
    parser.add_argument("--count", type=int, default=200, help="single plugs")
    parser.add_argument("--rows", type=int, default=24)
    parser.add_argument("--empty", type=int, default=40)
    parser.add_argument("--spoiled", type=int, default=30)
    parser.add_argument("--size", default="1600x1200")
    parser.add_argument("--spp", type=int, default=48)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--gpu", type=int)
    parser.add_argument("--until", type=float, default=0.0, help="stop at this time, seconds since 1970")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--pack", type=Path)
    options = parser.parse_args(arguments)
    options.size = tuple(int(n) for n in options.size.split("x"))
    options.out.mkdir(parents=True, exist_ok=True)
    listed = wanted(options.split, options.count, options.rows, options.empty, options.spoiled)
    if options.taught:
        listed = taught(options.split, options.taught)
    spawn = multiprocessing.get_context("spawn")
    processes = [spawn.Process(target=_work, args=(listed[k :: options.workers], options)) for k in range(options.workers)]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
    if options.pack:
        pack(options.out, options.pack)
    made = len(list(options.out.glob("*.json")))
    print(f"{made} of {len(listed)} pictures in {options.out}")
    return int(made < 0.95 * len(listed))


if __name__ == "__main__":
    raise SystemExit(main())
