"""What the trade holds to be true must follow from the rule base, awkward cases included.

Worked statements of manuals and confirmed cars; where only common practice stands behind one, its docstring says so.
"""

from __future__ import annotations

import pytest

from tests.rules.garage import anywhere, every, first, network, rules, solved

CYLINDER_CAUSES = {cause.id for cause in rules().causes.values() if cause.scope == "cylinder"}
SHARED_FAULTS = (
    "air_filter_blocked",
    "mixture_rich",
    "cold_running",
    "fuel_pressure_high",
    "plug_too_cold",
    "short_trip_running",
)


# ---- one against all -------------------------------------------------------------------------------------


@pytest.mark.parametrize("engine", ["modern_four", "old_four", "distributor_four", "modern_v6"])
def test_one_sooty_plug_is_no_shared_fault(engine: str) -> None:
    """One dry black plug: its own spark, valve or injector, not filter or choke (US Army TM 5-4210-230-14&P-1, p. 611)."""
    found = solved(engine, {1: ["carbon_fouled"]})
    assert first(found)[0][0] in CYLINDER_CAUSES
    assert sum(anywhere(found, cause) for cause in SHARED_FAULTS) < 0.05


@pytest.mark.parametrize("engine", ["modern_four", "old_four", "distributor_four", "modern_v6"])
def test_whole_sooty_set_is_a_shared_cause(engine: str) -> None:
    """A whole set of dry black plugs: filter, choke, mixture, heat range, use (the same manual; Dodge Ram 1998, group 8D)."""
    found = solved(engine, every(engine, "carbon_fouled"))
    assert sum(anywhere(found, cause) for cause in SHARED_FAULTS) > 0.5
    assert not {cause for cause, _ in first(found, 4)} & CYLINDER_CAUSES


def test_order_of_the_swaps_for_one_sooty_plug() -> None:
    """V6, No 1 sooty, the others tan, runs well: plug, then coil and injector (newspaper column; end of the case not told)."""
    found = solved("modern_v6", {1: ["carbon_fouled"]})
    assert first(found) == [("plug_dead", (1,))]
    assert {("injector_leaking", (1,)), ("coil_fault", (1,))} <= set(first(found, 5))


# ---- soot that says nothing ------------------------------------------------------------------------------


def test_soot_after_idling_ranks_nothing() -> None:
    """Idled before the plugs came out: soot on all raises no cause to twice what it was (trade columns on the plug chop)."""
    before = solved("modern_four", every("modern_four", "loose_powder"))
    after = solved("modern_four", every("modern_four", "loose_powder", "carbon_fouled"), seen=["long_idle_before_pulling"])
    risen = {cause: anywhere(after, cause) / anywhere(before, cause) for cause in SHARED_FAULTS}
    assert max(risen.values()) < 2.0


def test_new_plugs_do_not_speak_yet() -> None:
    """Plugs of under 250 km, all white: no lean cause above 1 in 20 (trade case looked at after 250 miles)."""
    found = solved("old_four", every("old_four", "lean_white"), seen=["plugs_under_250_km"])
    assert max(anywhere(found, cause) for cause in ("fuel_supply_lean", "carburettor_lean", "intake_leak_plenum")) < 0.05


# ---- pale plugs ------------------------------------------------------------------------------------------


def test_modern_white_set_is_clean_burning() -> None:
    """All plugs clean and white on closed loop: normal first (a plug maker's manual counts white as normal)."""
    found = solved("modern_four", every("modern_four", "lean_white"))
    assert first(found) == [("clean_modern_burn", ())]


def test_second_sign_turns_white_into_heat() -> None:
    """The same white set with specks and blisters is overheating (US Army TM 10-3930-633-12, table 4-3)."""
    found = solved("modern_four", every("modern_four", "overheated"))
    assert first(found)[0][0] in {"cooling_fault", "plug_too_hot", "fuel_supply_lean"}


def test_loose_plug_voids_its_own_white() -> None:
    """One white plug that was loose: the seat, not the mixture (Ford 1998 plug inspection; US Army TM 10-3930-653-14&P)."""
    found = solved("modern_four", {2: ["lean_white", "loose_when_removed"]})
    assert first(found) == [("plug_loose", (2,))]
    assert found.chance("plug_loose", 2) > 0.8


# ---- orange, coolant -------------------------------------------------------------------------------------


def test_rust_colour_on_all_is_additive() -> None:
    """Whole tips rust-coloured on all plugs: fuel additive, not coolant (Dodge Ram 1998 warns of this mistake)."""
    found = solved("modern_four", every("modern_four", "additive_stain"))
    assert first(found) == [("fuel_additive", ())]
    assert anywhere(found, "coolant_entry") + anywhere(found, "head_gasket_between") < 0.05


