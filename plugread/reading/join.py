"""Photo and ticks of each plug as evidence: what is there, what was looked at and is not there, how the photo looks.

A tick is taken at its word. A tick given after the photo's own reading was shown may only repeat the screen: where the two
agree it counts for less, where they differ it counts in full.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches

from plugread.engine import Engine
from plugread.errors import CaseError
from plugread.records import Evidence, PlugEntry, Reading
from plugread.rules.tables import Finding, Rules

ECHO_AFTER_PHOTO = 0.6
"""Chance that a tick given after the photo's reading was shown only repeats it (our estimate; before it was shown: 0).

P(tick | photo, truth) = echo * [tick = photo] + (1 - echo) * P(tick | truth).
"""
NORMAL = "normal"
FIRING_END = "firing_end"


def join(engine: Engine, entries: Iterable[PlugEntry], reads: Mapping[int, Reading], rules: Rules) -> Evidence:
    """Return what the plugs show.

    Parameters
    ----------
    entries : the ticks. `normal` alone means that the firing end was looked at and nothing else is there; a finding that is
        seen makes its opposites (what it excludes) absent, and leaves out those it implies. What is not named was not
        looked at.
    reads : cylinder -> reading of its photo; refused ones are passed over.

    Raises
    ------
    CaseError
        For a cylinder the engine has not, an unknown finding, or ticks that contradict each other.
    """
    entries = tuple(entries)
    _check_cylinders(engine, entries, reads)
    looks = {number: dict(reading.likelihood) for number, reading in reads.items() if _usable(reading)}
    findings: dict[tuple[str, int | None], bool] = {}
    for entry in entries:
        ticks = _ticks(entry, rules)
        shown = reads.get(entry.cylinder)
        if entry.tick_after_photo and shown is not None and shown.top is not None:
            ticks = _discount(ticks, shown.top, looks[entry.cylinder], rules)
        findings |= {(name, entry.cylinder): seen for name, seen in ticks.items()}
    named = {number: max(shares, key=lambda name: shares[name]) for number in looks if (shares := reads[number].probability)}
    return Evidence(findings, looks, named=named)


def _usable(reading: Reading) -> bool:
    return reading.status != "refused" and any(share > 0.0 for share in reading.likelihood.values())


def _check_cylinders(engine: Engine, entries: tuple[PlugEntry, ...], reads: Mapping[int, Reading]) -> None:
    numbers = [entry.cylinder for entry in entries]
    for number in (*numbers, *reads):
        if number not in engine.cylinders:
            raise CaseError(f"plug of cylinder {number}: this engine has cylinders 1 to {len(engine.cylinders)}")
    for number in numbers:
        if numbers.count(number) > 1:
            raise CaseError(f"cylinder {number} is given twice", "keep one plug for each cylinder")


def _ticks(entry: PlugEntry, rules: Rules) -> dict[str, bool]:
    """The ticks of one plug with what follows from them."""
    where = f"plug of cylinder {entry.cylinder}"
    seen = [_plug_finding(name, where, rules) for name in entry.seen]
    not_seen = [_plug_finding(name, where, rules) for name in entry.not_seen]
    _check_sense(where, seen, [finding.id for finding in not_seen])
    ticks = {finding.id: False for finding in not_seen if finding.id != NORMAL}
    for finding in seen:
        ticks |= dict.fromkeys(finding.excludes, False)
    if [finding.id for finding in seen if finding.kind == FIRING_END] == [NORMAL]:
        ticks |= {one.id: False for one in rules.findings.values() if one.kind == FIRING_END}
    ticks |= {finding.id: True for finding in seen}
    for finding in seen:
        for implied in finding.implies:
            ticks.pop(implied, None)
    return ticks


def _plug_finding(name: str, where: str, rules: Rules) -> Finding:
    finding = rules.findings.get(name)
    if finding is not None and finding.level == "cylinder":
        return finding
    known = [one.id for one in rules.findings.values() if one.level == "cylinder"]
    near = get_close_matches(name, known, n=1)
    raise CaseError(f"{where}: {name!r} is not something a plug shows", f"did you mean {near[0]}?" if near else "")


def _check_sense(where: str, seen: list[Finding], not_seen: list[str]) -> None:
    named = {finding.id for finding in seen}
    for finding in seen:
        if finding.id in not_seen:
            raise CaseError(f"{where}: {finding.id} is given as seen and as not seen", "keep one of the two")
        for other in finding.excludes:
            if other in named:
                raise CaseError(f"{where}: {finding.id} and {other} cannot both be there", "keep the one that is")
        for other in finding.implies:
            if other in not_seen:
                raise CaseError(f"{where}: {finding.id} means that {other} is there as well", "take it out of not_seen")


def _discount(ticks: dict[str, bool], top: str, looks: dict[str, float], rules: Rules) -> dict[str, bool]:
    """Keep the ticks that differ from the photo; let the others weigh on its looks as far as they are no echo."""
    kept = {}
    echoed: set[str] = set()
    for name, seen in ticks.items():
        finding = rules.findings[name]
        if not finding.photo or seen != (name == top):
            kept[name] = seen
        elif seen:
            echoed |= {look for look in looks if look != name}
        else:
            echoed.add(name)
    for look in echoed & set(looks):
        looks[look] *= ECHO_AFTER_PHOTO
    return kept
