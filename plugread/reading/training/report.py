"""What was learned and whether to trust it: the model card (plain numbers) and the report made from it (one screen of text)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from importlib.metadata import version
from typing import Any

import numpy as np

from plugread.reading.features import VERSION
from plugread.reading.model import Model
from plugread.reading.model_file import SCHEMA
from plugread.reading.training.check import ALPHA, KEPT, Trust
from plugread.reading.training.scores import Scores, mixed_up
from plugread.reading.training.study import FEWEST_PLUGS, Study

Card = dict[str, Any]

_TOLD = 12
"""Photos passed over that are told one by one; the report is to fit on a screen."""

PURPOSE = "Tells apart the looks of spark plug firing ends it was taught, as a likelihood beside the other findings."
LIMITS = (
    "Knows only the readings listed; all others stay with the colour rules.",
    "The figures hold for plugs, phones and light like those it was taught; a new phone or lamp may change them.",
    "Softmax chances are no guard against foreign objects; the surface net's own answer for them is, and seldom the distance.",
)


@dataclass(frozen=True, eq=False)
class Checked:
    """How the model did on plugs held out, how the colour rules alone did on the same photos, and the learning curve."""

    trust: Trust
    scores: Scores
    rules: Scores
    curve: Sequence[tuple[int, float]]


def card_of(study: Study, model: Model, checked: Checked, *, about: str, seed: int) -> Card:
    """Return the model card; `about` says where the photos come from, in the user's words."""
    trust, scores = checked.trust, checked.scores
    return {
        "schema": SCHEMA,
        "features": VERSION,
        "purpose": PURPOSE,
        "limits": list(LIMITS),
        "made": date.today().isoformat(),
        "photos_from": about or "not told",
        "seed": seed,
        "versions": {name: version(name) for name in ("numpy", "scikit-learn", "opencv-python-headless")},
        **model.card,
        "photos": len(study.x),
        "plugs": len(set(study.plug.tolist())),
        "groups": len(set(study.group.tolist())),
        "grouped_by": study.grouped_by,
        "white_reference": dict(Counter(study.white)),
        "readings": {name: _reading(study, name, recall) for name, recall in zip(model.readings, scores.recall, strict=True)},
        "not_evaluable": dict(study.too_few),
        "held_out": _scores(scores),
        "rules_alone": _scores(checked.rules),
        "mixed_up": [list(row) for row in mixed_up(scores.confusion, model.readings)],
        "confusion": scores.confusion.tolist(),
        "sets": {"alpha": ALPHA, **{name: _short(getattr(trust, name)) for name in _SETS}},
        "refusal": {"kept_on_purpose": KEPT, "farthest": _short(trust.farthest), "good_photos_refused": _short(trust.refused)},
        "learning_curve": [[size, _short(share)] for size, share in checked.curve],
        "passed_over": list(study.passed_over),
    }


_SETS = ("doubt", "coverage", "photo_coverage", "set_size", "single")


def _reading(study: Study, name: str, recall: tuple[float, float, float]) -> Card:
    here = study.reading == name
    numbers = dict(zip(("right", "low", "high"), map(_short, recall), strict=True))
    return {"photos": int(here.sum()), "plugs": len(set(study.plug[here].tolist())), **numbers}


def _scores(scores: Scores) -> Card:
    names = ("balanced_accuracy", "log_loss", "ece", "ece_noise")
    return {name: _short(getattr(scores, name)) for name in names}


def _short(value: float) -> float:
    return round(float(value), 4) + 0.0  # no minus zero


# ---- text ------------------------------------------------------------------------------------------------


def report_text(card: Mapping[str, Any]) -> str:
    """Return the report: the answer first, then each reading, what is mixed up, what was passed over."""
    return "\n\n".join(part for part in (_headline(card), _table(card), _mistakes(card), _leftovers(card)) if part)


def _headline(card: Mapping[str, Any]) -> str:
    learned = (
        f"Learned from {card['photos']} photos of {card['plugs']} plugs, checked on others, each {card['grouped_by']} kept whole."
    )
    return "\n".join((verdict(card), learned, "", *(f"{name:27}{text}" for name, text in figures(card).items())))


def figures(card: Mapping[str, Any]) -> dict[str, str]:
    """Return the figures of plugs held out, in words, by what they are called."""
    held, rules, sets, refused = card["held_out"], card["rules_alone"], card["sets"], card["refusal"]["good_photos_refused"]
    alike = np.log(len(card["readings"]))
    right, by_rules = _percent(held["balanced_accuracy"]), _percent(rules["balanced_accuracy"])
    return {
        "Right, mean over readings": f"{right} (the colour rules alone {by_rules})",
        "Log-loss": f"{held['log_loss']:.2f} (rules {rules['log_loss']:.2f}, a blind guess {alike:.2f})",
        "Chances off by": f"{_percent(held['ece'])} (up to {_percent(held['ece_noise'])} would be chance with so few photos)",
        "Sets of answers": f"hold the truth for {_percent(sets['coverage'])} of plugs, {sets['set_size']:.1f} answers a photo",
        "Left to the rules": f"{_percent(refused)} of these photos, as unlike what it was taught",
    }


def verdict(card: Mapping[str, Any]) -> str:
    """Return one sentence: whether the model is worth using."""
    held, rules = card["held_out"], card["rules_alone"]
    if held["log_loss"] >= rules["log_loss"] or held["balanced_accuracy"] < rules["balanced_accuracy"]:
        return "Do not use it yet: the colour rules alone do as well or better on these plugs."
    if held["ece"] > 1.5 * held["ece_noise"]:
        return "Use it with care: it beats the colour rules, but its chances are off by more than noise."
    if min(row["plugs"] for row in card["readings"].values()) < 10:
        return (
            "It beats the colour rules here, but some readings rest on fewer than ten plugs: teach it more before relying on it."
        )
    return "It beats the colour rules on these plugs."


def _table(card: Mapping[str, Any]) -> str:
    wide = max(len(name) for name in (*card["readings"], *card["not_evaluable"], "reading"))
    lines = [f"{'reading':{wide}}  photos  plugs   right   95 % interval"]
    for name, row in card["readings"].items():
        right, low, high = (_percent(row[part]) for part in ("right", "low", "high"))
        lines.append(f"{name:{wide}}  {row['photos']:6}  {row['plugs']:5}  {right:>6}   {low} to {high}")
    lines += [f"{name:{wide}}          {count:5}  {_left_out(count)}" for name, count in card["not_evaluable"].items()]
    return "\n".join(lines)


def _left_out(plugs: int) -> str:
    return f"not evaluable, left out: fewer than {FEWEST_PLUGS} plugs" if plugs < FEWEST_PLUGS else "left out: too few plugs"


def _mistakes(card: Mapping[str, Any]) -> str:
    rows = [f"  {truth} taken for {said}: {_count(photos, 'photo')}" for truth, said, photos in card["mixed_up"]]
    return "Still mixed up:\n" + "\n".join(rows) if rows else "Nothing was mixed up."


def _leftovers(card: Mapping[str, Any]) -> str:
    rows = card["passed_over"]
    if not rows:
        return ""
    more = [f"  and {len(rows) - _TOLD} more; all of them stand in the card"] if len(rows) > _TOLD else []
    return "\n".join((f"Passed over ({len(rows)}):", *(f"  {row}" for row in rows[:_TOLD]), *more))


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
