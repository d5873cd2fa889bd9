"""Which groups of cylinders a set of odd plugs could be, and what kind of oddness a reading is.

The ids are those of the pattern table, where their meaning and sources stand.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise

from plugread.engine import Engine
from plugread.rules.tables import Rules

KINDS: Mapping[str, str] = {
    "carbon_fouled": "sooty",
    "oil_fouled": "oily",
    "fuel_wet": "wet",
    "coolant_wet": "wet",
    "lean_white": "white",
    "overheated": "white",
    "additive_stain": "orange",
    "coolant_crust": "orange",
    "worn": "worn",
}
"""Reading -> the word under which the pattern table knows it; all others that matter are "other"."""
RIVAL = 0.3
"""Where readings share the chance, one this likely, and likelier than that nothing is there, counts (our estimate)."""
PRESENT = 0.5
"""Probability from which a reading is taken as what the plug shows."""
LIGHTNESS_RANGE = 15.0
"""Change of L* along a bank from which it is called a gradient (our estimate: three times the spread of one photo)."""
WITH_LEADS = ("contact_breaker", "distributor", "wasted_spark", "magneto")


def kind_of(reading: Mapping[str, float], rules: Rules) -> str | None:
    """What one plug shows, as a word of the pattern table; None if nobody looked or it cannot be told."""
    shown = [name for name, chance in reading.items() if chance >= PRESENT and name != "normal"]
    mattering = [name for name in shown if rules.findings[name].severity > 0 or name in KINDS]
    hiding = [name for name in rules.dominance if name in mattering]
    for name in (*hiding, *mattering):
        return KINDS.get(name, "other")
    likeliest = max(rules.dominance, key=lambda name: reading.get(name, 0.0), default="normal")
    if reading.get(likeliest, 0.0) >= max(RIVAL, reading.get("normal", 1.0)):
        return KINDS.get(likeliest, "other")
    if reading.get("normal", 1.0) < PRESENT:
        return None
    return "normal" if "normal" in reading or any(rules.findings[name].kind == "firing_end" for name in reading) else None


def groups_that_fit(engine: Engine, odd: tuple[int, ...], kind: str) -> list[str]:
    """Ids of all patterns that exactly the cylinders `odd` make; "several_odd" if none does."""
    some = frozenset(odd)
    if len(some) == 1:
        return [f"one_odd_{kind if kind not in ('worn', 'normal') else 'other'}", *_half_pair(engine, some)]
    fitting = [
        ("neighbours", some in _sets(engine.neighbours)),
        ("coil_pair", some in _sets(engine.coils)),
        ("one_feed", len(engine.feeds) > 1 and some in _sets(engine.feeds)),
        ("one_bank", len(engine.banks) > 1 and some in _sets(engine.banks)),
        ("centre_pair", some in _sets(_centres(engine))),
        ("end_cylinders", some in _sets(_ends(engine))),
        ("fire_in_turn", some in _sets(_in_turn(engine))),
    ]
    return [name for name, fits in fitting if fits] or ["several_odd"]


def uneven_along(engine: Engine, lightness: Mapping[int, float]) -> bool:
    """Whether lightness rises or falls steadily along a bank of four or more."""
    for bank in engine.banks:
        values = [lightness[number] for number in bank if number in lightness]
        steps = [after - before for before, after in pairwise(values)]
        steady = all(step > 0 for step in steps) or all(step < 0 for step in steps)
        if len(values) == len(bank) >= 4 and steady and abs(values[-1] - values[0]) > LIGHTNESS_RANGE:
            return True
    return False


def _sets(groups: Iterable[Iterable[int]]) -> set[frozenset[int]]:
    return {frozenset(group) for group in groups}


def _half_pair(engine: Engine, some: frozenset[int]) -> list[str]:
    return ["half_coil_pair"] if any(len(coil) == 2 and some < set(coil) for coil in engine.coils) else []


def _centres(engine: Engine) -> list[tuple[int, int]]:
    """The middle two of every inline engine with an even number of cylinders, four or more."""
    bank = engine.banks[0]
    if engine.spec.layout != "inline" or len(bank) < 4 or len(bank) % 2:
        return []
    half = len(bank) // 2
    return [(bank[half - 1], bank[half])]


def _ends(engine: Engine) -> list[tuple[int, int]]:
    return [(bank[0], bank[-1]) for bank in engine.banks if len(bank) >= 3]


def _in_turn(engine: Engine) -> list[tuple[int, int]]:
    """Pairs that fire one after another on one bank of an engine with leads and more than one bank."""
    order = engine.spec.firing_order
    if engine.spec.ignition not in WITH_LEADS or len(engine.banks) < 2:
        return []
    turns = zip(order, (*order[1:], order[0]), strict=True)
    return [(one, other) for one, other in turns if other in engine.bank_of(one) and one != other]