@pytest.mark.parametrize("where", [(2,), (2, 3)])
def test_rust_colour_on_one_or_two_neighbours_is_coolant_first(where: tuple[int, ...]) -> None:
    """On one plug or two neighbours coolant comes before additive (a gas-engine maker: orange residue is antifreeze)."""
    found = solved("modern_four", dict.fromkeys(where, ("additive_stain",)))
    assert anywhere(found, "coolant_entry") + anywhere(found, "head_gasket_between") > 2 * anywhere(found, "fuel_additive")


# ---- oil -------------------------------------------------------------------------------------------------


def test_oil_only_in_the_well_is_never_rings() -> None:
    """Oil on hex and boot, firing end normal: tube seal; rings no likelier than before (General Motors 2006-2010 inspection)."""
    before = solved("modern_four")
    findings = {**before.evidence.findings, ("oil_in_well", 2): True}
    found = network("modern_four").solve(type(before.evidence)(findings=findings))
    assert first(found) == [("tube_seal_leak", (2,))]
    assert found.chance("ring_or_bore", 2) <= before.chance("ring_or_bore", 2) * 1.001


def test_crust_on_one_plug_speaks_for_the_seal() -> None:
    """Heavy ash on one plug, on the side of the inlet valve: valve seal before rings (Jeep about 1990, coloured deposits)."""
    found = solved("modern_four", {4: ["ash_crust"]})
    assert first(found) == [("valve_seal_worn", (4,))]


# ---- neighbours, coil pairs, banks, carburettors ---------------------------------------------------------


@pytest.mark.parametrize(("levels", "cause"), [("normal", ("coil_pair_weak", (2, 3))), ("low", ("head_gasket_between", (2, 3)))])
def test_compression_parts_the_centre_pair(levels: str, cause: tuple[str, tuple[int, ...]]) -> None:
    """2 and 3 sooty on one coil: even compression leaves the coil, both low the gasket (textbook p. 361; US Army TM 647)."""
    plugs = {2: ["carbon_fouled"], 3: ["carbon_fouled"]}
    outcomes = {("compression_dry", n): levels if n in (2, 3) else "normal" for n in (1, 2, 3, 4)}
    assert first(solved("coil_pair_four", plugs, outcomes=outcomes)) == [cause]


def test_both_stay_until_compression_decides() -> None:
    """Before that neither coil nor gasket is ruled out, and compression is a check that separates them (common practice)."""
    found = solved("coil_pair_four", {2: ["carbon_fouled"], 3: ["carbon_fouled"]})
    assert found.chance("coil_pair_weak", 2, 3) > 0.5
    assert found.chance("head_gasket_between", 2, 3) > 0.01


def test_two_neighbours_low_and_even_is_the_gasket() -> None:
    """Compression 120/118/62/60, the same with oil: gasket between 3 and 4 (US Army TM 10-3930-647-14&P; GM 2006)."""
    outcomes = {("compression_dry", n): "low" if n in (3, 4) else "normal" for n in (1, 2, 3, 4)}
    outcomes |= {("compression_wet", n): "stays" for n in (3, 4)}
    assert first(solved("modern_four", outcomes=outcomes)) == [("head_gasket_between", (3, 4))]


@pytest.mark.parametrize(("wet", "cause"), [("rises", "ring_or_bore"), ("stays", "valve_leak")])
def test_oil_parts_rings_from_valves(wet: str, cause: str) -> None:
    """One cylinder low: better with oil is rings, unchanged is a valve (US Army TM 10-3930-647-14&P; GM 2006)."""
    outcomes = {("compression_dry", n): "low" if n == 3 else "normal" for n in (1, 2, 3, 4)}
    found = solved("modern_four", {3: ["carbon_fouled"]}, outcomes=outcomes | {("compression_wet", 3): wet})
    assert first(found) == [(cause, (3,))]


def test_two_carburettors_part_the_engine() -> None:
    """1 and 2 black, 3 and 4 white: front carburettor rich, rear lean (common practice)."""
    plugs = {1: ["carbon_fouled"], 2: ["carbon_fouled"], 3: ["lean_white"], 4: ["lean_white"]}
    found = solved("twin_carburettor_four", plugs)
    assert set(first(found, 2)) == {("carburettor_rich", (1, 2)), ("carburettor_lean", (3, 4))}


def test_one_sooty_bank_is_that_bank() -> None:
    """All plugs of one bank sooty: something only that bank has (trade text on a V12 with one cold sensor)."""
    assert first(solved("modern_v6", {n: ["carbon_fouled"] for n in (1, 3, 5)})) == [("bank_mixture_rich", (1, 3, 5))]


def test_balance_test_names_both_injectors() -> None:
    """Drops of 99, 69, 39 and 62 kPa: 1 gives too much, 3 too little (General Motors 1999-2010, the manual's own example)."""
    outcomes = {("injector_balance", n): o for n, o in {1: "rich", 2: "even", 3: "lean", 4: "even"}.items()}
    found = solved("modern_four", dict.fromkeys((1, 2, 3, 4), ()), outcomes=outcomes)
    assert {("injector_leaking", (1,)), ("injector_starved", (3,))} == set(first(found, 2))


