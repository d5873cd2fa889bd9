"""The reading of one firing end from a taught model: another source for the same likelihoods, never on top of the colour rules.

The chance of a reading over its share in training is its likelihood. Readings the model was never taught keep what the rules
say; among those it was taught, the rules say how much they hold together and the model how it is dealt out. A firing end unlike
everything the model has seen is left to the rules; what is no firing end at all is refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from plugread.reading.by_rules import as_far_as_found, shares_of
from plugread.reading.features import feature_vector
from plugread.reading.looks import Looks, load_looks
from plugread.reading.model import Model, Prediction, predict
from plugread.reading.model_file import CARD, load_model
from plugread.reading.refuse import doubt
from plugread.reading.surface import shipped_net
from plugread.records import FiringEnd, Photo, PlugMeasures, Reading, White
from plugread.resources import models_dir

TOLD = 3
"""So many of the possible looks are told by name."""
NO_FIRING_END = "this does not look like a firing end; take the plug alone and nearer, or draw a box round the nose"
NOT_IN_THE_BOX = "what the box holds does not look like a firing end; draw it round the nose alone, or take the photo again"
NEVER_SEEN = 3.0
"""Upper 95 % limit of a count that was never once seen: the rule of three (Hanley and Lippman-Hand, "If nothing goes wrong, is
everything all right?", JAMA 249, 1983, 1743; from memory)."""


def load(folder: str | Path) -> Model:
    """Return the model in a folder; raises `ModelError`, one line, if it is missing, damaged, foreign or newer.

    The surface net it takes features from is loaded with it.
    """
    model = load_model(folder, tuple(load_looks().look))
    shipped_net(models_dir() / "surface")
    return model


def shipped() -> Model | None:
    """Return the model that comes with the program, or None where its card does not say that it beats the colour rules."""
    folder = models_dir() / "classifier"
    if not (folder / CARD).exists():
        return None
    model = load(folder)
    return model if model.card.get("used_unasked") is True else None


def read(model: Model, photo: Photo, end: FiringEnd, white: White, measures: PlugMeasures, rules: Reading) -> Reading:
    """Return what the model makes of a firing end; the reading of the rules where they refused or it is unlike all it has seen.

    Parameters
    ----------
    rules : what the colour rules read on the same firing end; they decide whether it is read at all.
    """
    if rules.status == "refused":
        return rules
    seen = predict(model, feature_vector(photo, end, white, measures))
    if seen.nothing:
        return Reading("refused", NOT_IN_THE_BOX if end.by_hand else NO_FIRING_END, {}, {}, None, by="classifier")
    return reading(model, seen, end, measures, rules) if seen.known else rules


def reading(model: Model, seen: Prediction, end: FiringEnd, measures: PlugMeasures, rules: Reading) -> Reading:
    """Return the reading that a prediction of the model makes, given that of the rules."""
    table = load_looks()
    likelihood = likelihoods(model, seen, end, rules.likelihood, least_likelihood(model, table))
    shares = shares_of(likelihood, table)
    top = max(shares, key=lambda name: shares[name])
    unsure = doubt(measures, end, shares, top_share=table.top_share, top_lead=table.top_lead)
    unsure = unsure or _torn(model, seen, shares, table.sure_share)
    return Reading("unsure" if unsure else "read", unsure, likelihood, shares, None if unsure else top, by="classifier")


def least_likelihood(model: Model, table: Looks) -> float:
    """Return the share of the best below which no look falls: what was never seen to happen in n photos may yet in three of n.

    Between the table's two floors.
    """
    photos = model.card.get("photos")
    known = photos if isinstance(photos, int) and photos > 0 else 1
    return float(np.clip(NEVER_SEEN / known, table.taught_floor, table.floor))


def likelihoods(model: Model, seen: Prediction, end: FiringEnd, rules: Mapping[str, float], floor: float) -> dict[str, float]:
    """Return the likelihood of each look, largest = 1, none below `floor`: the model can always be wrong."""
    ratio = seen.chance / model.share
    taught = as_far_as_found(dict(zip(model.readings, (ratio / ratio.max()).tolist(), strict=True)), end)
    level = max(rules[name] for name in model.readings)
    joined = {name: level * taught[name] if name in taught else value for name, value in rules.items()}
    best = max(joined.values())
    return {name: float(np.maximum(value / best, floor)) for name, value in joined.items()}


def _torn(model: Model, seen: Prediction, shares: Mapping[str, float], sure: float) -> str | None:
    """Return why the likeliest look must not be named alone: the taught model holds others for possible, the likeliest told.

    Its set of answers takes all looks for equally common; a share from `sure` on, common looks counted as such, outweighs that.
    """
    top = max(shares, key=lambda name: shares[name])
    if top not in model.readings or seen.answers == (top,) or shares[top] >= sure:
        return None
    likely = sorted(seen.answers, key=lambda name: -shares[name])
    more = f" and {len(likely) - TOLD} more" if len(likely) > TOLD else ""
    return f"several looks are possible: {', '.join(name.replace('_', ' ') for name in likely[:TOLD])}{more}"
