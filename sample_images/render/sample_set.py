"""Rebuild the committed sample pictures from their list, `sample_set.toml`.

    python -m sample_images.render.sample_set [--only NAME ...] [--size 1600x1200] [--spp 256] [--workers N --gpu 0] [--pack DIR]

Writes ``sample_images/<file>.jpg`` and, in ``sample_images/truth/``, its mask (PNG, pixel value = part + 16 x plug) and truth
(JSON), both upright, then `sample_images/SOURCES.toml` with a hash of every picture. On the CPU one picture takes minutes;
``--pack`` adds tar files of at most 15 MiB for a machine that gives back few files.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import multiprocessing
import os
import sys
import tarfile
import time
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parent.parent
MOST_PACKED = 15 * 2**20
LEAST_PROTRUSION_MM = 1.2
"""Noses of the sample set stand out of the shell at least this far, so that a side view shows them."""
MOST_BYTES = 98_000
"""Largest photo of the committed set, so that a hundred make 10 MB; about what a message carries."""
KIND = "rendered, not a photograph"


class SampleSetError(ValueError):
    """The list of sample pictures asks for something that cannot be made."""


@dataclass(frozen=True)
class Shot:
    """One picture of the set: `file` relative to sample_images without suffix, and its row of the list."""

    file: str
    row: Mapping[str, Any]

    @property
    def seed(self) -> int:
        """Seed of the scene."""
        return int(self.row["seed"])


def shots(text: str | None = None) -> list[Shot]:
    """Return the pictures of the list, engines spelt out into one picture a cylinder and one of the row.

    Raises
    ------
    SampleSetError : if two pictures share a file or a seed, or a seed is not one of the set's own.
    """
    from sample_images.render.families import split_of

    if text is None:
        text = resources.files(__package__).joinpath("sample_set.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    out = [Shot(row["file"], row) for row in table.get("picture", [])]
    for engine in table.get("engine", []):
        out += _engine_shots(engine)
    for name, values in (("file", [s.file for s in out]), ("seed", [s.seed for s in out])):
        twice = sorted({v for v in values if values.count(v) > 1})
        if twice:
            raise SampleSetError(f"sample set not built: {name} {twice[0]!r} stands twice in the list; give each picture its own")
    for shot in out:
        if split_of(shot.seed) != "sample":
            raise SampleSetError(f"sample set not built: seed {shot.seed} of {shot.file} is not of the split 'sample'")
    return out


def _engine_shots(engine: Mapping[str, Any]) -> list[Shot]:
    shared = {k: engine[k] for k in ("setting_seed", "background", "light", "references", "fov_deg", "aperture_mm")}
    plugs = [{**engine["shape"], **plug} for plug in engine["plug"]]
    out = []
    for k, plug in enumerate(plugs):
        row = {**shared, "seed": engine["seed"] + k + 1, "plugs": [plug], "view": engine["view"], "pose": "lie", "things": []}
        row |= {"width_mm": engine["width_mm"], "shows": f"cylinder {plug['cylinder']}: {_worded(plug)}"}
        out.append(Shot(f"{engine['folder']}/c{plug['cylinder']}", row))
    order = ", ".join(str(p["cylinder"]) for p in plugs)
    row = {**shared, "seed": engine["seed"], "plugs": plugs, "layout": "row", "pose": "lie", "things": []}
    return [*out, Shot(f"{engine['folder']}/row", row | {"shows": f"all plugs in cylinder order, left to right: {order}"})]


def _worded(plug: Mapping[str, Any]) -> str:
    return ", ".join(name.replace("_", " ") for name in plug["readings"])


def request_of(shot: Shot, size_px: tuple[int, int]) -> Any:
    """Return the scene request of a picture; the mesh is as fine as the size needs."""
    from sample_images.render.scene import Request

    row = shot.row
    names = ("setting_seed", "layout", "pose", "view", "background", "light", "width_mm", "fov_deg", "aperture_mm", "roll_deg")
    given = {name: row[name] for name in names if name in row}
    given |= {name: tuple(row[name]) for name in ("references", "things") if name in row}
    specs = tuple(_spec(plug) for plug in row.get("plugs", []))
    detail = float(np.clip(size_px[0] / 1600, 0.35, 1.0))
    return Request(
        seed=shot.seed,
        specs=specs,
        size_px=size_px,
        detail=detail,
        tidy=bool(row.get("tidy", True)),
        roll_deg=given.pop("roll_deg", 0.0),
        **given,
    )


def _spec(plug: Mapping[str, Any]) -> Any:
    from sample_images.render.plug.spec import random_spec

    given = {k: plug[k] for k in ("thread", "seat", "reach_mm", "centre", "strap", "gap_mm") if k in plug}
    shape = random_spec(np.random.default_rng(plug["shape_seed"]), readings=plug["readings"], odd=False, **given)
    nose = replace(shape.nose, protrusion_mm=max(shape.nose.protrusion_mm, LEAST_PROTRUSION_MM))
    return replace(
        shape, nose=nose, seed=plug["seed"], wear=plug.get("wear", shape.wear), gap_mm=plug.get("gap_mm", shape.gap_mm)
    )


def render_shot(shot: Shot, out: Path, size_px: tuple[int, int], spp: int) -> None:
    """Render one picture and write photo, mask and truth under `out`."""
    from sample_images.render import phone, renderer, truth
    from sample_images.render.scene import compose

    scene = compose(request_of(shot, size_px))
    linear, labels = renderer.render(
        scene.mesh, scene.light.radiance, scene.camera, spp=spp, seed=shot.seed % 2**31, denoise=True
    )
    setting = phone_of(shot, scene)
    photo = phone.photograph(linear, setting)
    known = truth.truth_of(scene, labels) | {
        "file": f"{shot.file}.jpg", "shows": shot.row.get("shows", ""), "kind": KIND, "fault": shot.row.get("fault"),
        "gains": [round(g, 4) for g in setting.gains], "orientation": setting.orientation, "display_p3": setting.display_p3,
    }  # fmt: skip
    for path in (out / f"{shot.file}.jpg", out / "truth" / f"{shot.file}.png"):
        path.parent.mkdir(parents=True, exist_ok=True)
    (out / f"{shot.file}.jpg").write_bytes(phone.light_enough(photo.upright, setting, MOST_BYTES))
    phone.save_mask(labels.part + 16 * labels.plug, out / "truth" / f"{shot.file}.png", phone.plug_palette())
    (out / "truth" / f"{shot.file}.json").write_text(json.dumps(known, indent=1) + "\n", encoding="utf-8")


def phone_of(shot: Shot, scene: Any) -> Any:
    """Return the phone's settings: shared by the pictures of one engine, spoiled where the list asks for a fault."""
    from sample_images.render import phone

    rng = np.random.default_rng([int(shot.row.get("setting_seed", shot.seed)), 90])
    light = scene.light.colour_on(np.array([0.0, 0.0, 1.0]))
    setting = phone.random_phone(rng, light, tidy=True)
    setting = replace(
        setting,
        quality=int(shot.row.get("quality", setting.quality)),
        orientation=int(shot.row.get("orientation", setting.orientation)),
    )
    if "fault" in shot.row:
        setting = phone.spoiled(setting, shot.row["fault"], rng, scene.camera.width_px)
    return setting


