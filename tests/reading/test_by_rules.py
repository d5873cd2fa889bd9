"""The reading rules: textbook noses, honesty where nothing stands out, and properties that hold for any measures."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plugread.reading.by_rules import likelihoods, read
from plugread.reading.looks import load_looks
from plugread.records import Quality
from tests.reading.ends import GOOD, SEEN, end, measures

PHOTOGRAPHABLE = (
    *("normal", "carbon_fouled", "oil_fouled", "fuel_wet", "coolant_wet", "coolant_crust", "additive_stain"),
    *("loose_powder", "ash_crust", "glazed", "lead_fouled", "lean_white", "overheated", "preignition_melt"),
    *("detonation_damage", "metal_specks", "worn", "gap_bridged", "splash_fouled", "nose_cracked"),
    *("nose_piece_missing", "struck"),
)
LAB = st.tuples(st.floats(2, 98), st.floats(-15, 35), st.floats(-15, 50))
CUE = st.one_of(st.none(), st.floats(0, 1))


@pytest.mark.parametrize("look", SEEN)
def test_a_textbook_nose_has_its_own_look_as_the_likeliest(look: str) -> None:
    """Measured as the trade describes it, each look explains its own measures best."""
    likelihood = read(measures(**SEEN[look]), GOOD, end()).likelihood
    assert max(likelihood, key=lambda name: likelihood[name]) == look


def test_every_look_of_the_firing_end_is_weighed() -> None:
    """All 22 looks a photo can show, in likelihood and in probability."""
    reading = read(measures(**SEEN["normal"]), GOOD, end())
    assert set(reading.likelihood) == set(PHOTOGRAPHABLE) == set(reading.probability)


def test_a_tan_matt_nose_is_read_as_normal() -> None:
    """The commonest photo there is."""
    reading = read(measures(**SEEN["normal"]), GOOD, end())
    assert (reading.status, reading.top, reading.why, reading.by) == ("read", "normal", None, "rules")


def test_black_and_matt_is_soot_black_and_glossy_is_oil() -> None:
    """Gloss alone decides between the two."""
    matt, wet = (read(measures((14, 0.8, 2), gloss=g, crust=0.2), GOOD, end()).likelihood for g in (0.05, 0.95))
    assert matt["carbon_fouled"] > 2 * matt["oil_fouled"]
    assert wet["oil_fouled"] > 5 * wet["carbon_fouled"]


def test_a_dark_nose_of_unknown_gloss_is_left_open() -> None:
    """Without gloss neither soot nor oil is ruled out."""
    likelihood = read(measures((14, 0.8, 2)), GOOD, end()).likelihood
    assert min(likelihood["carbon_fouled"], likelihood["oil_fouled"]) > 0.2


def test_white_from_tan_cannot_be_told_without_a_reference() -> None:
    """With the spread of an estimated light, a pale nose leaves normal and lean white both standing."""
    likelihood = read(measures((84, 2, 7), spread=(22, 8, 14)), GOOD, end()).likelihood
    assert likelihood["normal"] > 0.3
    assert likelihood["lean_white"] > 0.3


def test_a_wide_gap_speaks_for_wear() -> None:
    """At one and a half times the book's gap the same nose is likelier worn than at the book's gap."""
    at, wide = (read(measures(**SEEN["normal"], gap_mm=g), GOOD, end(), gap_spec_mm=0.8).likelihood["worn"] for g in (0.82, 1.2))
    assert wide > 4 * at


def test_a_gap_counts_for_less_where_the_book_is_unknown() -> None:
    """1.2 mm may be the book's own gap."""
    known, unknown = (
        read(measures(**SEEN["normal"], gap_mm=1.2), GOOD, end(), gap_spec_mm=spec).likelihood for spec in (0.8, None)
    )
    assert known["worn"] / known["normal"] > 2 * unknown["worn"] / unknown["normal"]


def test_a_shut_gap_speaks_for_a_blow() -> None:
    """A gap hammered shut with a normal nose."""
    likelihood = read(measures(**SEEN["normal"], gap_mm=0.15), GOOD, end(), gap_spec_mm=0.8).likelihood
    assert likelihood["struck"] > 5 * likelihood["normal"]


def test_metal_specks_raise_the_dangerous_looks() -> None:
    """Bright neutral specks on a normal nose."""
    clean = read(measures(**SEEN["normal"]), GOOD, end()).probability
    specked = read(measures(**SEEN["normal"] | {"specks": {"dark": 5, "metal": 6, "white": 0}}), GOOD, end()).probability
    for look in ("metal_specks", "detonation_damage"):
        assert specked[look] > 5 * clean[look]


# ---- honesty ---------------------------------------------------------------------------------------------


def test_no_look_is_ruled_out_by_a_picture() -> None:
    """An image can always be wrong: the floor is 2 % of the best."""
    likelihood = read(measures((16, 0, 1), spread=(1, 0.5, 0.5), gloss=0.0), GOOD, end()).likelihood
    assert min(likelihood.values()) >= 0.02


