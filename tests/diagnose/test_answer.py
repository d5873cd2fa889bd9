"""The answer as a whole: comparison, verdict, next checks, reasons, robustness, on the package's own rule base."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plugread.diagnose import explain
from plugread.diagnose.checks import next_checks
from plugread.diagnose.compare import compare
from plugread.diagnose.diagnosis import diagnose
from plugread.diagnose.evidence import add_checks
from plugread.diagnose.explain import because, break_even_prior, inseparable, items
from plugread.diagnose.network import Network
from plugread.diagnose.observed import observe, observe_again
from plugread.diagnose.patterns import kind_of
from plugread.diagnose.posterior import solve
from plugread.diagnose.robustness import shake, wilson
from plugread.diagnose.sweep import sweep
from plugread.diagnose.verdict import decide
from plugread.engine import Engine
from plugread.reading.join import join
from plugread.records import CheckEntry, EngineSpec, Evidence, Measured, PlugEntry, PlugMeasures, Reading, Verdict
from plugread.rules.load import load_rules
from tests.diagnose.builders import cause, engine_of, finding, link, rules_of

RULES = load_rules()
FOUR = Engine(EngineSpec("inline", 4, (1, 3, 4, 2), "port_injection", "wasted_spark", True))
NETWORK = Network(RULES, FOUR)
ALL_NORMAL = tuple(PlugEntry(n, seen=("normal",)) for n in FOUR.cylinders)


def plugs(**odd: tuple[str, ...]) -> Evidence:
    """All normal but the named ones, as c3=("carbon_fouled",)."""
    entries = [PlugEntry(n, seen=odd.get(f"c{n}", ("normal",))) for n in FOUR.cylinders]
    return join(FOUR, entries, {}, RULES)


def measures(lightness: float, spread: float = 2.0, gap: float | None = None) -> PlugMeasures:
    def value(number: float) -> Measured:
        return Measured(number, spread, "1", "test")

    gap_mm = None if gap is None else Measured(gap, 0.03, "mm", "test")
    return PlugMeasures(value(lightness), value(2.0), value(6.0), None, None, None, gap_mm)


def verdict(evidence: Evidence) -> Verdict:
    return decide(NETWORK, NETWORK.solve(evidence), evidence)


# ---- comparison ------------------------------------------------------------------------------------------


def readings(**odd: str) -> dict[int, dict[str, float]]:
    return {n: {odd.get(f"c{n}", "normal"): 1.0} for n in FOUR.cylinders}


@pytest.mark.parametrize(
    ("odd", "ids", "cylinders"),
    [
        ({}, ("all_alike_normal",), ()),
        ({f"c{n}": "carbon_fouled" for n in FOUR.cylinders}, ("all_alike_sooty",), ()),
        ({"c3": "oil_fouled"}, ("one_odd_oily", "half_coil_pair"), (3,)),
        ({"c1": "carbon_fouled", "c4": "carbon_fouled"}, ("coil_pair", "end_cylinders"), (1, 4)),
        ({"c2": "carbon_fouled", "c3": "carbon_fouled"}, ("neighbours", "coil_pair", "centre_pair"), (2, 3)),
        ({"c1": "carbon_fouled", "c2": "oil_fouled", "c4": "worn"}, ("one_odd_sooty",), (1, 2, 4)),
    ],
)
def test_patterns(odd: dict[str, str], ids: tuple[str, ...], cylinders: tuple[int, ...]) -> None:
    """Every pattern that fits is named: 2 and 3 of an inline four are neighbours, a coil pair and the centre pair at once."""
    found = compare(FOUR, {}, readings(**odd), RULES)
    assert found.odd == cylinders
    assert set(ids) <= set(found.pattern_ids)


def test_one_carburettor_of_two() -> None:
    """1-2 sooty and 3-4 white: two groups, each the cylinders of one carburettor."""
    engine = Engine(EngineSpec("inline", 4, (1, 3, 4, 2), "carburettor", "distributor", False, feeds=((1, 2), (3, 4))))
    reading = {1: {"carbon_fouled": 1.0}, 2: {"carbon_fouled": 1.0}, 3: {"lean_white": 1.0}, 4: {"lean_white": 1.0}}
    assert {"one_feed", "neighbours"} <= set(compare(engine, {}, reading, RULES).pattern_ids)


def test_a_dark_plug_stands_out_by_colour() -> None:
    """Colour alone, without a reading, shows the odd one, and its distance is the CIEDE2000 difference to the median."""
    found = compare(FOUR, {1: measures(70), 2: measures(71), 3: measures(35), 4: measures(69)}, {}, RULES)
    assert found.odd == (3,)
    assert found.delta_e[3] > 25.0 > 5.0 > found.delta_e[2]


def test_a_difference_inside_its_own_spread_is_none() -> None:
    """The same difference does not count where the measurement itself is as uncertain as that."""
    sure = {1: measures(70), 2: measures(71), 3: measures(55), 4: measures(69)}
    unsure = {n: measures(m.lightness.value, 20.0) for n, m in sure.items() if m.lightness}
    assert compare(FOUR, sure, {}, RULES).odd == (3,)
    assert compare(FOUR, unsure, {}, RULES).odd == ()


def test_a_wide_gap_stands_out() -> None:
    """A gap 0.4 mm over the others is odd, and its difference is given."""
    found = compare(FOUR, {n: measures(70, gap=0.8 + 0.4 * (n == 2)) for n in FOUR.cylinders}, {}, RULES)
    assert found.odd == (2,)
    assert found.gap_difference_mm[2] == pytest.approx(0.4)


def test_nothing_to_compare_is_said() -> None:
    """Without plugs nothing is compared, and the words say so."""
    assert compare(FOUR, {}, {}, RULES).pattern.startswith("No plug was looked at")


def test_missing_plugs_are_said() -> None:
    """Plugs nobody looked at are named as missing."""
    assert "2 of 4 plugs were not looked at" in compare(FOUR, {}, {1: {"normal": 1.0}, 2: {"normal": 1.0}}, RULES).pattern


# ---- verdict ---------------------------------------------------------------------------------------------


def test_sound_engine_carries_on() -> None:
    """Four normal plugs and no complaint: carry on."""
    assert verdict(plugs()).action == "carry_on"


@pytest.mark.parametrize("danger", [f.id for f in RULES.findings.values() if f.danger and f.level == "cylinder"])
def test_every_danger_stops_the_engine(danger: str) -> None:
    """Every finding of danger forbids running, names itself, and only checks with the engine standing are advised."""
    evidence = Evidence({(danger, 2): True})
    given = verdict(evidence)
    assert (given.action, given.stops) == ("do_not_run", ((danger, 2),))
    assert {RULES.checks[check.id].engine for check in next_checks(NETWORK, evidence)} <= {"off"}


def test_a_danger_seen_by_photo_alone_stops_or_asks_for_the_eye() -> None:
    """A photo almost sure of metal stops the engine; one that is half sure asks to look before it runs."""
    looks = dict.fromkeys(RULES.looks, 0.001)
    sure = Evidence({}, {2: {**looks, "metal_specks": 1.0}})
    shares = [NETWORK.solve(replace(sure, looks={2: {**looks, "metal_specks": 1.0, "normal": n}})) for n in (0.0, 0.02)]
    for posterior in shares:
        chance = posterior.readings[2]["metal_specks"]
        action = decide(NETWORK, posterior, posterior.evidence).action
        assert action == ("do_not_run" if chance >= 0.8 else "investigate" if chance >= 0.3 else action)
    assert shares[0].readings[2]["metal_specks"] > shares[1].readings[2]["metal_specks"]


def test_nothing_looked_at_cannot_be_judged() -> None:
    """With no evidence the answer is the priors, said to be so."""
    given = diagnose(solve(RULES, FOUR, Evidence({})), compare(FOUR, {}, {}, RULES), shakes=0)
    assert "Nothing was looked at" in given[2].why
    assert any("Nothing was looked at" in note for note in given[5])
    prior = {c.id: RULES.scales.prior[c.prior] for c in RULES.causes.values()}
    assert all(rank.probability == pytest.approx(prior[rank.id], abs=0.03) for rank in given[0])


# ---- next checks -----------------------------------------------------------------------------------------


def test_checks_the_engine_cannot_have_are_never_offered() -> None:
    """No advice needs what the engine has not."""
    cop = Engine(EngineSpec("inline", 4, (1, 3, 4, 2), "port_injection", "coil_on_plug", True))
    evidence = plugs(c3=("carbon_fouled",))
    offered = next_checks(Network(RULES, cop), evidence, n=60)
    assert offered
    assert all(cop.has(RULES.checks[check.id].needs) for check in offered)


def test_checks_done_are_not_offered_again() -> None:
    """A check that was done at a place is not advised there."""
    evidence = plugs(c3=("carbon_fouled",))
    first = next_checks(NETWORK, evidence, 1)[0]
    place = first.cylinders[0] if RULES.checks[first.id].per == "cylinder" else None
    done = replace(evidence, outcomes={(first.id, place): RULES.checks[first.id].outcomes[-1].id})
    assert (first.id, first.cylinders) not in {(check.id, check.cylinders) for check in next_checks(NETWORK, done, 60)}


def test_a_check_on_the_suspect_cylinder() -> None:
    """With one sooty plug, checks done cylinder by cylinder go to that cylinder, and say what each outcome points to."""
    for check in next_checks(NETWORK, plugs(c3=("carbon_fouled",))):
        if RULES.checks[check.id].per == "cylinder":
            assert check.cylinders[0] in (2, 3)  # 2 shares the coil of 3
        assert "points to" in check.why or check.why == RULES.checks[check.id].separates


# ---- reasons, robustness ---------------------------------------------------------------------------------


def test_weight_is_the_change_of_the_log_odds() -> None:
    """The weight of a sign equals the log-odds of the cause with it less those without it."""
    evidence = replace(
        plugs(c3=("carbon_fouled",)), findings={**plugs(c3=("carbon_fouled",)).findings, ("rough_idle", None): True}
    )
    posterior = NETWORK.solve(evidence)
    place = NETWORK.place_of("plug_dead", (3,))
    (reasons,) = because(posterior, [place])
    without = replace(evidence, findings={k: v for k, v in evidence.findings.items() if k != ("rough_idle", None)})
    odds = [p / (1 - p) for p in (posterior.chances[place], NETWORK.solve(without).chances[place])]
    weight = next(reason.weight for reason in reasons if reason.finding == "rough_idle")
    assert weight == pytest.approx(np.log(odds[0] / odds[1]), abs=0.02)


def test_quicker_sums_give_the_same_weights(monkeypatch: pytest.MonkeyPatch) -> None:
    """With four engine signs that a single cylinder can bring about, the weights equal those summed without a subtraction."""
    signs = [f.id for f in RULES.findings.values() if f.level == "engine"]
    coupled = [s for s in signs if NETWORK.solve(replace(plugs(), findings={(s, None): True})).observed.coupled][:4]
    evidence = replace(plugs(), findings={**plugs(c3=("carbon_fouled",)).findings} | {(s, None): True for s in coupled})
    posterior = NETWORK.solve(evidence)
    quick = because(posterior, posterior.order[:8])
    monkeypatch.setattr(explain, "_JOINED", 99)
    slow = because(posterior, posterior.order[:8])
    assert len(posterior.observed.coupled) == 4
    assert [[r.finding for r in rows] for rows in quick] == [[r.finding for r in rows] for rows in slow]
    assert [r.weight for rows in quick for r in rows] == pytest.approx([r.weight for rows in slow for r in rows], rel=1e-6)


def test_what_is_observed_without_one_thing_equals_all_observed_afresh() -> None:
    """Findings, a clean plug, a photo, outcomes and signs (one changes how others are taken) are left out in turn."""
    ticks = plugs(c1=(), c3=("carbon_fouled",)).findings
    context = RULES.contexts[0].sign
    evidence = Evidence(
        {**ticks, (context, None): True, ("misfire_at_idle", None): True},
        looks={2: {"oil_fouled": 1.0, "normal": 0.3}},
        outcomes={("compression_dry", 4): "low"},
    )
    posterior = NETWORK.solve(evidence)
    seen = list(items(posterior))
    assert len(seen) >= 6
    for item in seen:
        again = observe_again(NETWORK, item.without, posterior.observed, item.finding, item.cylinder)
        assert again == observe(NETWORK, item.without), item


def test_own_causes_not_asked_about_are_left_out_of_a_sweep() -> None:
    """Asked for cylinder 2 alone, its causes and the shared ones are as in the whole sweep; those of the others are unknown."""
    posterior = NETWORK.solve(plugs(c2=("oil_fouled",), c3=("carbon_fouled",)))
    whole = sweep(NETWORK, posterior.observed)
    part = sweep(NETWORK, posterior.observed, own_of=(2,))
    asked = np.array([one.scope != "cylinder" or one.cylinders == (2,) for one in NETWORK.instances])
    np.testing.assert_array_equal(part.chances[0, asked], whole.chances[0, asked])
    assert np.isnan(part.chances[0, ~asked]).all() and (~asked).any()


def test_at_the_break_even_prior_the_second_draws_level() -> None:
    """Solved afresh with the prior set to the break-even value, the first and its rival are equally likely."""
    causes = [cause("a", 0.05), cause("b", 0.03), cause("c", 0.02, "cylinder")]
    links = [link("a", "f", 0.8), link("b", "f", 0.7), link("c", "f", 0.5)]
    network = Network(rules_of(causes, [finding("f", 0.02)], links), engine_of(2), None)
    posterior = network.solve(Evidence({("f", 1): True, ("f", 2): True}))
    place = int(np.argmax(posterior.chances))
    level = break_even_prior(posterior, place)
    prior = network.numbers.prior[:, network.cause_of].copy()
    prior[:, place] = level
    chances = sweep(network, posterior.observed, prior=prior).chances[0]
    assert np.sort(chances)[-1] == pytest.approx(np.sort(chances)[-2], rel=1e-6)


def test_causes_with_the_same_signs_form_a_group() -> None:
    """Two causes with the same links cannot be told apart; a third with others can."""
    causes = [cause("a", 0.05), cause("b", 0.02), cause("c", 0.02)]
    links = [link("a", "f", 0.8), link("b", "f", 0.8), link("c", "f", 0.5)]
    network = Network(rules_of(causes, [finding("f", 0.02)], links), engine_of(2), None)
    posterior = network.solve(Evidence({("f", 1): True}))
    place = network.place_of
    assert place("b") in inseparable(posterior, place("a"))
    assert place("c") not in inseparable(posterior, place("a"))


def test_shaking_is_the_same_every_time() -> None:
    """The same seed gives the same figures; the share stands inside its interval, the chance inside a wide band."""
    evidence = plugs(c3=("carbon_fouled",))
    one, other = shake(NETWORK, evidence, 50), shake(NETWORK, evidence, 50)
    assert (one.stays_first, one.interval, one.chances.tobytes()) == (other.stays_first, other.interval, other.chances.tobytes())
    assert one.interval[0] <= one.stays_first <= one.interval[1]
    low, high = one.band(one.first)
    assert 0.0 < low < high <= 1.0


def test_wilson_interval_of_the_textbook() -> None:
    """81 of 263 give 0.2553 to 0.3662 (Newcombe 1998, Statistics in Medicine 17, table I, score method)."""
    assert wilson(81, 263) == pytest.approx((0.2553, 0.3662), abs=5e-5)


def test_the_answer_explains_itself() -> None:
    """The first cause carries reasons, a share of shaken rule bases, a band and a break-even prior; chances come sorted."""
    evidence = add_checks(plugs(c3=("carbon_fouled",)), FOUR, [CheckEntry("swap_plug", 3, "moved")], RULES)
    causes, none, given, checks, _, _ = diagnose(solve(RULES, FOUR, evidence), compare(FOUR, {}, {}, RULES), shakes=40)
    first = causes[0]
    assert (first.id, first.cylinders) in {("plug_dead", (3,)), ("plug_mishandled", (3,))}
    assert first.because and first.stays_first is not None and first.band and first.break_even_prior
    assert [c.probability for c in causes] == sorted((c.probability for c in causes), reverse=True)
    assert 0.0 <= none <= 1.0 and given.expected_loss and isinstance(checks, tuple)


@pytest.mark.parametrize(
    ("reading", "kind"),
    [
        ({"normal": 0.29, "oil_fouled": 0.5, "carbon_fouled": 0.2}, "oily"),
        ({"normal": 0.29, "oil_fouled": 0.45, "carbon_fouled": 0.2}, "oily"),
        ({"normal": 0.45, "oil_fouled": 0.31}, None),
        ({"normal": 0.25, "oil_fouled": 0.28, "carbon_fouled": 0.28}, None),
        ({"normal": 0.9, "oil_fouled": 0.05}, "normal"),
    ],
)
def test_a_plug_counts_as_what_it_more_likely_is(reading: dict[str, float], kind: str | None) -> None:
    """Likelier fouled than normal: fouled; neither likely: it cannot be told, and is not called normal."""
    assert kind_of(reading, RULES) == kind


def test_all_alike_is_not_said_where_one_cannot_be_told() -> None:
    """Three normal plugs and one that may be anything: no pattern; four normal ones: all alike."""
    colours = {n: measures(70.0) for n in FOUR.cylinders}
    unclear = {n: {"normal": 0.95} for n in (1, 2, 4)} | {3: {"normal": 0.3, "oil_fouled": 0.25}}
    assert "all_alike_normal" not in compare(FOUR, colours, unclear, RULES).pattern_ids
    assert "all_alike_normal" in compare(FOUR, colours, readings(), RULES).pattern_ids


def test_a_photo_is_named_by_what_it_most_likely_shows() -> None:
    """A photo a little likelier under a rare look than under a common one is spoken of as the common one."""
    shown = Reading("unsure", "", {"struck": 1.0, "normal": 0.8}, {"normal": 0.7, "struck": 0.3}, None)
    posterior = NETWORK.solve(join(FOUR, [PlugEntry(1)], {1: shown}, RULES))
    assert [item.finding for item in items(posterior)] == ["normal"]