def write_sources(folder: Path, listed: Iterable[Shot]) -> None:
    """Write SOURCES.toml: file, hash, seed and content of every picture there is."""
    folder.mkdir(parents=True, exist_ok=True)
    lines = ["# Made by sample_images/render/sample_set.py; do not edit.", f'kind = "{KIND}"', 'licence = "as the project"', ""]
    for shot in sorted(listed, key=lambda s: s.file):
        path = folder / f"{shot.file}.jpg"
        if path.exists():
            digest = hashlib.sha256(path.read_bytes()).hexdigest()
            lines += [
                "[[picture]]",
                f'file = "{shot.file}.jpg"',
                f'sha256 = "{digest}"',
                f"seed = {shot.seed}",
                f'shows = "{shot.row.get("shows", "")}"',
                f'kind = "{KIND}"',
                "",
            ]
    (folder / "SOURCES.toml").write_text("\n".join(lines), encoding="utf-8")


def pack(folder: Path, listed: Iterable[Shot], target: Path) -> None:
    """Write the set's files as ``set_<k>.tar`` of at most `MOST_PACKED` bytes each."""
    target.mkdir(parents=True, exist_ok=True)
    names = [n for s in listed for n in (f"{s.file}.jpg", f"truth/{s.file}.png", f"truth/{s.file}.json") if (folder / n).exists()]
    names += ["SOURCES.toml"] if (folder / "SOURCES.toml").exists() else []
    parts: list[list[str]] = []
    room = 0
    for name in names:
        size = (folder / name).stat().st_size + 1024
        if size > room:
            parts.append([])
            room = MOST_PACKED
        parts[-1].append(name)
        room -= size
    for k, part in enumerate(parts):
        with tarfile.open(target / f"set_{k}.tar", "w") as archive:
            for name in part:
                archive.add(folder / name, name)


def _work(listed: list[Shot], options: argparse.Namespace) -> None:
    if options.gpu is not None:
        os.environ["CUDA_VISIBLE_DEVICES"] = str(options.gpu)
    for shot in listed:
        start = time.time()
        for attempt in range(2):
            try:
                render_shot(shot, options.out, options.size, options.spp)
                print(f"{shot.file}: {time.time() - start:.1f} s", flush=True)
                break
            except Exception as error:  # the others must still be made; the failure is listed
                print(f"{shot.file} failed, try {attempt + 1} of 2: {type(error).__name__}: {error}", file=sys.stderr, flush=True)


def main(arguments: list[str] | None = None) -> int:
    """Render the asked pictures; exit code 1 when one is missing at the end."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--only", nargs="*", default=[], help="names, or beginnings of names, as in the list")
    parser.add_argument("--size", default="1600x1200")
    parser.add_argument("--spp", type=int, default=256)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--gpu", type=int)
    parser.add_argument("--out", type=Path, default=HERE)
    parser.add_argument("--pack", type=Path)
    options = parser.parse_args(arguments)
    options.size = tuple(int(n) for n in options.size.split("x"))
    every = shots()
    chosen = [s for s in every if not options.only or s.file.startswith(tuple(options.only))]
    if not chosen:
        print(f"no picture of the set is called {' or '.join(options.only)}; see sample_set.toml", file=sys.stderr)
        return 2
    _spread(chosen, options)
    write_sources(options.out, every)
    if options.pack:
        pack(options.out, every, options.pack)
    missing = [s.file for s in chosen if not (options.out / f"{s.file}.jpg").exists()]
    if missing:
        print(f"{len(missing)} of {len(chosen)} pictures missing: {', '.join(missing)}", file=sys.stderr)
    return int(bool(missing))


def _spread(chosen: list[Shot], options: argparse.Namespace) -> None:
    if options.workers == 1:
        _work(chosen, options)
        return
    spawn = multiprocessing.get_context("spawn")
    processes = [spawn.Process(target=_work, args=(chosen[k :: options.workers], options)) for k in range(options.workers)]
    for process in processes:
        process.start()
    for process in processes:
        process.join()


if __name__ == "__main__":
    raise SystemExit(main())
