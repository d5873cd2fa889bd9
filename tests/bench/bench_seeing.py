"""How well photos with known truth are seen: one table from finding the nose to the gap.

    python -m tests.bench.bench_seeing FOLDER [--told]

FOLDER is searched for NAME.json (truth) with NAME.png (part + 16 x number of the plug, part 1 = nose) beside it, as
`sample_images.render.judged_photos` writes them; NAME.jpg lies beside them, or in the same place without `truth/`.
Everything goes the way the program goes, from the file. A wrong find is one whose overlap (IoU) with every nose is below 0.3.
`--told` says which thread the plug has, as a user does who has named the engine's plug: it is the scale for the gap.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from plugread.colour import delta_e_2000
from plugread.pipeline import read_photo
from plugread.records import PARTS, FiringEnd, PhotoRead, PlugRead, PlugType

LEAST_NOSE_PX, LEAST_NOSE_MM2, WRONG_IOU, SAME_IOU = 60, 1.0, 0.3, 0.5
"""A plug counts as visible from the first; with less ceramic in view than the second nobody reads its nose (our choice)."""
VIEWS = ("side", "oblique", "end")
MOST_TILT_DEG = 3.0
"""Gaps are judged on plugs that lean no further than this."""
MOST_OPENING_OFF_DEG = 35.0
"""A gap seen further than this off square is not a side view of the gap, whatever the view of the plug is called."""

Mask = NDArray[np.bool_]


@dataclass
class Seen:
    """What is counted over a folder."""

    plugs: list[dict[str, Any]] = field(default_factory=list)
    finds: list[dict[str, Any]] = field(default_factory=list)
    rows: list[dict[str, Any]] = field(default_factory=list)
    unreadable: list[str] = field(default_factory=list)
    """Status of each picture that holds no readable plug."""


def add_photo(seen: Seen, truth_file: Path, *, told: bool = False) -> None:
    """Read one photo and compare it with its truth."""
    truth = json.loads(truth_file.read_text(encoding="utf-8"))
    mask = np.asarray(Image.open(truth_file.with_suffix(".png")))  # a palette picture: its indices, not its colours
    photo = Path(str(truth_file.with_suffix(".jpg")).replace("/truth/", "/"))
    noses = {p["number"]: (mask % 16 == PARTS.index("nose")) & (mask // 16 == p["number"]) for p in truth["plugs"]}
    visible = [p for p in truth["plugs"] if noses[p["number"]].sum() >= LEAST_NOSE_PX]
    plug = PlugType(thread=visible[0]["thread"]) if told and visible else None
    read = read_photo(photo, expected=len(visible) if len(visible) > 1 else None, plug=plug)
    if truth.get("fault") or not visible:
        seen.unreadable.append(read.status)
        return
    found = [(plug, nose_of(plug.end, mask.shape), colour_mask(plug, mask.shape)) for plug in read.plugs if plug.end is not None]
    for plug, area, _ in found:
        best = max(overlap(area, noses[p["number"]]) for p in visible)
        seen.finds.append({"iou": best, "status": plug.reading.status, "single": len(visible) == 1})
    rows = [plug_row(p, noses[p["number"]], found, read) for p in visible]
    seen.plugs += [row | {"single": len(visible) == 1} for row in rows]
    if len(visible) > 1:
        order = [row["place"] for row in rows if row["place"] is not None]
        seen.rows.append({"right": len(found) == len(visible), "above": [row["iou"] > SAME_IOU for row in rows], "order": order})


def nose_of(end: FiringEnd | None, shape: tuple[int, ...]) -> Mask:
    """Return the likely nose on the pixels of the photo."""
    assert end is not None
    parts = end.parts
    move = np.array([[parts.step, 0, parts.x0], [0, parts.step, parts.y0]], float)
    chance = np.ascontiguousarray(parts.probability[PARTS.index("nose")], np.float32)
    return np.asarray(cv2.warpAffine(chance, move, shape[1::-1])) > 0.5


def colour_mask(plug: PlugRead, shape: tuple[int, ...]) -> Mask:
    """Return the pixels whose colour was taken."""
    mask = np.zeros(shape, bool)
    if plug.nose_mask is not None and plug.mask_box is not None:
        x, y, w, h = plug.mask_box
        mask[y : y + h, x : x + w] = plug.nose_mask
    return mask


def overlap(one: Mask, other: Mask) -> float:
    """Return intersection over union."""
    return float((one & other).sum() / max(int((one | other).sum()), 1))


def plug_row(plug: dict[str, Any], nose: Mask, found: list[tuple[PlugRead, Mask, Mask]], read: PhotoRead) -> dict[str, Any]:
    """Return what is known of one visible plug: its best find and how far each measure is off."""
    ious = [overlap(area, nose) for _, area, _ in found]
    place = int(np.argmax(ious)) if ious else None
    row: dict[str, Any] = {"view": plug["view"], "iou": max(ious, default=0.0), "place": None, "status": "refused"}
    row["plain"] = nose.sum() >= LEAST_NOSE_MM2 * plug["px_per_mm"] ** 2
    if place is None or ious[place] < 0.1:
        return row
    end, _, used = found[place]
    row |= {"place": place, "status": end.reading.status, "said": end.end.view if end.end else None}
    row |= colour_figures(end, plug, used, nose, read)
    return row | gap_figures(end, plug)


def colour_figures(end: PlugRead, plug: dict[str, Any], used: Mask, nose: Mask, read: PhotoRead) -> dict[str, Any]:
    """Return the mask's precision and recall and how far the colour is off."""
    figures: dict[str, Any] = {}
    if used.any():
        figures |= {"precision": float((used & nose).sum() / used.sum()), "recall": float((used & nose).sum() / nose.sum())}
    lab = end.measures.lab
    if lab is not None and read.white is not None:
        figures |= {"de": float(delta_e_2000(lab, plug["nose_lab"])), "white": read.white.method}
        figures["hue"] = float(delta_e_2000([plug["nose_lab"][0], *lab[1:]], plug["nose_lab"]))
    return figures


