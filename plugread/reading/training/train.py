"""From a folder of confirmed photos to a model on disk: the order of learning."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from plugread.errors import ModelError
from plugread.reading.looks import load_looks
from plugread.reading.model import Model
from plugread.reading.model_file import make_folder, save_model
from plugread.reading.training.check import hold_out, learning_curve, trust
from plugread.reading.training.drawings import confusion_svg, curve_svg
from plugread.reading.training.fit import best_candidate, fit
from plugread.reading.training.lessons import find_lessons
from plugread.reading.training.report import Checked, card_of
from plugread.reading.training.scores import rules_chance, score
from plugread.reading.training.study import FEWEST_PLUGS, Look, Progress, Study, look_at, study

SEED = 1
CONFUSION, CURVE = "confusion.svg", "learning_curve.svg"


def train(
    folder: Path, out: Path, look: Look, *, jobs: int = 1, about: str = "", progress: Progress | None = None
) -> Mapping[str, Any]:
    """Learn from `folder`, write the model to the folder `out`, and return its card.

    Parameters
    ----------
    look : measures one photo; called in `jobs` threads.
    about : where the photos come from, for the card.
    progress : called with (photos measured, photos in all).

    Raises
    ------
    ModelError
        one line, if there is too little to learn from or `out` cannot be written; a model that was there stays as it was.
    """
    make_folder(out)
    model = learn(measure(folder, look, jobs=jobs, progress=progress), about=about)
    keep(out, model)
    return model.card


def measure(folder: Path, look: Look, *, jobs: int = 1, progress: Progress | None = None) -> Study:
    """Return the measured photos of a folder, in groups; parameters and errors as of `train`."""
    lessons = find_lessons(folder, load_looks().look)
    if not lessons.photos:
        raise ModelError(
            f"{folder} holds no photos to learn from" + _first(lessons.passed_over), "one sub-folder for each reading"
        )
    learned = study(lessons.photos, look_at(lessons.photos, look, jobs=jobs, progress=progress))
    return replace(learned, passed_over=(*lessons.passed_over, *learned.passed_over))


def keep(out: Path, model: Model) -> None:
    """Write a model with its two pictures; raises `ModelError` if that cannot be, the model that was there stays as it was."""
    save_model(out, model, {CONFUSION: confusion_svg(model.card), CURVE: curve_svg(model.card)})


def learn(learned: Study, *, about: str = "", seed: int = SEED) -> Model:
    """Return the model of measured photos, with its limits and its card; raises `ModelError` if there is too little."""
    readings = sorted(set(learned.reading.tolist()))
    if len(readings) < 2:
        raise ModelError(_too_little(learned, readings), f"at least two readings with {FEWEST_PLUGS} plugs each are needed")
    held = hold_out(learned, seed)
    limits = trust(learned, held)
    name = best_candidate(learned.x, learned.reading, learned.group, seed)
    model = fit(learned.x, learned.reading, learned.group, name=name, seed=seed)
    truth = np.searchsorted(held.readings, learned.reading)
    scores = score(held.chance, truth, learned.plug, seed)
    rules = score(rules_chance(learned.rules, readings, model.share), truth, learned.plug, seed)
    checked = Checked(limits, scores, rules, learning_curve(learned, name, seed))
    card = card_of(learned, model, checked, about=about, seed=seed)
    return replace(model, farthest=limits.farthest, doubt=limits.doubt, card=card)


def _too_little(learned: Study, readings: list[str]) -> str:
    """Say what there is: how many readings have enough plugs, which have too few, why photos were left out."""
    few = ", ".join(f"{name} ({count})" for name, count in learned.too_few.items())
    enough = f"only {readings[0]} has enough plugs" if readings else "no reading has enough plugs"
    return enough + (f"; too few: {few}" if few else "") + _first(learned.passed_over)


def _first(lines: tuple[str, ...]) -> str:
    more = f" and {len(lines) - 2} more" if len(lines) > 2 else ""
    return f" (passed over: {'; '.join(lines[:2])}{more})" if lines else ""
