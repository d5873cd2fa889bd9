"""What an engine has: cylinders, banks, neighbours, feeds, coils, and where each cause can sit.

Everything is derived from the firing order and the layout, and may be overridden by the case file.
What the engine cannot have is never offered.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from types import MappingProxyType

from plugread.errors import CaseError
from plugread.records import EngineSpec
from plugread.rules.tables import Cause, Needs

MOST_CYLINDERS = 12
LAYOUTS = ("inline", "vee", "flat")
INDUCTIONS = ("carburettor", "single_point", "port_injection", "direct_injection")
IGNITIONS = ("contact_breaker", "distributor", "wasted_spark", "coil_on_plug", "magneto")
HEADS = ("aluminium", "iron")
ONE_COIL_FOR_ALL = ("contact_breaker", "distributor")

Groups = tuple[tuple[int, ...], ...]


class Engine:
    """An engine with its groups of cylinders, checked for sense.

    Parameters
    ----------
    spec : the engine as the case file gives it. Groups left out follow from the layout: vee and flat engines are numbered from
        the front, odd numbers on one bank and even on the other; neighbours stand next to each other along a bank; a
        carburettor feeds all cylinders; wasted-spark coils serve companion cylinders.

    Attributes
    ----------
    cylinders : the cylinder numbers, 1 to n.
    banks, feeds, coils : groups of cylinder numbers; `feeds` is empty without a carburettor.
    neighbours : pairs that stand next to each other.
    companions : cylinder -> the one that rises with it, half the firing order away; empty for an odd number of cylinders.

    Raises
    ------
    CaseError
        If the description contradicts itself; one line names the field, what was found and what to do.
    """

    def __init__(self, spec: EngineSpec) -> None:
        self.spec = spec
        _check_words(spec)
        self.cylinders = tuple(range(1, spec.cylinders + 1))
        _check_firing_order(spec)
        self.companions = MappingProxyType(_companions(spec.firing_order))
        self.banks = self._groups("banks", spec.banks, self._usual_banks())
        self.neighbours = self._pairs(spec.neighbours)
        self.feeds = self._groups("feeds", spec.feeds, (self.cylinders,) if spec.induction == "carburettor" else ())
        self.coils = self._groups("coils", spec.coils, self._usual_coils())

    def has(self, needs: Needs) -> bool:
        """Whether the engine is of the kind that `needs` asks for: every field must hold one of its allowed values."""
        return all(any(self._meets(name, value) for value in allowed) for name, allowed in needs.items())

    def instances(self, cause: Cause) -> Groups:
        """Where `cause` can sit on this engine: one tuple of cylinders a place; `()` stands for the whole engine.

        A coil of one cylinder is left to the causes of that cylinder, a bank that is the whole engine to those of the engine; a
        carburettor for each cylinder is a feed of its own.
        """
        if not self.has(cause.needs):
            return ()
        places: dict[str, Groups] = {
            "engine": ((),),
            "bank": tuple(bank for bank in self.banks if 1 < len(bank) < len(self.cylinders)),
            "feed": self.feeds,
            "coil": tuple(coil for coil in self.coils if len(coil) > 1),
            "neighbours": self.neighbours,
            "cylinder": tuple((cylinder,) for cylinder in self.cylinders),
        }
        return places[cause.scope]

    def bank_of(self, cylinder: int) -> tuple[int, ...]:
        """The bank on which `cylinder` stands."""
        return next(bank for bank in self.banks if cylinder in bank)

    def describe(self) -> str:
        """Return the engine in a few words, as "inline, 4 cylinders, port injection, coil on plug"."""
        spec = self.spec
        count = f"{spec.cylinders} cylinder{'s' * (spec.cylinders > 1)}"
        return ", ".join((spec.layout, count, _words(spec.induction), _words(spec.ignition)))

    def _meets(self, name: str, value: str) -> bool:
        if name == "cylinders":
            count = len(self.cylinders)
            return count >= int(value[:-1]) if value.endswith("+") else count == int(value)
        if name == "closed_loop":
            return value == str(self.spec.closed_loop).lower()
        own = getattr(self.spec, name)
        return own is None or own == value  # not told: it may be so

    def _usual_banks(self) -> Groups:
        if self.spec.layout == "inline" or len(self.cylinders) == 1:
            return (self.cylinders,)
        return self.cylinders[0::2], self.cylinders[1::2]

    def _usual_coils(self) -> Groups:
        if self.spec.ignition in ONE_COIL_FOR_ALL:
            return (self.cylinders,)
        if self.spec.ignition == "wasted_spark" and self.companions:
            return tuple((one, other) for one, other in self.companions.items() if one < other)
        return tuple((cylinder,) for cylinder in self.cylinders)

    def _groups(self, name: str, given: Groups | None, usual: Groups) -> Groups:
        if given is None:
            return usual
        named = sorted(cylinder for group in given for cylinder in group)
        if named != list(self.cylinders):
            raise CaseError(f"engine.{name} = {_lists(given)} must name each of the cylinders 1 to {len(self.cylinders)} once")
        return tuple(tuple(group) for group in given)

    def _pairs(self, given: tuple[tuple[int, int], ...] | None) -> tuple[tuple[int, int], ...]:
        if given is None:
            return tuple(pair for bank in self.banks for pair in pairwise(bank))
        for pair in given:
            if len(pair) != 2 or len(set(pair)) != 2 or not set(pair) <= set(self.cylinders):
                raise CaseError(f"engine.neighbours has {list(pair)}", "give pairs of two different cylinders of this engine")
        return tuple((min(pair), max(pair)) for pair in given)


def _check_words(spec: EngineSpec) -> None:
    fields = (("layout", LAYOUTS), ("induction", INDUCTIONS), ("ignition", IGNITIONS), ("head", (*HEADS, None)))
    for name, allowed in fields:
        found = getattr(spec, name)
        if found not in allowed:
            known = ", ".join(word for word in allowed if word)
            raise CaseError(f"engine.{name} = {found!r} is not known", f"use one of {known}")
    if isinstance(spec.cylinders, bool) or not isinstance(spec.cylinders, int) or not 1 <= spec.cylinders <= MOST_CYLINDERS:
        raise CaseError(f"engine.cylinders = {spec.cylinders!r} is out of range", f"give 1 to {MOST_CYLINDERS}")


def _check_firing_order(spec: EngineSpec) -> None:
    if sorted(spec.firing_order) != list(range(1, spec.cylinders + 1)):
        raise CaseError(
            f"engine.firing_order = {list(spec.firing_order)} does not fit {spec.cylinders} cylinders",
            f"name each of the cylinders 1 to {spec.cylinders} once",
        )


def _companions(firing_order: tuple[int, ...]) -> dict[int, int]:
    """Companion cylinders: the second half of the firing order written under the first (basic ignition texts)."""
    half, odd = divmod(len(firing_order), 2)
    if odd:
        return {}
    there = dict(zip(firing_order[:half], firing_order[half:], strict=True))
    back = {other: one for one, other in there.items()}
    return dict(sorted((there | back).items()))


def _lists(groups: Iterable[Iterable[int]]) -> str:
    return str([list(group) for group in groups])


def _words(identifier: str) -> str:
    return identifier.replace("_", " ")