# ---- plugs that look fine, or not ------------------------------------------------------------------------


@pytest.mark.parametrize("engine", ["flat_aero_six", "modern_four"])
def test_perfect_plug_can_be_dead(engine: str) -> None:
    """The fault moved with a plug that looks perfect: the plug is dead inside (aero six and twin motorcycle, both confirmed)."""
    assert first(solved(engine, seen=["misfire_under_load"], outcomes={("swap_plug", 3): "moved"})) == [("plug_dead", (3,))]


def test_plugs_do_not_show_it() -> None:
    """Nothing odd, yet it misfires: no cause above 1 in 4, and spark causes stay open (forum case of eight plugs alike)."""
    found = solved("modern_four", seen=["misfire_under_load"])
    assert found.ranked[0][1] < 0.25
    assert anywhere(found, "coil_fault") > 2 * anywhere(solved("modern_four"), "coil_fault")


def test_track_is_lead_or_boot() -> None:
    """A black line along the ribs: lead or boot first; plug and boot go together (General Motors bulletin of 1993)."""
    assert first(solved("distributor_four", {2: ["flashover_track"]})) == [("lead_or_boot_fault", (2,))]
    assert "together" in rules().findings["flashover_track"].note


def test_broken_plug_by_hand() -> None:
    """Tip gone, ceramic loose, thread torn on No 2 after work on the plugs: the plug, and a stop (workshop case, confirmed)."""
    seen = ["nose_piece_missing", "gas_past_insulator", "thread_damaged"]
    assert first(solved("modern_four", {2: seen}, seen=["plugs_just_changed"])) == [("plug_mishandled", (2,))]
    assert all(rules().findings[name].danger for name in seen[:2])


def test_electrodes_gone_with_leaking_seat() -> None:
    """Electrodes missing and gas past the seat on No 1: it was loose (plug maker's laboratory, in a forum letter, confirmed)."""
    assert first(solved("modern_four", {1: ["nose_piece_missing", "gas_past_seat"]})) == [("plug_loose", (1,))]


def test_blobs_after_a_hard_run_are_shed_deposits() -> None:
    """New plugs and a fast run after long idling: thrown deposits (US Army TM 5-4210-230-14&P-1; parts-chain guide)."""
    found = solved("modern_four", {3: ["splash_fouled"]}, seen=["hard_use_after_slow_use", "plugs_just_changed"])
    assert first(found) == [("deposits_shed", (3,))]


def test_lead_beads_on_a_cool_rich_aero_engine() -> None:
    """Hard lead deposits on leaded fuel: leaded fuel run cool and rich (FAA AC 43.13-1B, 8-16; FAA Safety Team)."""
    found = solved("flat_aero_six", every("flat_aero_six", "lead_fouled"), seen=["leaded_fuel"])
    assert first(found) == [("leaded_fuel_used", ())]


def test_metal_on_one_plug_is_its_piston() -> None:
    """Metal spray on one plug: that piston; on all plugs: the intake side (FAA AC 43.13-1B, 8-16)."""
    assert first(solved("modern_four", {2: ["metal_specks"]})) == [("piston_damage", (2,))]
    assert first(solved("modern_four", every("modern_four", "metal_specks"))) == [("loose_part_upstream", ())]


def test_corona_ring_means_nothing() -> None:
    """The even ring above the shell moves no cause (plug makers' guidance on corona)."""
    with_ring, without = solved("modern_four", {2: ["corona_stain"]}), solved("modern_four", {2: ()})
    assert with_ring.chances == pytest.approx(without.chances, abs=1e-12)
    assert rules().findings["corona_stain"].severity == 0


DANGERS = (
    "coolant_wet",
    "coolant_crust",
    "metal_specks",
    "nose_piece_missing",
    "preignition_melt",
    "detonation_damage",
    "struck",
)


@pytest.mark.parametrize("finding", DANGERS)
def test_danger_says_what_not_to_do(finding: str) -> None:
    """Each finding of severity 4 forbids running and says why (FAA AC 43.13-1B, 8-16 to 8-18; Dodge Ram 1998)."""
    row = rules().findings[finding]
    assert row.danger
    assert row.severity == 4
    assert row.stop.startswith("Do not")


def test_nothing_that_runs_the_engine_counts_as_off() -> None:
    """Checks on a running or cranked engine are marked, so that none is offered where it must not turn (common practice)."""
    turning = {check.id for check in rules().checks.values() if check.engine != "off"}
    assert {"cylinder_drop", "port_temperature", "fuel_trims", "swap_plug", "compression_dry", "clean_drive_reread"} <= turning
    assert not turning & {"borescope_look", "plug_resistor", "coolant_pressure", "leak_down", "well_look"}
