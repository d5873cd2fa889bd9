"""Makes the classifier that ships: taught on rendered plugs, judged on rendered scenes of a family it never saw.

    python -m models.classifier.make TAUGHT [TAUGHT ...] --judged JUDGED [--boxes] [--jobs N]

The folders hold NAME.jpg with NAME.json (truth) and NAME.png (part + 16 x number of the plug) beside it or in the same place
under `truth/`, as `sample_images.render` writes them. A plug is known by what it was made of: photos of one plug stay together.
`--boxes` tells the learner where the nose is. The model is used unasked only if the program reads JUDGED better with it than by
the colour rules alone, in first readings and in log-loss, with all looks equally common and with the usual ones usual.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import os
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from joblib import Parallel, delayed
from PIL import Image

from plugread.pipeline import portrait, read_photo
from plugread.reading.looks import load_looks
from plugread.reading.model import Model, predict
from plugread.reading.portrait import Portrait
from plugread.reading.training.lessons import GROUPS
from plugread.reading.training.report import report_text
from plugread.reading.training.study import Study
from plugread.reading.training.train import keep, learn, measure
from plugread.records import PARTS, Box

Figures = dict[str, Any]

HERE = Path(__file__).resolve().parent
ABOUT = "path-traced pictures of modelled plugs, taken by a simulated phone"
NEVER_REAL = "It has never seen a real photo: taught and judged on rendered plugs alone; expect real photos to do worse."
LEAST = 1e-12
LEAST_PLUGS = 10
"""Readings that rest on fewer plugs do not ship: the report calls those not to be relied on."""


@dataclass(frozen=True)
class Picture:
    """A rendered photo of one plug with its truth; `shows` has the readings of the firing end, the strongest first."""

    photo: Path
    truth: Path
    shows: tuple[str, ...]
    plug: str


def pictures(folder: Path) -> list[Picture]:
    """Return the unspoiled photos of one plug's firing end."""
    found = []
    for file in sorted(folder.rglob("*.json")):
        truth = json.loads(file.read_text(encoding="utf-8"))
        photo = Path(str(file.with_suffix(".jpg")).replace("/truth/", "/"))
        if photo.exists() and len(truth["plugs"]) == 1 and not truth["fault"] and truth["made_of"].get("view") != "back":
            found.append(Picture(photo, file, _shown(truth["plugs"][0]), _plug(truth["plugs"][0])))
    return found


def _shown(plug: Mapping[str, Any]) -> tuple[str, ...]:
    amounts = {name: amount for name, amount in plug["readings"].items() if name in load_looks().look}
    return tuple(sorted(amounts, key=lambda name: -amounts[name])) or ("normal",)


def _plug(plug: Mapping[str, Any]) -> str:
    """Return a name for a plug: equal for photos of the same, for no two plugs have the same gap, amounts and thread."""
    made_of = json.dumps([plug[part] for part in ("readings", "thread", "electrode", "gap_mm")], sort_keys=True)
    return hashlib.sha256(made_of.encode()).hexdigest()[:12]


@contextmanager
def arranged(folders: Iterable[Path], *, boxes: bool) -> Iterator[Path]:
    """Lay out rendered photos as `plugread train` reads them; with `boxes` the nose of each is told."""
    with tempfile.TemporaryDirectory() as place:
        rows: dict[Path, list[tuple[str, str]]] = {}
        for k, one in enumerate(picture for folder in folders for picture in pictures(folder)):
            reading = Path(place) / one.shows[0]
            reading.mkdir(exist_ok=True)
            (reading / f"{one.plug}-{k}.jpg").symlink_to(one.photo.resolve())
            box = nose_box(one) if boxes else None
            rows.setdefault(reading, []).append((f"{one.plug}-{k}.jpg", " ".join(map(str, box)) if box else ""))
        for reading, listed in rows.items():
            with (reading / GROUPS).open("w", newline="", encoding="utf-8") as file:
                csv.writer(file).writerows([("file", "nose"), *listed])
        yield Path(place)


