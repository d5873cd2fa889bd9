"""Fits what light falls on the nose (`plugread/measure/lit.toml`) on training photos whose ceramic is known.

    python -m tests.bench.fit_lit FOLDER... [--write] [--true-outline]

FOLDERs hold NAME.jpg with NAME.json and NAME.png as `sample_images.render.judged_photos` writes them, of the training family
only: photos of the test family are left out. Prints what is left when each plug is predicted from the other photos, in ten folds.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from plugread.colour import delta_e_2000, lab_to_linear_srgb
from plugread.errors import PhotoError
from plugread.measure import lit, nose_colour
from plugread.photo.decode import open_photo
from plugread.photo.finding import find_ends
from plugread.photo.white import find_white
from plugread.records import PARTS, FiringEnd, White
from tests.bench.bench_colour import true_end
from tests.bench.bench_seeing import nose_of, overlap

Floats = NDArray[np.float64]

CUES = {
    "light": ("nose", "nose_shade", "nose_even", "nose_glare", "oblique", "end", *lit.NEIGHBOURS),
    "red": tuple(f"{part}_{tint}" for part in lit.NEIGHBOURS for tint in ("red", "blue")),
}
CUES["blue"] = CUES["red"]
RIDGE = {"light": 6.0, "red": 0.3, "blue": 0.3}
ROBUST = {"light": 0.35, "red": 0.12, "blue": 0.12}
"""Strength of the ridge, and the residual at which a sample counts half; by line."""
LEAST_IOU, FOLDS = 0.5, 10
TABLE = Path(lit.__file__).with_suffix(".toml")


@dataclass(frozen=True, eq=False)
class Sample:
    """One nose: its cues, L*, a*, b* as seen and in truth, white, view, photo."""

    cues: dict[str, float]
    seen: Floats
    truth: Floats
    white: White
    view: str
    photo: str


def samples(folder: Path, *, true_outline: bool) -> Iterator[Sample]:
    """Yield every nose of the training photos in a folder."""
    for file in sorted(folder.rglob("*.json")):
        truth = json.loads(file.read_text(encoding="utf-8"))
        if truth.get("fault") or not truth.get("plugs") or truth.get("family") != "train":
            continue
        yield from _of_photo(file, truth, true_outline=true_outline)


def _of_photo(file: Path, truth: dict[str, Any], *, true_outline: bool) -> Iterator[Sample]:
    photo = open_photo(Path(str(file.with_suffix(".jpg")).replace("/truth/", "/")))
    mask = np.asarray(Image.open(file.with_suffix(".png")))
    if true_outline:
        pairs = [(plug, true_end(mask, plug)) for plug in truth["plugs"]]
    else:
        try:
            pairs = _matched(find_ends(photo), mask, truth)
        except PhotoError:
            return
    known = [(plug, end) for plug, end in pairs if end is not None]
    if not known:
        return
    white = find_white(photo, [end for _, end in known])
    for plug, end in known:
        nose = nose_colour.seen_nose(photo, end, white)
        if nose is not None:
            yield Sample(nose.cues, nose.colour, np.array(plug["nose_lab"], float), white, end.view, photo.name)


def _matched(
    ends: tuple[FiringEnd, ...], mask: NDArray[np.uint8], truth: dict[str, Any]
) -> list[tuple[dict[str, Any], FiringEnd | None]]:
    pairs: list[tuple[dict[str, Any], FiringEnd | None]] = []
    for plug in truth["plugs"]:
        nose = (mask % 16 == PARTS.index("nose")) & (mask // 16 == plug["number"])
        good = [end for end in ends if overlap(nose_of(end, mask.shape), nose) > LEAST_IOU]
        pairs.append((plug, good[0] if good else None))
    return pairs


# ---- the fit ---------------------------------------------------------------------------------------------


def wanted(sample: Sample) -> dict[str, float]:
    """Return what each line should give to make the colour true: natural logarithms."""
    seen, true = (np.maximum(lab_to_linear_srgb(lab), 1e-3) for lab in (sample.seen, sample.truth))
    tint = np.log(true / true[1]) - np.log(seen / seen[1])
    return {
        "light": float(np.log((true @ lit.LUMINANCE) / (seen @ lit.LUMINANCE))),
        "red": float(tint[0]),
        "blue": float(tint[2]),
    }


def fit_line(group: list[Sample], line: str) -> lit.Line:
    """Fit one line: ridge regression on the cues, far-off samples counting less (repeated with Cauchy weights)."""
    rows = np.array([[one.cues.get(name, np.nan) for name in CUES[line]] for one in group])
    usual = np.nanmedian(rows, axis=0)
    rows = np.where(np.isnan(rows), usual, rows) - usual
    target = np.array([wanted(one)[line] for one in group])
    design = np.column_stack([np.ones(len(rows)), rows])
    penalty = RIDGE[line] * np.diag([0.0, *np.ones(rows.shape[1])])
    weight, solution = np.ones(len(rows)), np.zeros(rows.shape[1] + 1)
    for _ in range(12):
        solution = np.linalg.solve((design * weight[:, None]).T @ design + penalty, (design * weight[:, None]).T @ target)
        weight = 1 / (1 + ((target - design @ solution) / ROBUST[line]) ** 2)
    named = (dict(zip(CUES[line], (float(v) for v in values), strict=True)) for values in (solution[1:], usual))
    return lit.Line(float(solution[0]), *named)


def fit(group: list[Sample]) -> lit.Light:
    """Fit all lines; the spread is left empty."""
    return lit.Light({line: fit_line(group, line) for line in CUES}, {})


def left_out(group: list[Sample]) -> Floats:
    """Return L*, a*, b* of each sample (n, 3) as corrected by a fit that its photo took no part in."""
    names = sorted({one.photo for one in group})
    fold = {name: k % FOLDS for k, name in enumerate(np.random.default_rng(0).permutation(names))}
    found = np.zeros((len(group), 3))
    for k in range(FOLDS):
        light = fit([one for one in group if fold[one.photo] != k])
        for i, one in enumerate(group):
            if fold[one.photo] == k:
                found[i] = light.corrected(one.seen, one.cues)
    return found


# ---- the table -------------------------------------------------------------------------------------------

HEAD = """# Light on the nose against the light beside the plug; written by `python -m tests.bench.fit_lit FOLDER... --write`.
# Natural logarithms of corrected linear light; `weights` act on the difference from `usual`. `spread` is what is left of
# L*, a*, b* (95 % half-widths) by view, each photo predicted from the others. Source: our own rendered training photos;
# grade our_estimate.
"""


def spreads(group: list[Sample], found: Floats) -> dict[str, Floats]:
    """Return 95 % half-widths of L*, a*, b* by view, drawn towards those of all views where a view has few samples."""
    off = np.abs(found - np.array([one.truth for one in group]))
    whole, result = np.quantile(off, 0.95, axis=0), {}
    for view in ("side", "oblique", "end"):
        own = off[[one.view == view for one in group]]
        result[view] = (20 * whole + len(own) * np.quantile(own, 0.95, axis=0)) / (20 + len(own)) if len(own) else whole
    return result | {"unknown": np.max(list(result.values()), axis=0)}


def as_toml(name: str, group: list[Sample], found: Floats) -> str:
    """Return the corrections of one kind of white as TOML."""
    lines = [f"[{name}]", f"photos = {len({one.photo for one in group})}", f"noses = {len(group)}"]
    for title, line in fit(group).lines.items():
        lines += [f"[{name}.{title}]", f"offset = {line.offset:.4f}"]
        for kind, row in (("weights", line.weights), ("usual", line.usual)):
            lines += [f"[{name}.{title}.{kind}]", *(f"{cue} = {value:.4f}" for cue, value in row.items())]
    lines += [f"[{name}.spread]"]
    lines += [f"{view} = [{', '.join(f'{v:.1f}' for v in values)}]" for view, values in spreads(group, found).items()]
    return "\n".join(lines) + "\n"


def report(name: str, group: list[Sample], found: Floats) -> str:
    """Return two lines: dE00, the same at true lightness, and L* off, before and after, median and 90 %."""
    truth = np.array([one.truth for one in group])
    lines = []
    for title, lab in (("before", np.array([one.seen for one in group])), ("after", found)):
        whole, hue = delta_e_2000(lab, truth), delta_e_2000(np.column_stack([truth[:, 0], lab[:, 1:]]), truth)
        figures = (np.quantile(part, [0.5, 0.9]) for part in (whole, hue, np.abs(lab - truth)[:, 0]))
        text = "   ".join(f"{title} {a:4.1f} / {b:4.1f}" for title, (a, b) in zip(("dE00", "a*b*", "dL*"), figures, strict=True))
        lines.append(f"{name:<10} {len(group):4d} noses {title:<7} {text}")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Print what the fit leaves; write the table if asked to."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--write", action="store_true", help=f"write {TABLE.name}")
    parser.add_argument("--true-outline", action="store_true", help="judge by the true outlines instead of what the finder marks")
    options = parser.parse_args()
    every = [one for folder in options.folders for one in samples(folder, true_outline=options.true_outline)]
    text = [HEAD]
    for name, known in (("reference", True), ("estimated", False)):
        group = [one for one in every if one.white.level_known == known]
        found = left_out(group)
        sys.stdout.write(report(name, group, found))
        text.append(as_toml(name, group, found))
    if options.write:
        TABLE.write_text("\n".join(text), encoding="utf-8")


if __name__ == "__main__":
    main()
