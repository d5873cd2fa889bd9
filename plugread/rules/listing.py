"""The rule base in words: what it holds, what rests on what, which cause shows as which reading."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from plugread.rules.coverage import coverage
from plugread.rules.tables import Backing, Cause, Check, Finding, Link, Rules, Scales

GRADE_WORDS = {
    "standard": "standard",
    "handbook": "handbook or maker's manual",
    "paper": "paper",
    "trade_text": "trade text",
    "common_practice": "common practice, no source",
    "our_estimate": "our estimate",
}


def listing(rules: Rules) -> str:
    """Return the whole rule base as text for a terminal: counts, causes with their readings, checks, sources."""
    parts = [
        _counts(rules),
        _scales(rules.scales),
        _causes(rules),
        coverage(rules),
        _findings(rules),
        _checks(rules),
        _sources(rules),
    ]
    return "\n\n".join(parts)


def backing_text(backing: Backing) -> str:
    """Return what stands behind a row, sayable to a person: the grade, then the keys and places of its sources."""
    words = GRADE_WORDS[backing.grade]
    return f"{words}: {'; '.join(backing.sources)}" if backing.sources else words


def backings(rules: Rules) -> Iterator[Backing]:
    """Yield what stands behind every row of the rule base, answers of checks included."""
    yield from (finding.backing for finding in rules.findings.values())
    yield from (cause.backing for cause in rules.causes.values())
    yield from (link.backing for link in (*rules.links, *answers(rules)))
    yield from (context.backing for context in rules.contexts)
    yield from (check.backing for check in rules.checks.values())
    yield from (pattern.backing for pattern in rules.patterns.values())
    yield from (band.backing for band in rules.bands.values())


def answers(rules: Rules) -> tuple[Link, ...]:
    """Return every answer of every check, in file order."""
    return tuple(answer for check in rules.checks.values() for outcome in check.outcomes for answer in outcome.answers)


def _counts(rules: Rules) -> str:
    grades = Counter(backing.grade for backing in backings(rules))
    links = Counter(link.backing.grade for link in rules.links)
    lines = [
        "Rule base",
        f"  {len(rules.findings)} readings and signs, {len(rules.causes)} causes, {len(rules.links)} links, "
        f"{len(rules.checks)} checks, {len(rules.patterns)} patterns, {len(rules.bands)} bands, {len(rules.sources)} sources",
        *(
            f"  {GRADE_WORDS[grade]}: {grades[grade]} rows, {links[grade]} of them links"
            for grade in GRADE_WORDS
            if grades[grade]
        ),
    ]
    return "\n".join(lines)


def _scales(scales: Scales) -> str:
    rows = (("prior", scales.prior), ("link", scales.link), ("leak", scales.leak))
    lines = [
        f"  {name}: " + ", ".join(f"{word.replace('_', ' ')} {chance:g}" for word, chance in table.items())
        for name, table in rows
    ]
    return "\n".join(["Words and their numbers (our estimate)", *lines])


def _causes(rules: Rules) -> str:
    blocks = (_cause(rules, cause) for cause in rules.causes.values())
    return "\n".join(["Causes, and what each shows", *blocks])


def _cause(rules: Rules, cause: Cause) -> str:
    shown = ", ".join(
        f"{rules.findings[link.finding].name.lower()} ({link.strength})" for link in rules.links if link.cause == cause.id
    )
    needs = "; ".join(f"{field} {' or '.join(allowed)}" for field, allowed in cause.needs.items()).replace("_", " ")
    only = f" [only with {needs}]" if needs else ""
    return f"  {cause.id}: {cause.name} ({cause.scope}, {cause.prior.replace('_', ' ')}){only}\n    shows: {shown}"


def _findings(rules: Rules) -> str:
    lines = [_finding(finding) for finding in rules.findings.values()]
    return "\n".join(["Readings and signs", *lines])


def _finding(finding: Finding) -> str:
    stop = " STOP" if finding.danger else ""
    return f"  {finding.id}: {finding.name} (severity {finding.severity}){stop}; {backing_text(finding.backing)}"


def _checks(rules: Rules) -> str:
    return "\n".join(["Checks", *(_check(check) for check in rules.checks.values())])


def _check(check: Check) -> str:
    outcomes = " | ".join(outcome.id for outcome in check.outcomes)
    first = f"{check.setup_minutes:g} + " if check.setup_minutes else ""
    each = "" if check.per == "engine" else " a cylinder"
    return f"  {check.id}: {check.name} ({first}{check.minutes:g} min{each}): {outcomes}; {backing_text(check.backing)}"


def _sources(rules: Rules) -> str:
    uses = Counter(place.partition(":")[0] for backing in backings(rules) for place in backing.sources)
    lines = [
        f"  {key}: {source.publisher}, {source.title} ({source.edition}); read: {source.read}; rows resting on it: {uses[key]}"
        for key, source in rules.sources.items()
    ]
    return "\n".join(["Sources", *lines])