def gap_figures(end: PlugRead, plug: dict[str, Any]) -> dict[str, Any]:
    """Return how far the gap is off where the truth says that it can be measured, and whether the interval holds it."""
    square = abs(90.0 - plug.get("gap_opening_deg", 90.0)) <= MOST_OPENING_OFF_DEG
    if plug["view"] != "side" or abs(plug["tilt_deg"]) > MOST_TILT_DEG or not square:
        return {}
    gap = end.measures.gap_mm
    if gap is None:
        return {"gap_refused": True}
    off = abs(gap.value - plug["gap_mm"])
    return {"gap_refused": False, "gap_off": off, "gap_inside": off <= gap.spread}


# ---- the table -------------------------------------------------------------------------------------------


def table(seen: Seen) -> str:
    """Return the figures, one line a quantity."""
    lines = [*_finding(seen), *_measuring(seen), *_refusing(seen), *_line_ups(seen)]
    return "\n".join(f"{name:<58} {value}" for name, value in lines)


def _finding(seen: Seen) -> list[tuple[str, str]]:
    plugs, single = seen.plugs, [p for p in seen.plugs if p["single"]]
    return [
        ("single plugs: share found", _share(p["place"] is not None for p in single)),
        ("nose IoU median, all single plugs / those found", f"{_quantile(_of(single, 'iou'))} / {_quantile(_found(single))}"),
        *((f"nose IoU median, {view}, single", _quantile(p["iou"] for p in single if p["view"] == view)) for view in VIEWS),
        ("nose IoU above 0.5, all visible plugs", _share(p["iou"] > SAME_IOU for p in plugs)),
        ("view right, of found, single / in rows", f"{_views(single)} / {_views(p for p in plugs if not p['single'])}"),
        ("wrong finds (IoU < 0.3), of all finds", _share(f["iou"] < WRONG_IOU for f in seen.finds)),
        ("wrong finds among those read or unsure", _share(f["iou"] < WRONG_IOU for f in seen.finds if f["status"] != "refused")),
        (
            "wrong finds among those read with one look named",
            _share(f["iou"] < WRONG_IOU for f in seen.finds if f["status"] == "read"),
        ),
    ]


