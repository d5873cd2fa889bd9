"""Takes the light out of a photo: by chart, paper and grey card, paper, card, or - said so - by an estimate.

The order is by how much each is worth on a phone's tone curve: chart, paper and card together, one of them, none.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from plugread.photo.chart import white_from_chart
from plugread.photo.estimate import Estimate, estimate_light, estimated_white
from plugread.photo.references import load_references
from plugread.photo.sheet import Sheet, find_sheets, inspect
from plugread.pixels import apply_white, smaller
from plugread.records import Box, FiringEnd, Photo, White

apply = apply_white

_POWERS = (0.75, 1.35)
"""Limits of the power through paper and card: cameras' tone curves lie within (our simulated ones 0.76 to 1.25)."""
_SIDE_PX = 960
"""Light and references are looked for on the photo reduced to about this side: they are large and plain."""


def find_white(
    photo: Photo,
    ends: Sequence[FiringEnd],
    *,
    card_box: Box | None = None,
    paper_box: Box | None = None,
) -> White:
    """Return the best correction the photo allows.

    Parameters
    ----------
    ends : firing ends found; references are looked for outside them.
    card_box, paper_box : where the user says that a grey card or white paper lies, upright full-size pixels; these are used
        before anything found, unless clipped, shaded or sloping, which `why` then says.
    """
    refused: list[str] = []
    photo = smaller(photo, _SIDE_PX)
    guess = estimate_light(photo, ends)
    if card_box is None and paper_box is None:
        chart = white_from_chart(photo, refused)
        if chart is not None:
            return chart
        paper, card = find_sheets(photo, ends, guess, refused)
    else:
        paper = inspect(photo, paper_box, "paper", refused) if paper_box else None
        card = inspect(photo, card_box, "card", refused) if card_box else None
    why = "; ".join(dict.fromkeys(refused)) or None
    if paper is None and card is None:
        return estimated_white(photo, guess, why)
    known = load_references()
    return from_sheets(paper, card, (known.paper, known.card), guess, why)


def from_sheets(
    paper: Sheet | None,
    card: Sheet | None,
    reflectances: tuple[float, float],
    guess: Estimate | None = None,
    why: str | None = None,
) -> White:
    """Return the correction by paper, card or both (at least one is given).

    Parameters
    ----------
    reflectances : of paper and card, 0-1.
    guess : the light as estimated; needed for a sheet that was merely found, or whose level is unsure.
    """
    if paper is not None and card is not None:
        return _two_points(paper, card, reflectances, why)
    sheet = paper or card
    assert sheet is not None
    spread = load_references().spread
    name, reflectance = ("white paper", reflectances[0]) if sheet.kind == "paper" else ("grey card", reflectances[1])
    lightness, a, b = spread[sheet.kind]
    return White(
        method=sheet.kind,
        detail=f"{name} found in the picture" if sheet.found else name,
        gains=_one_point(sheet, reflectance, guess),
        power=np.ones(3),
        matrix=np.eye(3),
        level_known=sheet.level_sure,
        spread_lab=(lightness if sheet.level_sure else spread["estimated"][0], a, b),
        reference_box=sheet.box,
        why=why if sheet.level_sure else _joined(why, "the sheet may be white or grey: only its hue was used"),
    )


def _one_point(sheet: Sheet, reflectance: float, guess: Estimate | None) -> NDArray[np.float64]:
    """Return the gains (3,) that bring the sheet to its reflectance; one merely found shares the hue with other votes."""
    if guess is None:
        return np.asarray(reflectance / sheet.rgb_linear)
    light = guess.joined_by(sheet.rgb_linear) if sheet.found else sheet.rgb_linear / sheet.rgb_linear[1]
    level = reflectance / sheet.rgb_linear[1] if sheet.level_sure else guess.gain
    return np.asarray(level / light)


def _two_points(paper: Sheet, card: Sheet, reflectances: tuple[float, float], why: str | None) -> White:
    """Return the power law through paper and card, for each channel; it takes out a camera's tone curve as well.

    A power past the limits says that the two lie in different light; it is then held there, hue is the mean of both, and `why`
    says so.
    """
    wanted = np.log(reflectances[0] / reflectances[1])
    seen = np.log(paper.rgb_linear / card.rgb_linear)
    power = np.clip(wanted / np.maximum(seen, 1e-6), *_POWERS)
    if not np.allclose(power * seen, wanted, rtol=0.001):
        why = _joined(why, "paper and grey card lie in different light; put them side by side next to the plug")
    by_paper = np.log(reflectances[0]) / power - np.log(paper.rgb_linear)
    by_card = np.log(reflectances[1]) / power - np.log(card.rgb_linear)
    gains, spread = np.exp((by_paper + by_card) / 2), load_references().spread["both"]
    return White("card", "white paper and grey card", gains, power, np.eye(3), True, spread, card.box, why)


def _joined(first: str | None, second: str) -> str:
    return f"{first}; {second}" if first else second