def nose_box(picture: Picture) -> Box | None:
    """Return the true box of the nose, None where it cannot be seen."""
    mask = np.asarray(Image.open(picture.truth.with_suffix(".png")))
    rows, columns = np.nonzero((mask % 16 == PARTS.index("nose")) & (mask // 16 == 1))
    if len(rows) == 0:
        return None
    x, y = int(columns.min()), int(rows.min())
    return x, y, int(columns.max()) - x + 1, int(rows.max()) - y + 1


def well_known(study: Study, least: int = LEAST_PLUGS) -> Study:
    """Return the study without the readings that rest on fewer than `least` plugs; those stay with the colour rules."""
    plugs = {name: len(set(study.plug[study.reading == name])) for name in sorted(set(study.reading.tolist()))}
    kept = np.flatnonzero([plugs[name] >= least for name in study.reading.tolist()])
    few = {name: count for name, count in plugs.items() if count < least}
    return replace(
        study, x=study.x[kept], reading=study.reading[kept], plug=study.plug[kept], group=study.group[kept],
        rules=tuple(study.rules[k] for k in kept), white=tuple(study.white[k] for k in kept), too_few=study.too_few | few,
    )  # fmt: skip


# ---- judging ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Judged:
    """One photo with what it shows, and what measuring it gave."""

    picture: Picture
    portrait: Portrait


def look_at_all(folder: Path, jobs: int) -> list[Judged]:
    """Measure the photos of a folder."""
    found = pictures(folder)
    seen = Parallel(n_jobs=jobs, prefer="threads")(delayed(portrait)(one.photo) for one in found)
    return [Judged(*pair) for pair in zip(found, seen, strict=True)]


def judge(model: Model, judged: Sequence[Judged]) -> Figures:
    """Return how the model and the colour rules did on the photos that could be measured, of readings the model knows."""
    known = [one for one in judged if one.portrait.vector is not None and one.picture.shows[0] in model.readings]
    seen = [predict(model, one.portrait.vector) for one in known if one.portrait.vector is not None]
    taught = [dict(zip(model.readings, one.chance / model.share, strict=True)) for one in seen]
    rules = [{name: one.portrait.rules[name] for name in model.readings} for one in known]
    equal = dict.fromkeys(model.readings, 1.0)
    inside = [bool({*one.answers} & {*case.picture.shows}) for one, case in zip(seen, known, strict=True)]
    return {
        "photos": len(known),
        "measured": _mean([one.portrait.vector is not None for one in judged]),
        "model": _scores(taught, known, equal),
        "rules": _scores(rules, known, equal),
        "inside_set": _mean(inside),
        "set_size": _mean([len(one.answers) for one in seen]),
        "good_refused": _mean([not one.known for one in seen]),
    }


def in_the_program(model: Model, judged: Sequence[Judged], jobs: int) -> Figures:
    """Return how the program reads all photos that could be measured, by the rules alone and with the model."""
    known = [one for one in judged if one.portrait.vector is not None]
    reads = Parallel(n_jobs=jobs, prefer="threads")(
        delayed(read_photo)(one.picture.photo, expected=1, model=model) for one in known
    )
    taught = [dict(read.plugs[0].reading.likelihood) if read.plugs else {} for read in reads]
    rules = [dict(one.portrait.rules) for one in known]
    usual = {name: look.common for name, look in load_looks().look.items()}
    return {
        "photos": len(known),
        **{
            name: {"rules": _scores(rules, known, common), "with_model": _scores(taught, known, common)}
            for name, common in (("equally_common", dict.fromkeys(usual, 1.0)), ("as_usual", usual))
        },
    }


def _scores(likelihood: Sequence[Mapping[str, float]], known: Sequence[Judged], common: Mapping[str, float]) -> Figures:
    """Return the share of photos whose likeliest reading is among those shown, and the log-loss, photos weighed by `common`."""
    weight = np.array([common[one.picture.shows[0]] for one in known])
    right, loss = np.zeros(len(known)), np.zeros(len(known))
    for k, (one, said) in enumerate(zip(known, likelihood, strict=True)):
        chance = {name: said.get(name, 0.0) * share for name, share in common.items()}
        right[k] = max(chance, key=lambda name: chance[name]) in one.picture.shows
        loss[k] = -np.log(max(chance[one.picture.shows[0]] / max(sum(chance.values()), LEAST), LEAST))
    mean = {"first_reading": np.average(right, weights=weight), "log_loss": np.average(loss, weights=weight)}
    return {name: round(float(value), 3) for name, value in mean.items()}


def _mean(values: Sequence[float]) -> float:
    return round(float(np.mean(values)), 3)


def helps(figures: Figures) -> bool:
    """Return whether the program reads better with the model, in every way it was judged."""
    pairs = [(figures[mix]["with_model"], figures[mix]["rules"]) for mix in ("equally_common", "as_usual")]
    return all(a["first_reading"] > b["first_reading"] and a["log_loss"] < b["log_loss"] for a, b in pairs)


def finished(model: Model, alone: Figures, program: Figures) -> Model:
    """Return the model with a card that says where it comes from and whether it is used unasked."""
    judged = {"model_alone": alone, "in_the_program": program}
    passed = [line.split(": ", 1)[-1] for line in model.card["passed_over"]]
    card = {**model.card, "limits": [NEVER_REAL, *model.card["limits"]], "passed_over": [f"{len(passed)} photos not readable"]}
    return replace(model, card={**card, "judged_on_test_family": judged, "used_unasked": helps(program)})


def main() -> None:
    """Make the model and print its report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("taught", type=Path, nargs="+")
    parser.add_argument("--judged", type=Path, required=True)
    parser.add_argument("--boxes", action="store_true", help="tell the learner where the nose is")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--out", type=Path, default=HERE)
    options = parser.parse_args()
    with arranged(options.taught, boxes=options.boxes) as folder:
        model = learn(well_known(measure(folder, portrait, jobs=options.jobs)), about=ABOUT)
    judged = look_at_all(options.judged, options.jobs)
    model = finished(model, judge(model, judged), in_the_program(model, judged, options.jobs))
    keep(options.out, model)
    print(report_text(model.card))
    print(json.dumps(model.card["judged_on_test_family"], indent=1))


if __name__ == "__main__":
    main()
