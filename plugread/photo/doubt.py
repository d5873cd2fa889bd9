"""Reasons not to believe a find, and what to say of a picture without one.

A firing end is believed only if its parts hang together as they do on a plug: a nose that touches strap, rim or centre
electrode, and shell around or behind it. A threaded bolt, a pencil or a wrinkled ball shows some of these, rarely all.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.errors import PhotoError
from plugread.photo.part_net import Answer
from plugread.records import PARTS

Mask = NDArray[np.bool_]

# Limits, our own choice, set on rendered pictures that the nets were not trained on: cells of the closer look (a firing end is
# about 90 cells wide there), probabilities 0-1.
_LEAST_NOSE, _LEAST_NEIGHBOUR, _LEAST_SHELL, _TOUCH_CELLS = 18, 6, 16, 3
_SURE_NONE, _LEAST_AGREEMENT, _LEAST_CERTAINTY, _SURE_SPOILED = 0.7, 0.3, 0.55, 0.85
# One closer look suffices from these on: overlap with the first look's nose, certainty of the nose, of the view.
_AGREED_AT_ONCE, _CERTAIN_AT_ONCE, _VIEW_AT_ONCE = 0.6, 0.8, 0.6
# A nose has at most this share of the area of the metal round it (0.58 at most, 0.13 usually, in 80 rendered photos of plugs) and
# fills at most this share of the closer look (0.17 at most).
_MOST_NOSE, _MOST_OF_LOOK = 0.6, 0.22
# Share of the picture that hex and upper insulator must fill to say that only they are in view.
_UPPER_SHARE = 0.01

_METAL = tuple(PARTS.index(name) for name in ("centre", "strap", "rim", "thread"))
_NEIGHBOURS, _SHELL = ("centre", "strap", "rim"), ("rim", "thread", "hex")

_SPOILED = {
    "blurred": ("the picture is blurred", "rest the phone against something, tap on the firing end to focus, and take it again"),
    "blown_out": ("the picture is far too bright", "turn the flash off or move the lamp away, and take it again"),
    "too_dark": ("the picture is far too dark", "take it again in daylight or nearer to a lamp"),
}
_AGAIN = "fill a third of the picture with the firing end, strap side towards you, in even light, and take it again"


@dataclass(frozen=True)
class Doubt:
    """Why a find is not believed, and what to do now; `a_plug` where a plug is there and only its nose is in doubt."""

    why: str
    advice: str = _AGAIN
    a_plug: bool = False


def nose_mask(answer: Answer, own: Mask, least: float = 0.5) -> Mask:
    """Return the nose's cells: the largest connected piece of likely cells of this plug, and pieces a fifth its size."""
    likely = ((answer.parts[PARTS.index("nose")] > least) & own).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(likely, connectivity=8)
    if count < 2:
        return np.zeros(likely.shape, bool)
    areas = stats[1:, cv2.CC_STAT_AREA]
    return np.isin(labels, np.flatnonzero(areas >= areas.max() / 5) + 1)


def doubt_about(answer: Answer, own: Mask, nose: Mask, agreement: float) -> Doubt | None:
    """Return why one find must not be believed, or None."""
    no_plug = _not_a_plug(answer, own, nose)
    if spoiled := _spoiled(answer):
        return replace(spoiled, a_plug=no_plug is None)
    return no_plug or _not_sure(answer, nose, agreement)


def sure_at_once(answer: Answer, own: Mask, nose: Mask, agreement: float) -> bool:
    """Return whether one closer look is enough: nothing to doubt, and the first look saw the nose in the same place."""
    return agreement >= _AGREED_AT_ONCE and nearly_sure(answer, own, nose)


def nearly_sure(answer: Answer, own: Mask, nose: Mask) -> bool:
    """Return whether nothing is to be doubted, nose and view are certain; only the coarse first look may tell otherwise."""
    if doubt_about(answer, own, nose, 1.0) is not None:
        return False
    return bool(_certainty(answer, nose) >= _CERTAIN_AT_ONCE and max(answer.views.values()) >= _VIEW_AT_ONCE)


def nothing_found(answer: Answer) -> PhotoError:
    """Return what to tell the user of a whole picture without any believable find."""
    if spoiled := _spoiled(answer):
        return PhotoError(spoiled.why, spoiled.advice)
    shown = answer.parts.argmax(0)
    upper = np.isin(shown, [PARTS.index("hex"), PARTS.index("upper")]).mean()
    if upper > _UPPER_SHARE:
        return PhotoError("only the upper end of a plug is in view", "turn the plug round: the end with the electrodes is read")
    return PhotoError("no plug found in the picture", _AGAIN)


def _spoiled(answer: Answer) -> Doubt | None:
    worst = max(_SPOILED, key=lambda name: answer.qualities[name])
    return Doubt(*_SPOILED[worst]) if answer.qualities[worst] > _SURE_SPOILED else None


def _not_a_plug(answer: Answer, own: Mask, nose: Mask) -> Doubt | None:
    shell = int(_part(answer, own, _SHELL).sum())
    if nose.sum() < _LEAST_NOSE:
        return Doubt("no insulator nose can be made out", a_plug=shell >= 4 * _LEAST_SHELL and answer.views["none"] < _SURE_NONE)
    if answer.views["none"] > _SURE_NONE:
        return Doubt("what was found does not look like a firing end")
    kernel = np.ones((2 * _TOUCH_CELLS + 1,) * 2, np.uint8)
    ring = (cv2.dilate(nose.astype(np.uint8), kernel) > 0) & ~nose
    if (_part(answer, own, _NEIGHBOURS) & ring).sum() < _LEAST_NEIGHBOUR:
        return Doubt("what was found has neither strap nor shell beside the nose")
    if shell < _LEAST_SHELL:
        return Doubt("what was found has no shell")
    metal = answer.parts.argmax(0)[own]
    if nose.sum() > _MOST_NOSE * np.isin(metal, _METAL).sum() or nose.mean() > _MOST_OF_LOOK:
        return Doubt("what was found is too large and plain for an insulator nose, with too little metal round it")
    return None


def _not_sure(answer: Answer, nose: Mask, agreement: float) -> Doubt | None:
    certainty = _certainty(answer, nose)
    if certainty < _LEAST_CERTAINTY:
        return Doubt(
            f"the nose cannot be told from its surroundings (certainty {certainty:.2f}, at least {_LEAST_CERTAINTY:g} needed)",
            a_plug=True,
        )
    if agreement < _LEAST_AGREEMENT:
        found = f"(overlap {agreement:.2f}, at least {_LEAST_AGREEMENT:g} needed)"
        return Doubt(f"two looks at the nose disagree {found}", a_plug=True)
    return None


def _certainty(answer: Answer, nose: Mask) -> float:
    """Return the mean probability of the nose's cells."""
    return float(answer.parts[PARTS.index("nose")][nose].mean())


def _part(answer: Answer, own: Mask, names: tuple[str, ...]) -> Mask:
    chance = answer.parts[[PARTS.index(name) for name in names]].sum(0)
    return np.asarray((chance > 0.5) & own)
