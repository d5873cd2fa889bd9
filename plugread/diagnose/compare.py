"""How the plugs of one engine differ: colour and gap against the set, which stand out, and the patterns that fit.

Works from colours, from readings (photo and ticks joined), or both. Several patterns can fit at once (cylinders 2 and 3 of an
inline four are neighbours and may share a coil): all are named. Plugs that nobody looked at are left out, and said to be.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from statistics import median

import numpy as np

from plugread.colour import delta_e_2000
from plugread.diagnose.patterns import groups_that_fit, kind_of, uneven_along
from plugread.diagnose.words import place
from plugread.engine import Engine
from plugread.records import Comparison, PlugMeasures
from plugread.rules.tables import Rules

ODD_DELTA_E = 8.0
"""Colour difference to the set's median from which a plug stands out, over and above its own spread (our estimate: about eight
times a difference that is just seen, and twice what repeated photos of one plug differ by)."""
ODD_GAP_MM = 0.25
"""Gap difference from which a plug stands out: the wear limit over the book's value (small-engine maker's service manual)."""
ENOUGH_TO_COMPARE = 3
"""Colours needed before one of them can be called the odd one."""


def compare(
    engine: Engine, reads: Mapping[int, PlugMeasures], readings: Mapping[int, Mapping[str, float]], rules: Rules
) -> Comparison:
    """Compare the plugs of one engine.

    Parameters
    ----------
    reads : cylinder -> measures from its photo; may be empty.
    readings : cylinder -> reading -> probability; may be empty.
    """
    colours = {number: measures.lab for number, measures in reads.items() if measures.lab is not None}
    middle = _median_lab(colours)
    delta_e = {} if middle is None else {n: float(delta_e_2000(np.array(lab), np.array(middle))) for n, lab in colours.items()}
    gaps = _gap_differences(reads)
    kinds = {number: kind for number in engine.cylinders if (kind := kind_of(readings.get(number, {}), rules)) is not None}
    apart = _apart_by_colour(reads, delta_e) | {n for n, gap in gaps.items() if abs(gap) > ODD_GAP_MM + _gap_spread(reads[n])}
    odd = tuple(sorted(_odd_kinds(kinds) | apart))
    ids = _patterns(engine, kinds, odd, colours)
    text, out = _words(ids, rules, engine, kinds.keys() | colours.keys(), odd)
    text += _unclear(sorted(colours.keys() - kinds.keys() - set(odd)))
    return Comparison(delta_e, gaps, odd, text, ids, out, middle)


def _median_lab(colours: Mapping[int, tuple[float, float, float] | None]) -> tuple[float, float, float] | None:
    if len(colours) < 2:
        return None
    lightness, a, b = (float(value) for value in np.median(np.array(list(colours.values())), axis=0))
    return lightness, a, b


def _gap_differences(reads: Mapping[int, PlugMeasures]) -> dict[int, float]:
    gaps = {number: measures.gap_mm.value for number, measures in reads.items() if measures.gap_mm is not None}
    if len(gaps) < 2:
        return {}
    middle = median(gaps.values())
    return {number: gap - middle for number, gap in gaps.items()}


def _gap_spread(measures: PlugMeasures) -> float:
    return measures.gap_mm.spread if measures.gap_mm is not None else 0.0


def _apart_by_colour(reads: Mapping[int, PlugMeasures], delta_e: Mapping[int, float]) -> set[int]:
    """Cylinders whose colour differs by more than the limit even at the near end of its own 95 % interval."""
    if len(delta_e) < ENOUGH_TO_COMPARE:
        return set()
    return {number for number, distance in delta_e.items() if distance - _colour_spread(reads[number]) > ODD_DELTA_E}


def _colour_spread(measures: PlugMeasures) -> float:
    """Half-width of the 95 % interval of a colour difference: how far the corner of the colour's own interval lies."""
    parts = (measures.lightness, measures.a, measures.b)
    value = np.array([part.value for part in parts if part is not None])
    spread = np.array([part.spread for part in parts if part is not None])
    steps = np.diag(spread)
    return float(np.sqrt(sum(float(delta_e_2000(value, value + step)) ** 2 for step in steps)))


def _odd_kinds(kinds: Mapping[int, str]) -> set[int]:
    """Cylinders whose reading is not that of most; without a most common one, those that are not normal."""
    if len(set(kinds.values())) < 2:
        return set()
    (common, count), *_ = Counter(kinds.values()).most_common()
    usual = common if 2 * count > len(kinds) else "normal"
    return {number for number, kind in kinds.items() if kind != usual}


def _patterns(
    engine: Engine, kinds: Mapping[int, str], odd: tuple[int, ...], colours: Mapping[int, tuple[float, float, float] | None]
) -> tuple[str, ...]:
    if len(kinds) < 2 and not odd:
        return ()
    ids: list[str] = []
    lightness = {number: lab[0] for number, lab in colours.items() if lab is not None}
    if uneven_along(engine, lightness):
        ids.append("gradient")
    if not odd:
        only = next(iter(kinds.values()))
        return tuple(ids) if colours.keys() - kinds.keys() else (f"all_alike_{only}", *ids)
    by_kind: dict[str, list[int]] = {}
    for number in odd:
        by_kind.setdefault(kinds.get(number, "other"), []).append(number)
    for kind, numbers in by_kind.items():
        ids += groups_that_fit(engine, tuple(numbers), kind)
    if len(by_kind) > 1:
        ids += groups_that_fit(engine, odd, "other")
    named = [name for name in dict.fromkeys(ids) if name != "several_odd"]
    return tuple(named) or ("several_odd",)


def _words(ids: tuple[str, ...], rules: Rules, engine: Engine, looked_at: set[int], odd: tuple[int, ...]) -> tuple[str, str]:
    """The patterns in plain words: what they point to, what they make unlikely."""
    if not looked_at:
        return "No plug was looked at, so nothing can be compared.", ""
    known = [rules.patterns[name] for name in ids if name in rules.patterns]
    where = f" (cylinder{'s' * (len(odd) > 1)} {', '.join(map(str, odd))})" if odd else ""
    said = [f"{pattern.name}: {_small(pattern.points_to)}" for pattern in known]
    if not said:
        said = ["Only one plug to look at: nothing to compare it with."] if len(looked_at) == 1 else ["No known pattern."]
    missing = len(engine.cylinders) - len(looked_at)
    rest = f" {missing} of {len(engine.cylinders)} plugs were not looked at." if missing else ""
    lead = f"Several patterns fit{where}. " if len(said) > 1 else f"Differing{where}. " if odd else ""
    return lead + " Or: ".join(said) + rest, " ".join(dict.fromkeys(pattern.rules_out for pattern in known if pattern.rules_out))


def _unclear(numbers: list[int]) -> str:
    """Say which plugs were looked at without its being clear what they show; "" for none."""
    return f" What {place(numbers)} shows cannot be told: it may differ." if numbers else ""


def _small(text: str) -> str:
    return text[:1].lower() + text[1:]
