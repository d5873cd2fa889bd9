"""Score the finder as shipped on rendered pictures it was not trained on.

    python -m models.locator.train.evaluate SOURCE [--kind fine] [--split test] [--count 100] [--models DIR] [--json FILE]

SOURCE is a pack (`models.locator.train.pack`), a folder of shards, whose pictures go through a camera drawn from their seed, or
the file of photos without a plug (`models.locator.train.negatives`), of which those held out from training are taken.
Printed: overlap (IoU) of the nose by view, precision and recall of the colour mask (the finder's sure cells, drawn in),
views, refusals of good and of spoiled pictures, false finds in pictures without a plug, and counts of line-ups.
"""

from __future__ import annotations

import argparse
import itertools
import json
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from models.locator.train.mixing import HELD_OUT
from models.locator.train.pack import Picture, chosen, pictures, shot
from models.locator.train.targets import NOSE, QUALITIES, VIEWS
from plugread.errors import PhotoError
from plugread.photo.locate import Kind, Locator, load_locator
from plugread.records import FiringEnd, PartMap

LEAST_NOSE_PX = 120
"""A plug counts if at least this many pixels of its nose are visible (11 x 11 px); a fainter one may be found or not."""

COLOUR_PROBABILITY = 0.85


@dataclass
class Tally:
    """What is counted over all pictures."""

    plugs: list[dict[str, object]] = field(default_factory=list)
    """One row a visible plug."""
    rows: list[dict[str, object]] = field(default_factory=list)
    """One row a picture."""