def test_nothing_standing_out_is_called_unsure() -> None:
    """With spreads so wide that many looks fit, no look is named and the reason is given."""
    reading = read(measures((40, 3, 8), spread=(60, 30, 40)), GOOD, end())
    assert (reading.status, reading.top) == ("unsure", None)
    assert "several looks fit" in reading.why
    assert reading.probability


def test_sun_and_shade_on_the_nose_are_called_unsure() -> None:
    """A hard shadow across the nose: no look is named."""
    reading = read(measures(**SEEN["normal"], two_lights=0.9, shade_depth=45.0), GOOD, end())
    assert reading.status == "unsure"
    assert "even light" in reading.why


def test_a_doubtful_find_names_no_look() -> None:
    """The two passes agree on half of the nose only."""
    assert read(measures(**SEEN["normal"]), GOOD, end(agreement=0.4)).status == "unsure"


@pytest.mark.parametrize("where", [{"score": 0.1}, {"agreement": 0.1}])
def test_a_bad_find_is_refused(where: dict[str, float]) -> None:
    """Below the limits nothing is read, and what to do is said."""
    reading = read(measures(**SEEN["normal"]), GOOD, end(**where))
    assert (reading.status, reading.likelihood, reading.top) == ("refused", {}, None)
    assert "draw a box" in reading.why


def test_a_box_by_hand_needs_no_finder() -> None:
    """Score and agreement of the finder do not count for a user's box."""
    assert read(measures(**SEEN["normal"]), GOOD, end(0.0, 0.0, by_hand=True)).status == "read"


def test_a_refused_photo_is_refused_with_its_advice() -> None:
    """Quality's refusal and advice are the reading's `why`."""
    bad = Quality(40.0, 0.5, 0.0, None, "too blurred", ("hold still",))
    reading = read(measures(**SEEN["normal"]), bad, end())
    assert (reading.status, reading.why) == ("refused", "too blurred; hold still")


def test_no_colour_no_reading() -> None:
    """Without a nose colour the reason of the measure is handed on."""
    blank = dataclasses.replace(measures((0, 0, 0)), lightness=None, a=None, b=None, why={"colour": "too little nose"})
    reading = read(blank, GOOD, end())
    assert (reading.status, reading.why) == ("refused", "too little nose")


# ---- properties ------------------------------------------------------------------------------------------


@settings(deadline=None, max_examples=60)
@given(LAB, CUE, CUE)
def test_probabilities_sum_to_one_and_the_best_likelihood_is_one(lab, gloss, crust) -> None:
    """For any measures."""
    reading = read(measures(lab, gloss=gloss, crust=crust), GOOD, end())
    assert sum(reading.probability.values()) == pytest.approx(1)
    assert max(reading.likelihood.values()) == pytest.approx(1)


@settings(deadline=None, max_examples=40)
@given(LAB)
def test_a_wider_spread_never_makes_the_best_look_surer(lab) -> None:
    """Doubling every spread does not sharpen the likelihoods: the geometric mean does not fall."""
    table = load_looks()
    sharp = likelihoods(measures(lab, spread=(6, 3, 4)), table)
    wide = likelihoods(measures(lab, spread=(60, 30, 40)), table)
    assert sum(wide.values()) >= sum(sharp.values()) - 1.5


@settings(deadline=None, max_examples=40)
@given(LAB)
def test_what_was_not_measured_says_nothing(lab) -> None:
    """Without cues, looks of the same colour rows are equally likely."""
    likelihood = likelihoods(measures(lab), load_looks())
    assert likelihood["nose_cracked"] == pytest.approx(likelihood["normal"])
    assert likelihood["worn"] == pytest.approx(likelihood["normal"])


@given(score=st.floats(0.3, 0.5), surer=st.floats(0.0, 0.4))
def test_a_nose_found_less_surely_says_less(score: float, surer: float) -> None:
    """The less sure the find, the less the likelihood of the worst look differs from that of the best."""
    black = measures(**SEEN["carbon_fouled"])
    weak, strong = (min(read(black, GOOD, end(score=s)).likelihood.values()) for s in (score, score + surer))
    assert weak >= strong


def test_a_doubtful_find_rules_no_look_out() -> None:
    """With a fifth of such finds in the wrong place, no look falls below a fifth of the likeliest."""
    assert min(read(measures(**SEEN["carbon_fouled"]), GOOD, end(score=0.35)).likelihood.values()) > 0.2


def test_a_nose_marked_by_hand_counts_in_full() -> None:
    """A box drawn by the user weighs as much as the surest find, whatever its score."""
    black = measures(**SEEN["carbon_fouled"])
    assert read(black, GOOD, end(0.3, by_hand=True)).likelihood == read(black, GOOD, end(0.9)).likelihood
