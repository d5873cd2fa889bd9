"""Fits what tells paper and cards from other plain areas.

    python -m tests.bench.fit_sheet FOLDER... [--write]

FOLDERs hold training photos with truth, as for `bench_colour`; never the judged ones. Every plain straight-edged area of each is
labelled by the true outlines; printed are how many are believed at each limit, and how many of these are sheets, in photos
the regression was not fitted to. `--write` puts the weights into `plugread/photo/references.toml`.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Mapping
from pathlib import Path
from unittest import mock

import cv2
import numpy as np
from PIL import Image
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import GroupKFold, cross_val_predict
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler

import plugread.photo.references
from plugread.errors import PhotoError
from plugread.photo import sheet
from plugread.photo.decode import open_photo
from plugread.photo.estimate import estimate_light
from plugread.photo.finding import find_ends
from plugread.photo.references import References
from plugread.pixels import smaller
from plugread.records import PARTS

_SHEET_FROM = 0.8  # share of an area that must lie on true sheets
_SHRINK, _FOLDS, _SIDE_PX = 0.5, 8, 960
_TABLE = Path(plugread.photo.references.__file__).with_suffix(".toml")


def areas(path: Path) -> tuple[list[np.ndarray], list[bool]]:
    """The signs of every plain area of a photo, and which are sheets."""
    truth = np.asarray(Image.open(path.with_suffix(".png"))) % 16 == PARTS.index("sheet")
    photo = open_photo(path)
    try:
        ends = find_ends(photo)
    except PhotoError:
        return [], []
    signs: list[np.ndarray] = []
    outlines: list[np.ndarray] = []
    plain = sheet.straight_outline

    def outlined(area: np.ndarray, plug: np.ndarray, level: np.ndarray) -> object:
        found = plain(area, plug, level)
        if found is not None:
            outlines.append(area)
        return found

    def kept(table: References, values: Mapping[str, float]) -> float:
        signs.append(np.array([values[name] for name in table.sheet_weight]))
        return 0.0

    photo = smaller(photo, _SIDE_PX)
    with mock.patch.object(sheet, "straight_outline", outlined), mock.patch.object(References, "sheet_chance", kept):
        sheet.find_sheets(photo, ends, estimate_light(photo, ends), [])
    return signs, [_on(truth, area) for area in outlines]


def _on(truth: np.ndarray, area: np.ndarray) -> bool:
    small = cv2.resize(truth.astype(np.uint8), area.shape[::-1], interpolation=cv2.INTER_AREA) > 0
    return bool((small & area).sum() > _SHEET_FROM * area.sum())


def written(text: str, scaler: StandardScaler, regression: LogisticRegression) -> str:
    """The table with the weights of a fitted pair."""
    values = {
        "middle": scaler.mean_.round(3).tolist(),
        "weight": (regression.coef_[0] / scaler.scale_).round(3).tolist(),
        "bias": round(float(regression.intercept_[0]), 3),
    }
    for name, value in values.items():
        text = re.sub(rf"^{name} = .*$", f"{name} = {value}", text, flags=re.MULTILINE)
    return text


def main() -> None:
    """Print how well sheets are told, and write the weights if asked to."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    rows, labels, photos = [], [], []
    for path in (p for folder in options.folders for p in sorted(folder.glob("*.jpg"))):
        truth = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
        if truth.get("fault") or not truth["plugs"]:
            continue
        signs, sheets = areas(path)
        rows, labels, photos = rows + signs, labels + sheets, photos + [str(path)] * len(signs)
    x, y = np.array(rows), np.array(labels)
    model = make_pipeline(StandardScaler(), LogisticRegression(C=_SHRINK))
    chance = cross_val_predict(model, x, y, groups=photos, cv=GroupKFold(_FOLDS), method="predict_proba")[:, 1]
    for limit in (0.5, 0.6, 0.7, 0.8, 0.9):
        believed = chance > limit
        sys.stdout.write(f"above {limit}: {believed.sum()} of {len(y)} areas, {y[believed].sum()} of {y.sum()} sheets\n")
    if options.write:
        model.fit(x, y)
        _TABLE.write_text(written(_TABLE.read_text(encoding="utf-8"), model[0], model[1]), encoding="utf-8")


if __name__ == "__main__":
    main()
