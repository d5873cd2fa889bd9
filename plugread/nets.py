"""Weights of a small net: read with its card, checked against the hash there, run by OpenCV's own `cv2.dnn`."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.errors import ModelError

AGAIN = "install the package again"


def card_of(folder: Path, what: str) -> Mapping[str, Any]:
    """Return the card in a model folder; `what` names the net in messages.

    Raises
    ------
    ModelError
        There is none, or it is no JSON object.
    """
    try:
        card = json.loads((folder / "card.json").read_text(encoding="utf-8"))
    except (OSError, ValueError) as problem:
        raise _unread(what, folder, problem) from None
    if not isinstance(card, dict):
        raise _unread(what, folder, "card.json is no object")
    return card


def net_of(folder: Path, entry: object, what: str) -> Any:
    """Return the net that a card's entry names by `file` and `sha256`.

    Raises
    ------
    ModelError
        The weights are missing, not those of the card, or not to be loaded.
    """
    told = entry if isinstance(entry, Mapping) else {}
    try:
        data, expected = (folder / str(told["file"])).read_bytes(), told["sha256"]
    except (OSError, KeyError) as problem:
        raise _unread(what, folder, problem) from None
    if hashlib.sha256(data).hexdigest() != expected:
        raise ModelError(f"the weights of {what} are not those of its card", AGAIN)
    try:
        return cv2.dnn.readNetFromONNX(np.frombuffer(data, np.uint8))
    except cv2.error as problem:
        raise ModelError(f"OpenCV cannot load {what} ({problem.err})", "use OpenCV 5 or newer") from None


def softmax(scores: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return scores as chances that add up to one along the first axis."""
    raised = np.exp(scores - scores.max(axis=0))
    return np.asarray(raised / raised.sum(axis=0), np.float32)


def _unread(what: str, folder: Path, problem: object) -> ModelError:
    return ModelError(f"{what} in {folder} could not be read ({problem})", AGAIN)
