"""Makes the classifier that ships: taught on rendered plugs, judged on rendered scenes of a family it never saw.

    python -m models.classifier.make TAUGHT JUDGED [--boxes] [--jobs N]

TAUGHT holds READING-PLUG-SHOT.jpg, JUDGED NAME.jpg, each with NAME.png (part + 16 x number) and NAME.json (truth) beside it, as
`sample_images.render.judged_photos` writes them. `--boxes` tells the learner where the nose is. The model is used unasked only if
it beats the colour rules on JUDGED, in first readings and in log-loss.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from joblib import Parallel, delayed
from PIL import Image

from plugread.pipeline import portrait
from plugread.reading.looks import load_looks
from plugread.reading.model import Model, predict
from plugread.reading.portrait import Portrait
from plugread.reading.training.lessons import GROUPS
from plugread.reading.training.report import report_text
from plugread.reading.training.scores import rules_chance
from plugread.reading.training.train import keep, learn, measure
from plugread.records import PARTS, Box

HERE = Path(__file__).resolve().parent
ABOUT = "path-traced pictures of modelled plugs, taken by a simulated phone"
NEVER_REAL = "It has never seen a real photo: taught and judged on rendered plugs alone; expect real photos to do worse."


@contextmanager
def arranged(taught: Path, *, boxes: bool) -> Iterator[Path]:
    """Lay out rendered photos as `plugread train` reads them; with `boxes` the nose of each is told."""
    with tempfile.TemporaryDirectory() as folder:
        rows: dict[str, list[tuple[str, str]]] = {}
        for photo in sorted(taught.rglob("*.jpg")):
            reading = photo.stem.split("-")[0]
            (Path(folder) / reading).mkdir(exist_ok=True)
            (Path(folder) / reading / photo.name).symlink_to(photo.resolve())
            box = nose_box(photo) if boxes else None
            rows.setdefault(reading, []).append((photo.name, " ".join(map(str, box)) if box else ""))
        for reading, listed in rows.items():
            with (Path(folder) / reading / GROUPS).open("w", newline="", encoding="utf-8") as file:
                csv.writer(file).writerows([("file", "nose"), *listed])
        yield Path(folder)


def nose_box(photo: Path) -> Box | None:
    """Return the true box of the first plug's nose, None where it cannot be seen."""
    mask = np.asarray(Image.open(photo.with_suffix(".png")))
    rows, columns = np.nonzero((mask % 16 == PARTS.index("nose")) & (mask // 16 == 1))
    if len(rows) == 0:
        return None
    x, y = int(columns.min()), int(rows.min())
    return x, y, int(columns.max()) - x + 1, int(rows.max()) - y + 1


# ---- judging ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Judged:
    """One photo of one plug with what it shows, and what measuring it gave."""

    path: Path
    shows: tuple[str, ...]
    """Readings of the firing end, the strongest first."""
    portrait: Portrait


def singles(folder: Path) -> list[tuple[Path, tuple[str, ...]]]:
    """Return the unspoiled photos of one plug's firing end, each with what it shows."""
    found = []
    for file in sorted(folder.rglob("*.json")):
        truth = json.loads(file.read_text(encoding="utf-8"))
        if len(truth["plugs"]) == 1 and not truth["fault"] and truth["made_of"].get("view") != "back":
            found.append((file.with_suffix(".jpg"), _shown(truth["plugs"][0])))
    return found


def _shown(plug: dict[str, Any]) -> tuple[str, ...]:
    amounts = {name: amount for name, amount in plug["readings"].items() if name in load_looks().look}
    return tuple(sorted(amounts, key=lambda name: -amounts[name])) or ("normal",)


def look_at_all(photos: Sequence[tuple[Path, tuple[str, ...]]], *, boxes: bool, jobs: int) -> list[Judged]:
    """Measure the photos, in the order given."""
    work = Parallel(n_jobs=jobs, prefer="threads")
    seen = work(delayed(portrait)(path, nose_box(path) if boxes else None) for path, _ in photos)
    return [Judged(path, shows, one) for (path, shows), one in zip(photos, seen, strict=True)]


def judge(model: Model, judged: Sequence[Judged]) -> dict[str, float]:
    """Return how the model and the colour rules did on the photos that could be measured, of readings the model knows."""
    known = [one for one in judged if one.portrait.vector is not None and one.shows[0] in model.readings]
    seen = [predict(model, one.portrait.vector) for one in known if one.portrait.vector is not None]
    chance = np.array([one.chance / model.share for one in seen])
    chance /= chance.sum(1, keepdims=True)
    rules = rules_chance([dict(one.portrait.rules) for one in known], model.readings, np.ones(len(model.readings)))
    truth = np.array([model.readings.index(one.shows[0]) for one in known])
    inside = [bool({*one.answers} & {*case.shows}) for one, case in zip(seen, known, strict=True)]
    figures = {
        "photos": len(known), "measured": np.mean([one.portrait.vector is not None for one in judged]),
        "first_reading": _first(chance, model, known), "first_reading_rules": _first(rules, model, known),
        "log_loss": _log_loss(chance, truth), "log_loss_rules": _log_loss(rules, truth),
        "inside_set": np.mean(inside), "set_size": np.mean([len(one.answers) for one in seen]),
        "good_refused": np.mean([not one.known for one in seen]),
    }  # fmt: skip
    return {name: round(float(value), 4) for name, value in figures.items()}


def _first(chance: np.ndarray, model: Model, known: Sequence[Judged]) -> float:
    """Return the share of photos whose likeliest reading is among those the plug shows, all readings taken as equally common."""
    said = [model.readings[k] for k in chance.argmax(1)]
    return float(np.mean([name in one.shows for name, one in zip(said, known, strict=True)]))


def _log_loss(chance: np.ndarray, truth: np.ndarray) -> float:
    return float(-np.log(np.maximum(chance[np.arange(len(truth)), truth], 1e-12)).mean())


def finished(model: Model, figures: dict[str, float]) -> Model:
    """Return the model with a card that says where it comes from and whether it is used unasked."""
    better = figures["first_reading"] > figures["first_reading_rules"] and figures["log_loss"] < figures["log_loss_rules"]
    limits = [NEVER_REAL, *model.card["limits"]]
    return replace(model, card={**model.card, "limits": limits, "judged_on_test_family": figures, "used_unasked": better})


def main() -> None:
    """Make the model and print its report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("taught", type=Path)
    parser.add_argument("judged", type=Path)
    parser.add_argument("--boxes", action="store_true", help="tell the learner where the nose is")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--out", type=Path, default=HERE)
    options = parser.parse_args()
    with arranged(options.taught, boxes=options.boxes) as folder:
        model = learn(measure(folder, portrait, jobs=options.jobs), about=ABOUT)
    figures = judge(model, look_at_all(singles(options.judged), boxes=False, jobs=options.jobs))
    keep(options.out, finished(model, figures))
    print(report_text(model.card))
    print(json.dumps(figures, indent=1))


if __name__ == "__main__":
    main()
