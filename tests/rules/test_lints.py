"""Remarks on a rule base: none on the own one, and each kind shows when it should."""

from __future__ import annotations

from dataclasses import replace

import pytest

from plugread.rules.lints import lints, prior_mass, twins
from plugread.rules.load import load_rules
from plugread.rules.tables import Rules, Source


@pytest.fixture(scope="module")
def rules() -> Rules:
    return load_rules()


def test_own_rule_base_has_no_lint(rules: Rules) -> None:
    """The rule base that comes with the package leaves nothing to remark."""
    assert lints(rules) == []


def test_shared_causes_are_neither_too_common_nor_too_rare(rules: Rules) -> None:
    """A typical engine is expected to have between half and one and a half shared causes (our estimate)."""
    assert 0.5 <= prior_mass(rules) <= 1.5


def test_idle_source_is_remarked(rules: Rules) -> None:
    """A source that no row rests on is named."""
    extra = Source("unread", "nobody", "nothing", "never", "memory")
    assert lints(replace(rules, sources={**rules.sources, "unread": extra})) == ["source unread: no row rests on it"]


def test_twins_are_remarked(rules: Rules) -> None:
    """Two causes that show alike and answer the same checks are named together."""
    causes = {**rules.causes, "plug_dead_too": replace(rules.causes["plug_dead"], id="plug_dead_too")}
    links = (*rules.links, *(replace(link, cause="plug_dead_too") for link in rules.links if link.cause == "plug_dead"))
    checks = {
        check.id: replace(
            check,
            outcomes=tuple(
                replace(
                    o, answers=(*o.answers, *(replace(a, cause="plug_dead_too") for a in o.answers if a.cause == "plug_dead"))
                )
                for o in check.outcomes
            ),
        )
        for check in rules.checks.values()
    }
    assert twins(replace(rules, causes=causes, links=links, checks=checks)) == [("plug_dead", "plug_dead_too")]


def test_thin_cause_is_remarked(rules: Rules) -> None:
    """A cause left with one finding is named."""
    kept = tuple(link for link in rules.links if link.cause != "coolant_entry" or link.finding == "coolant_wet")
    assert "cause coolant_entry: shows as 1 finding only" in lints(replace(rules, links=kept))


def test_thin_finding_without_note_is_remarked(rules: Rules) -> None:
    """A finding left with one cause and without a note is named."""
    kept = tuple(link for link in rules.links if link.finding != "metal_specks" or link.cause == "piston_damage")
    assert "finding metal_specks: 1 causes and no note that says why" in lints(replace(rules, links=kept))


def test_check_without_answers_is_remarked(rules: Rules) -> None:
    """A check that answers no cause is named."""
    check = rules.checks["lead_order"]
    mute = replace(check, outcomes=tuple(replace(outcome, answers=()) for outcome in check.outcomes))
    assert "check lead_order: answers nothing" in lints(replace(rules, checks={**rules.checks, "lead_order": mute}))


def test_untested_cause_is_remarked(rules: Rules) -> None:
    """A cause worth knowing that no check answers is named."""
    checks = {
        check.id: replace(
            check,
            outcomes=tuple(replace(o, answers=tuple(a for a in o.answers if a.cause != "plug_loose")) for o in check.outcomes),
        )
        for check in rules.checks.values()
    }
    assert "cause plug_loose: no check answers it" in lints(replace(rules, checks=checks))


def test_prior_mass_out_of_range_is_remarked(rules: Rules) -> None:
    """Priors ten times too small are remarked."""
    small = replace(rules.scales, prior={word: chance / 10 for word, chance in rules.scales.prior.items()})
    assert any(remark.startswith("priors:") for remark in lints(replace(rules, scales=small)))
