"""What the classifier adds to the colour rules, on photos of known truth: one table, and the learning curve as a picture.

    python -m tests.bench.bench_classifier TAUGHT [TAUGHT ...] --judged JUDGED [--boxes] [--out DIR]

TAUGHT and JUDGED as for `models.classifier.make`. Pictures without a plug are judged three ways: what the finder refuses, what
the distance refuses of those it let through, and what the distance refuses where a box is drawn by hand on the thing itself.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from models.classifier.make import Figures, arranged, in_the_program, judge, look_at_all, well_known
from plugread.photo.decode import open_photo
from plugread.photo.finding import find_ends
from plugread.photo.white import find_white
from plugread.pipeline import portrait, read_photo
from plugread.reading.features import feature_vector
from plugread.reading.model import Model, predict
from plugread.reading.training.report import report_text
from plugread.reading.training.train import CURVE, keep, learn, measure
from plugread.records import Box

TIMED_PHOTOS, ROUNDS, JOBS = 300, 7, 2
"""Training is timed on so many photos, or all there are, on both cores."""


def table(rows: Sequence[tuple[str, str, str]]) -> None:
    """Print quantity, what was found, what was to be reached."""
    for name, found, reach in rows:
        sys.stdout.write(f"| {name} | {found} | {reach} |\n")


def share(hits: Sequence[bool]) -> str:
    """Return "17 of 20" with the share."""
    return f"{sum(hits)} of {len(hits)} ({np.mean(hits):.0%})" if len(hits) else "none"


def middle(photo: Path) -> Box:
    """Return a box a fifth of the picture wide, in its middle, where things that are no plug lie."""
    w, h = open_photo(photo, name=photo.name).size
    return w * 2 // 5, h * 2 // 5, w // 5, h // 5


def foreign(folder: Path, model: Model, every: int) -> list[tuple[str, str, str]]:
    """Return what becomes of pictures without a plug."""
    photos = sorted(folder.rglob("none_*.jpg"))[::every]
    free = [portrait(photo) for photo in photos]
    through = [not predict(model, one.vector).known for one in free if one.vector is not None]
    boxed = [portrait(photo, middle(photo)) for photo in photos]
    by_box = [one.vector is None or not predict(model, one.vector).known for one in boxed]
    told = [one.vector is None or not predict(model, one.vector).known for one in free]
    return [
        ("no plug in the picture: refused by the finder", share([one.vector is None for one in free]), ""),
        ("of those let through: refused by distance", share(through), ""),
        ("no plug in the picture: refused in all", share(told), "100 %"),
        ("box drawn on a thing that is no plug: refused", share(by_box), "100 %"),
    ]


def prediction_ms(photo: Path, model: Model) -> float:
    """Return what the model adds to reading one photo: its features and the prediction, least of several rounds, in ms."""
    opened = open_photo(photo, name=photo.name)
    end = find_ends(opened, expected=1, quick=False)[0]
    white = find_white(opened, (end,))
    measures = read_photo(photo).plugs[0].measures
    rounds = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        predict(model, feature_vector(opened, end, white, measures))
        rounds.append(1000 * (time.perf_counter() - start))
    return min(rounds)


def training_s(folder: Path) -> tuple[int, float]:
    """Return how many photos were learned from, readings in turn, and the wall time, measuring included."""
    import tempfile

    queues = [sorted(child.glob("*.jpg")) for child in sorted(folder.iterdir()) if child.is_dir()]
    turns = [queue[k] for k in range(max(map(len, queues))) for queue in queues if k < len(queue)]
    with tempfile.TemporaryDirectory() as some:
        for photo in turns[:TIMED_PHOTOS]:
            (Path(some) / photo.parent.name).mkdir(exist_ok=True)
            (Path(some) / photo.parent.name / photo.name).symlink_to(photo.resolve())
        start = time.perf_counter()
        learn(measure(Path(some), portrait, jobs=JOBS))
        return len(turns[:TIMED_PHOTOS]), time.perf_counter() - start


def held_out_rows(card: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Return the figures of grouped validation."""
    held, rules, sets = card["held_out"], card["rules_alone"], card["sets"]
    curve = ", ".join(f"{size}: {right:.0%}" for size, right in card["learning_curve"])
    return [
        ("photos, plugs, readings taught", f"{card['photos']}, {card['plugs']}, {len(card['readings'])}", "100 plugs or more"),
        ("passed over", str(len(card["passed_over"])), ""),
        ("balanced accuracy held out, rules", f"{held['balanced_accuracy']:.2f}, {rules['balanced_accuracy']:.2f}", "0.88"),
        ("log-loss held out, rules", f"{held['log_loss']:.2f}, {rules['log_loss']:.2f}", ""),
        ("ECE held out (95 % noise)", f"{held['ece']:.3f} ({held['ece_noise']:.3f})", "0.05"),
        ("sets held out: plugs covered, mean size", f"{sets['coverage']:.2f}, {sets['set_size']:.2f}", "0.90 +- 0.03, 1.4"),
        ("good photos refused held out", f"{card['refusal']['good_photos_refused']:.1%}", "4 %"),
        ("learning curve, plugs: right", curve, ""),
    ]


