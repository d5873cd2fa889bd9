"""How far the nose colour is off on photos whose ceramic is known.

    python -m tests.bench.bench_colour FOLDER [--found] [--by reference|method|view|light]

FOLDER holds NAME.jpg with NAME.json (truth) and NAME.png (part + 16 x number of the plug), as
`sample_images.render.judged_photos` writes them. Without `--found` the true outline is used, which judges the colour
alone; with it the whole way from the file is judged, plugs taken in order along the row.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from plugread.colour import delta_e_2000
from plugread.measure import nose_colour
from plugread.photo.decode import open_photo
from plugread.photo.white import find_white
from plugread.records import PARTS, FiringEnd, Measured, PartMap, PlugMeasures

LEAST_NOSE_PX = 150


@dataclass(frozen=True, eq=False)
class Case:
    """One nose: what was measured, what is true, and what it was photographed with."""

    photo: str
    lab: np.ndarray
    spread: np.ndarray
    truth: np.ndarray
    labels: dict[str, str]

    @property
    def difference(self) -> float:
        """CIEDE2000 to the truth."""
        return float(delta_e_2000(self.lab, self.truth))

    @property
    def hue_difference(self) -> float:
        """CIEDE2000 with the true lightness put in: what hue and chroma alone are off."""
        return float(delta_e_2000([self.truth[0], *self.lab[1:]], self.truth))


def true_end(mask: np.ndarray, plug: dict[str, Any]) -> FiringEnd | None:
    """The firing end as the truth shows it, or None where too little of the nose is seen."""
    part, number = mask % 16, mask // 16
    nose = (part == PARTS.index("nose")) & (number == plug["number"])
    if nose.sum() < LEAST_NOSE_PX:
        return None
    rows, columns = np.flatnonzero(nose.any(1)), np.flatnonzero(nose.any(0))
    box = (int(columns[0]), int(rows[0]), int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1)
    own = np.where((number == plug["number"]) | (number == 0), part, 0)
    layers = [cv2.GaussianBlur((own == k).astype(np.float32), (0, 0), 1.0) for k in range(len(PARTS))]
    views = {view: float(view == plug["view"]) for view in ("side", "oblique", "end", "unknown")}
    view = plug["view"] if plug["view"] in views else "unknown"
    return FiringEnd(box, view, views, PartMap(np.array(layers), 0.0, 0.0, 1.0), {}, 0.9, 0.9)


def _labels(truth: dict[str, Any], plug: dict[str, Any], method: str) -> dict[str, str]:
    reference = " + ".join(sheet["kind"] for sheet in truth["sheets"]) or "none"
    return {"reference": reference, "method": method, "view": plug["view"], "light": truth["light"]["kind"]}


def by_true_outline(photo: Path, truth: dict[str, Any]) -> Iterator[Case]:
    """Measure every plug of a photo inside its true outline."""
    mask = np.asarray(Image.open(photo.with_suffix(".png")))  # a palette picture: its indices, not its colours
    pairs = [(plug, true_end(mask, plug)) for plug in truth["plugs"]]
    seen = [(plug, end) for plug, end in pairs if end is not None]
    opened = open_photo(photo)
    white = find_white(opened, [end for _, end in seen])
    for plug, end in seen:
        colour = nose_colour.measure(opened, end, white)
        if colour.lightness is not None and colour.a is not None and colour.b is not None:
            yield _case(photo, (colour.lightness, colour.a, colour.b), plug, _labels(truth, plug, white.detail))


def by_finder(photo: Path, truth: dict[str, Any]) -> Iterator[Case]:
    """Measure a photo as the program does; counted only where it finds as many plugs as there are."""
    from plugread.pipeline import read_photo

    answer = read_photo(photo)
    seen = [plug for plug in truth["plugs"] if plug["nose_px"] >= LEAST_NOSE_PX]
    if len(answer.plugs) != len(seen) or answer.white is None:
        return
    for plug, read in zip(seen, answer.plugs, strict=True):
        found: PlugMeasures = read.measures
        if found.lightness is not None and found.a is not None and found.b is not None:
            yield _case(photo, (found.lightness, found.a, found.b), plug, _labels(truth, plug, answer.white.detail))


def _case(photo: Path, measured: tuple[Measured, ...], plug: dict[str, Any], labels: dict[str, str]) -> Case:
    lab, spread = np.array([m.value for m in measured]), np.array([m.spread for m in measured])
    return Case(photo.name, lab, spread, np.array(plug["nose_lab"], float), labels)


def pairs_in_one_photo(cases: list[Case]) -> list[float]:
    """For every two plugs of one photo: how far the measured difference is from the true one, |dE - dE true|."""
    by_photo: dict[str, list[Case]] = defaultdict(list)
    for case in cases:
        by_photo[case.photo].append(case)
    off = []
    for group in by_photo.values():
        for k, one in enumerate(group):
            for two in group[k + 1 :]:
                off.append(abs(float(delta_e_2000(one.lab, two.lab)) - float(delta_e_2000(one.truth, two.truth))))
    return off


def table(cases: list[Case], by: str) -> str:
    """The figures of each group, one line a group."""
    lines = [f"{by:<44} n   dE00 50 % 90 %   a*b* 50 % 90 %   dL* 50 %   inside its 95 % (L a b)"]
    groups: dict[str, list[Case]] = defaultdict(list)
    for case in cases:
        groups[case.labels[by]].append(case)
    for name, group in [*sorted(groups.items()), ("all", cases)]:
        lines.append(f"{name:<44}{_figures(group)}")
    return "\n".join(lines)


def _figures(group: list[Case]) -> str:
    whole, hue = ([c.difference for c in group], [c.hue_difference for c in group])
    inside = np.mean([np.abs(c.lab - c.truth) <= c.spread for c in group], axis=0)
    lightness = np.median([c.lab[0] - c.truth[0] for c in group])
    w50, w90, h50, h90 = (*np.percentile(whole, [50, 90]), *np.percentile(hue, [50, 90]))
    covered = " ".join(f"{share:.2f}" for share in inside)
    return f"{len(group):4d}  {w50:6.1f} {w90:6.1f}   {h50:6.1f} {h90:6.1f}   {lightness:+6.1f}     {covered}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--found", action="store_true", help="find the plugs as the program does")
    parser.add_argument("--by", choices=("reference", "method", "view", "light"), default="method")
    options = parser.parse_args()
    measure = by_finder if options.found else by_true_outline
    cases = []
    for photo in sorted(options.folder.glob("*.jpg")):
        truth = json.loads(photo.with_suffix(".json").read_text(encoding="utf-8"))
        if not truth.get("fault") and truth["plugs"]:
            cases += list(measure(photo, truth))
    sys.stdout.write(table(cases, options.by) + "\n")
    off = pairs_in_one_photo(cases)
    if off:
        half, most = np.percentile(off, [50, 90])
        sys.stdout.write(f"difference of two plugs in one photo: {half:.1f} off at 50 %, {most:.1f} at 90 % ({len(off)} pairs)\n")


if __name__ == "__main__":
    main()