def _measuring(seen: Seen) -> list[tuple[str, str]]:
    held = [p for p in seen.plugs if p.get("white") in ("card", "paper")]
    free = [p for p in seen.plugs if p.get("white") == "estimated"]
    gaps = _of(seen.plugs, "gap_off")
    return [
        ("colour mask: precision at the worst tenth", _quantile(_of(seen.plugs, "precision"), 0.1)),
        ("colour mask: recall median", _quantile(_of(seen.plugs, "recall"))),
        ("nose dE00 with paper or card, median / 90 %", f"{_quantile(_of(held, 'de'))} / {_quantile(_of(held, 'de'), 0.9)}"),
        ("  the same with the true lightness put in", f"{_quantile(_of(held, 'hue'))} / {_quantile(_of(held, 'hue'), 0.9)}"),
        ("nose dE00 without reference, median / 90 %", f"{_quantile(_of(free, 'de'))} / {_quantile(_of(free, 'de'), 0.9)}"),
        ("gap off by, mm, median / 90 %", f"{_quantile(gaps, digits=3)} / {_quantile(gaps, 0.9, digits=3)}"),
        ("gap: inside its 95 % interval", _share(_of(seen.plugs, "gap_inside"))),
        ("gap: refused though it could be measured", _share(_of(seen.plugs, "gap_refused"))),
    ]


def _refusing(seen: Seen) -> list[tuple[str, str]]:
    return [
        ("pictures without a readable plug: refused", _share(status == "refused" for status in seen.unreadable)),
        ("pictures without a readable plug: one look named", _share(status == "read" for status in seen.unreadable)),
        ("single plugs refused", _share(p["status"] == "refused" for p in seen.plugs if p["single"])),
        (
            f"  of those that show {LEAST_NOSE_MM2:.0f} mm2 of ceramic or more",
            _share(p["status"] == "refused" for p in seen.plugs if p["single"] and p["plain"]),
        ),
    ]


def _line_ups(seen: Seen) -> list[tuple[str, str]]:
    return [
        ("line-ups: visible noses above 0.5", _share(above for row in seen.rows for above in row["above"])),
        ("line-ups: count right", _share(row["right"] for row in seen.rows)),
        ("line-ups: plugs that were found in the right order", _share(row["order"] == sorted(row["order"]) for row in seen.rows)),
    ]


def _views(rows: Iterable[dict[str, Any]]) -> str:
    return _share(p["said"] == p["view"] for p in rows if p.get("said") and p["view"] in VIEWS)


def _of(rows: Iterable[dict[str, Any]], name: str) -> list[Any]:
    return [row[name] for row in rows if name in row]


def _found(rows: Iterable[dict[str, Any]]) -> list[float]:
    return [row["iou"] for row in rows if row["place"] is not None]


def _share(values: Iterable[Any]) -> str:
    listed = [bool(v) for v in values]
    return f"{np.mean(listed):.3f}  ({sum(listed)} of {len(listed)})" if listed else "none to judge"


def _quantile(values: Iterable[float], at: float = 0.5, *, digits: int = 2) -> str:
    listed = list(values)
    return f"{np.quantile(listed, at):.{digits}f} (n {len(listed)})" if listed else "none to judge"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--told", action="store_true", help="say which thread each plug has")
    options = parser.parse_args()
    seen = Seen()
    for truth_file in sorted(options.folder.rglob("*.json")):
        add_photo(seen, truth_file, told=options.told)
    sys.stdout.write(table(seen) + "\n")


if __name__ == "__main__":
    main()