def judged_rows(alone: Figures, program: Figures) -> list[tuple[str, str, str]]:
    """Return the figures of the test family."""
    rows = [
        ("test family: photos measured", f"{alone['photos']} of taught readings; {alone['measured']:.0%} of all", ""),
        ("first reading among taught readings, rules", _pair(alone["model"], alone["rules"], "first_reading"), "0.85"),
        ("log-loss among taught readings, rules", _pair(alone["model"], alone["rules"], "log_loss"), ""),
        ("inside the set, mean size", f"{alone['inside_set']:.2f}, {alone['set_size']:.1f}", "0.95, 1.4"),
        ("good plugs refused", f"{alone['good_refused']:.1%}", "4 %"),
    ]
    for mix in ("equally_common", "as_usual"):
        both = program[mix]["with_model"], program[mix]["rules"]
        name = f"program, all readings {mix.replace('_', ' ')}"
        rows.append((f"{name}: first reading with it, rules", _pair(*both, "first_reading"), ""))
        rows.append((f"{name}: log-loss with it, rules", _pair(*both, "log_loss"), ""))
    return rows


def _pair(one: Figures, other: Figures, name: str) -> str:
    return f"{one[name]:.2f}, {other[name]:.2f}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("taught", type=Path, nargs="+")
    parser.add_argument("--judged", type=Path, required=True)
    parser.add_argument("--boxes", action="store_true", help="tell the learner where the nose is")
    parser.add_argument("--out", type=Path, help="folder for the model and its pictures")
    parser.add_argument("--least", type=int, default=3, help="plugs a reading must rest on to be taught")
    parser.add_argument("--every", type=int, default=1, help="judge only every so manyth picture without a plug")
    options = parser.parse_args()
    with arranged(options.taught, boxes=options.boxes) as folder:
        model = learn(well_known(measure(folder, portrait, jobs=JOBS), options.least))
        timed, taught_s = training_s(folder)
    judged = look_at_all(options.judged, JOBS)
    sys.stdout.write(report_text(model.card) + "\n\n")
    table(held_out_rows(dict(model.card)) + judged_rows(judge(model, judged), in_the_program(model, judged, JOBS)))
    table(foreign(options.judged, model, options.every))
    readable = next(one.picture.photo for one in judged if one.portrait.vector is not None)
    table(
        [
            (f"training on {timed} photos, both cores, s", f"{taught_s:.0f}", f"60 for {TIMED_PHOTOS}"),
            ("prediction adds, ms", f"{prediction_ms(readable, model):.1f}", "2"),
        ]
    )
    if options.out is not None:
        keep(options.out, model)
        sys.stdout.write(f"learning curve: {options.out / CURVE}\n{json.dumps(model.card['mixed_up'])}\n")


if __name__ == "__main__":
    main()
