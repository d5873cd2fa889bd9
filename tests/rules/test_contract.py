"""The names others rely on are all there."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from plugread.rules.load import load_rules
from plugread.rules.tables import Rules

IDS = tomllib.loads((Path(__file__).parent / "contract_ids.toml").read_text("utf-8"))


@pytest.fixture(scope="module")
def rules() -> Rules:
    return load_rules()


@pytest.mark.parametrize("kind", ["firing_end", "outside", "removal", "sign"])
def test_every_finding_stands_under_its_kind(rules: Rules, kind: str) -> None:
    """Every reading and sign of the contract is in the rule base, with the kind the contract gives it."""
    kinds = {finding.id: finding.kind for finding in rules.findings.values()}
    assert {name: kinds.get(name) for name in IDS[kind]} == dict.fromkeys(IDS[kind], kind)


@pytest.mark.parametrize("scope", sorted(IDS["causes"]))
def test_every_cause_stands_in_its_scope(rules: Rules, scope: str) -> None:
    """Every cause of the contract is in the rule base, with the scope the contract gives it."""
    scopes = {cause.id: cause.scope for cause in rules.causes.values()}
    assert {name: scopes.get(name) for name in IDS["causes"][scope]} == dict.fromkeys(IDS["causes"][scope], scope)


def test_every_check_is_there(rules: Rules) -> None:
    """Every check of the contract is in the rule base."""
    assert set(IDS["checks"]) <= set(rules.checks)


@pytest.mark.parametrize("check", sorted(IDS["outcomes"]))
def test_worded_outcomes_are_those_of_the_contract(rules: Rules, check: str) -> None:
    """A worded check has exactly the outcomes that case files may name."""
    assert {outcome.id for outcome in rules.checks[check].outcomes} == set(IDS["outcomes"][check])


@pytest.mark.parametrize("check", ["compression_dry", "compression_wet", "leak_down", "injector_balance", "lead_resistance"])
def test_measured_checks_name_their_band(rules: Rules, check: str) -> None:
    """A measured check names the band table that turns its values into an outcome."""
    assert rules.bands[rules.checks[check].bands].check == check