def main() -> None:
    """Score and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("source", type=Path)
    parser.add_argument("--kind", choices=("fine", "quick"), default="fine")
    parser.add_argument("--split", default="test", help="split of a folder of shards")
    parser.add_argument("--count", type=int, default=10**6, help="most pictures")
    parser.add_argument("--models", type=Path, help="folder of the nets, if not the shipped ones")
    parser.add_argument("--json", type=Path, help="also write the figures here")
    parser.add_argument("--list", action="store_true", help="print one line a picture")
    options = parser.parse_args()
    kind: Kind = options.kind
    tally = tallied(load_locator(kind, options.models), source(options), listed=options.list)
    figures = summary(tally)
    print(table(figures))
    if options.json:
        options.json.write_text(json.dumps({"kind": kind, "source": options.source.name, **figures}, indent=1) + "\n")


def source(options: argparse.Namespace) -> Iterator[Picture]:
    """Yield the pictures named on the command line."""
    if options.source.is_file():
        with np.load(options.source) as file:
            packed = "seed" in file.files
        yield from itertools.islice(pictures(options.source) if packed else photos(options.source), options.count)
        return
    for scene in chosen(options.source, options.split, options.count):
        rgb, quality = shot(scene["image"], int(scene["seed"]), spoil=True)
        numbers = {"count": int(scene["count"]), "seed": int(scene["seed"]), "quality": quality}
        yield Picture(rgb, scene["parts"], scene["plug"], scene["keys"], scene["view"], **numbers)


def photos(path: Path) -> Iterator[Picture]:
    """Yield the photos without a plug that no net was trained on."""
    with np.load(path) as file:
        for k, name in enumerate(sorted(n for n in file.files if n.split("-")[0] in HELD_OUT)):
            rgb = cv2.imdecode(file[name], cv2.IMREAD_COLOR_RGB)
            nothing = np.zeros(rgb.shape[:2], np.uint8)
            yield Picture(
                rgb, nothing, nothing, np.zeros((0, 4, 2), np.float32), np.zeros(0, np.uint8), count=0, seed=k, quality=0
            )


def tallied(locator: Locator, scenes: Iterator[Picture], *, listed: bool = False) -> Tally:
    """Run the finder over pictures and compare with what is known of them."""
    tally = Tally()
    for picture in scenes:
        began = time.process_time()
        try:
            ends, why = locator.locate(picture.rgb), None
        except PhotoError as problem:
            ends, why = (), problem.what
        seconds = time.process_time() - began
        visible = [k for k in range(1, len(picture.view) + 1) if _nose(picture, k).sum() >= LEAST_NOSE_PX]
        plugs = [_plug_row(picture, k, ends) for k in visible]
        faint = sum(0 < _nose(picture, k).sum() < LEAST_NOSE_PX for k in range(1, len(picture.view) + 1))
        row = {"seed": picture.seed, "quality": picture.quality, "visible": len(visible), "faint": faint}
        row |= {"found": len(ends), "why": why, "seconds": seconds}
        tally.rows.append(row)
        if picture.quality == 0:
            tally.plugs += plugs
        if listed:
            print(row, [(p["view"], p["said"], round(float(p["iou"]), 2)) for p in plugs], flush=True)
    return tally


def summary(tally: Tally) -> dict[str, object]:
    """Return the figures of a tally."""
    plugs, found = tally.plugs, [p for p in tally.plugs if p["found"]]
    good = [r for r in tally.rows if r["quality"] == 0]
    spoiled = [r for r in tally.rows if r["quality"] != 0 and r["visible"]]
    several = [r for r in good if r["visible"] > 1]
    return {
        "pictures": len(tally.rows),
        "plugs": len(plugs),
        "found": _mean([p["found"] for p in plugs]),
        "nose_iou": _spread([p["iou"] for p in plugs]),
        "nose_iou_found": _spread([p["iou"] for p in found]),
        **{f"nose_iou_{view}": _spread([p["iou"] for p in plugs if p["view"] == view]) for view in VIEWS[1:]},
        "share_above_half": _mean([p["iou"] > 0.5 for p in plugs]),
        "colour_precision": _spread([p["precision"] for p in found], worst=0.1),
        "colour_recall": _mean([p["recall"] for p in found]),
        "view_right": _mean([p["view"] == p["said"] for p in found if p["view"] != "none"]),
        "count_right_of_several": _mean([r["visible"] <= r["found"] <= r["visible"] + r["faint"] for r in several]),
        "refused_with_plug": _mean([r["found"] == 0 for r in good if r["visible"]]),
        "refused_without_plug": _mean([r["found"] == 0 for r in good if not r["visible"] + r["faint"]]),
        "spoiled_refused": {
            name: _mean([r["found"] == 0 for r in spoiled if r["quality"] == k]) for k, name in enumerate(QUALITIES) if k
        },
        "cpu_seconds": _spread([r["seconds"] for r in tally.rows]),
    }


def table(figures: dict[str, object]) -> str:
    """Return the figures as lines of text."""
    return "\n".join(f"{name:<24} {value}" for name, value in figures.items())


def _nose(picture: Picture, number: int) -> NDArray[np.bool_]:
    return (picture.parts == NOSE) & (picture.plug == number)


def _plug_row(picture: Picture, number: int, ends: tuple[FiringEnd, ...]) -> dict[str, object]:
    """Compare one visible plug with the find that overlaps its nose most."""
    truth = _nose(picture, number)
    row: dict[str, object] = {
        "view": VIEWS[picture.view[number - 1]],
        "said": None,
        "iou": 0.0,
        "precision": None,
        "recall": None,
    }
    for end in ends:
        chance = on_picture(end.parts, truth.shape)
        mask = chance > 0.5
        iou = float((mask & truth).sum() / max((mask | truth).sum(), 1))
        if iou > row["iou"]:
            sure = cv2.erode((chance > COLOUR_PROBABILITY).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
            precision = float((sure & truth).sum() / sure.sum()) if sure.any() else None
            row |= {"said": end.view, "iou": iou, "precision": precision, "recall": float((sure & truth).sum() / truth.sum())}
    row["found"] = row["said"] is not None and row["iou"] > 0.1
    return row


def on_picture(parts: PartMap, shape: tuple[int, ...]) -> NDArray[np.float32]:
    """Return the nose's probability on the pixels of the picture."""
    k = 1 / parts.step
    move = np.array([[k, 0, (0.5 - parts.x0) * k - 0.5], [0, k, (0.5 - parts.y0) * k - 0.5]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpAffine(np.ascontiguousarray(parts.probability[NOSE]), move, shape[::-1], flags=flags), np.float32)


def _mean(values: list[object]) -> float | None:
    numbers = [float(v) for v in values if v is not None]
    return round(float(np.mean(numbers)), 3) if numbers else None


def _spread(values: list[object], worst: float = 0.1) -> dict[str, float | int] | None:
    numbers = [0.0 if v is None else float(v) for v in values]
    if not numbers:
        return None
    low, middle = np.quantile(numbers, [worst, 0.5])
    return {
        "n": len(numbers),
        "median": round(float(middle), 3),
        "mean": round(float(np.mean(numbers)), 3),
        "tenth": round(float(low), 3),
    }


if __name__ == "__main__":
    main()
