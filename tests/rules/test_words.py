"""What people read: no brand, no list of codes, a word for every grade, sentences that end."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from plugread.rules.coverage import coverage
from plugread.rules.listing import GRADE_WORDS, backing_text, backings, listing
from plugread.rules.load import load_rules
from plugread.rules.tables import Rules


@pytest.fixture(scope="module")
def rules() -> Rules:
    return load_rules()


def shown(rules: Rules) -> Iterator[str]:
    """Every text of the rule base that can reach the page."""
    for finding in rules.findings.values():
        yield from (finding.name, finding.seen, finding.confused_with, finding.stop, finding.note)
    for cause in rules.causes.values():
        yield from (cause.name, cause.remedy, cause.hint, cause.note)
    for check in rules.checks.values():
        yield from (check.name, check.tools, check.how, check.separates, check.note)
        yield from (text for outcome in check.outcomes for text in (outcome.name, outcome.advice))
    for pattern in rules.patterns.values():
        yield from (pattern.name, pattern.points_to, pattern.rules_out)
    yield from (context.note for context in rules.contexts)
    yield from (band.note for band in rules.bands.values())
    yield from rules.cautions.values()


def test_no_publisher_is_named_to_people(rules: Rules) -> None:
    """No maker's name from the source list stands in a text shown to people."""
    names = {"NGK", "Chrysler", "Dodge", "Jeep", "General Motors", "Ford", "Honda"}
    assert names <= {name for name in names if any(name in source.publisher for source in rules.sources.values())}
    found = [text for text in shown(rules) for name in names if re.search(rf"\b{name}\b", text)]
    assert found == []


def test_no_identifier_stands_in_a_text(rules: Rules) -> None:
    """Texts speak in words, never in ids with underscores."""
    assert [text for text in shown(rules) if re.search(r"\b[a-z]+_[a-z_]+\b", text)] == []


def test_names_are_in_sentence_case(rules: Rules) -> None:
    """Names begin with a capital letter and carry no full stop."""
    tables = (rules.findings, rules.causes, rules.checks, rules.patterns)
    names = [row.name for table in tables for row in table.values()]
    assert [name for name in names if not name[0].isupper() or name.endswith(".")] == []


def test_sentences_end(rules: Rules) -> None:
    """Advice, stops, notes and cautions end like sentences."""
    texts = [*rules.cautions.values(), *(f.stop for f in rules.findings.values()), *(c.note for c in rules.causes.values())]
    texts += [c.remedy for c in rules.causes.values()] + [check.how for check in rules.checks.values()]
    assert [text for text in texts if text and text[-1] not in ".?"] == []


def test_every_caution_of_a_check_is_a_sentence(rules: Rules) -> None:
    """Whatever a check names as caution is in the list of cautions."""
    named = {caution for check in rules.checks.values() for caution in check.cautions}
    assert named <= set(rules.cautions)


def test_every_backing_can_be_said(rules: Rules) -> None:
    """Every row has words for what stands behind it."""
    assert {backing.grade for backing in backings(rules)} <= set(GRADE_WORDS)
    assert all(backing_text(backing) for backing in backings(rules))


def test_listing_names_every_row(rules: Rules) -> None:
    """The listing names every finding, cause, check and source."""
    text = listing(rules)
    tables = (rules.findings, rules.causes, rules.checks, rules.sources)
    assert [key for table in tables for key in table if f"  {key}:" not in text] == []


def test_listing_counts_what_rests_on_a_source(rules: Rules) -> None:
    """The number of rows beside a source is the number of rows that cite it."""
    cited = sum(any(place.startswith("army_647:") for place in backing.sources) for backing in backings(rules))
    assert re.search(rf"army_647: .*rows resting on it: {cited}$", listing(rules), re.MULTILINE)


def test_coverage_marks_a_link_by_its_strength(rules: Rules) -> None:
    """In the table of coverage the mark of a link stands in the row of its cause and the column of its reading."""
    lines = coverage(rules).splitlines()
    column = next(int(line.split()[0]) for line in lines if line.endswith(" oil_in_well"))
    row = next(line for line in lines if line.lstrip().startswith("tube_seal_leak"))
    assert row.split()[column] == "A"
