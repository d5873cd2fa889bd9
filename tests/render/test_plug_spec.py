"""Which plugs can be described, and how they are drawn at random."""

from dataclasses import replace

import numpy as np
import pytest

from sample_images.render.plug.shape import PlugSpec, SpecError, Strap, thread_sizes
from sample_images.render.plug.spec import READINGS, STYLES, random_spec


def drawn(seed: int, **given: object) -> PlugSpec:
    return random_spec(np.random.default_rng(seed), **given)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"gap_mm": 5.0}, "gap_mm = 5.0 is outside"),
        ({"reach_mm": -1.0}, "reach_mm = -1.0 is outside"),
        ({"thread": "M13x1"}, "thread 'M13x1' is not known"),
        ({"readings": {"purple": 0.5}}, "reading 'purple' is not known"),
        ({"readings": {"worn": 1.5}}, "amount of worn = 1.5 is outside"),
        ({"seat": "ball"}, "seat 'ball' is not known"),
        ({"strap": Strap(kind="ring")}, "strap kind 'ring' is not known"),
        ({"wear": 2.0}, "wear = 2.0 is outside"),
    ],
)
def test_impossible_plugs_are_refused_in_one_line(change: dict[str, object], words: str) -> None:
    """A plug that cannot exist is refused with what and why."""
    with pytest.raises(SpecError, match=words) as caught:
        PlugSpec(**change)
    assert "\n" not in str(caught.value)


def test_a_nose_wider_than_the_bore_is_refused() -> None:
    """The nose must fit into the shell."""
    fat = replace(PlugSpec().nose, tip_radius_mm=6.0)
    with pytest.raises(SpecError, match="does not fit the bore"):
        PlugSpec(nose=fat)


def test_a_strap_lying_in_the_rim_is_refused() -> None:
    """A centre tip sunk below the shell leaves no room for a strap."""
    sunk = replace(PlugSpec().nose, protrusion_mm=-2.0)
    with pytest.raises(SpecError, match="leaves no room for a j strap"):
        PlugSpec(nose=sunk)


def test_an_unknown_family_is_refused() -> None:
    """There are two families and no third."""
    with pytest.raises(SpecError, match="family 'both' is not known"):
        drawn(1, family="both")


def test_two_hundred_draws_are_all_possible() -> None:
    """Whatever is drawn passes the checks of the description."""
    assert all(isinstance(drawn(seed, family=family), PlugSpec) for seed in range(100) for family in STYLES)


def test_the_same_generator_state_draws_the_same_plug() -> None:
    """A seed names a plug."""
    assert drawn(5) == drawn(5) != drawn(6)


def test_the_families_share_no_style() -> None:
    """No style of nose, centre or strap is drawn for training and testing alike."""
    assert all(not set(STYLES["train"][part]) & set(STYLES["test"][part]) for part in STYLES["train"])


def test_test_plugs_have_test_styles_only() -> None:
    """Every part of a test plug comes from the test family."""
    specs = [drawn(seed, family="test") for seed in range(40)]
    assert all(s.nose.style in STYLES["test"]["nose"] and s.strap.style in STYLES["test"]["strap"] for s in specs)


def test_a_third_of_training_plugs_is_odd() -> None:
    """Strangeness makes a locator transfer: about one draw in three has it, test plugs none."""
    share = np.mean([drawn(seed).odd is not None for seed in range(300)])
    assert 0.25 < share < 0.42
    assert all(drawn(seed, family="test").odd is None for seed in range(30))


def test_what_is_given_is_kept() -> None:
    """Thread, gap, readings and strap pass through the draw unchanged."""
    spec = drawn(3, thread="M10x1.0", gap_mm=0.7, readings={"worn": 0.5}, strap="j")
    assert (spec.thread, spec.gap_mm, dict(spec.readings), spec.strap.kind) == ("M10x1.0", 0.7, {"worn": 0.5}, "j")


def test_a_worn_plug_is_drawn_with_a_wider_gap() -> None:
    """Wear opens the gap: the mean over fifty plugs grows by more than 0.3 mm."""
    gaps = [[drawn(seed, readings=r).gap_mm for seed in range(50)] for r in ({}, {"worn": 1.0})]
    assert np.mean(gaps[1]) > np.mean(gaps[0]) + 0.3


def test_a_struck_plug_is_drawn_with_its_gap_shut() -> None:
    """A full blow leaves less than 0.1 mm."""
    assert all(drawn(seed, readings={"struck": 1.0}).gap_mm < 0.1 for seed in range(20))


def test_thread_pitches_are_those_of_their_names() -> None:
    """The pitch in the table is the one in the thread's designation (ISO 68-1 / ISO 261 style names)."""
    assert all(
        float(name.split("x")[1]) == size.pitch_mm and float(name[1:].split("x")[0]) == size.major_mm
        for name, size in thread_sizes().items()
    )


def test_every_reading_can_be_asked_for() -> None:
    """Each reading the generator knows is accepted alone."""
    assert all(drawn(1, readings={reading: 0.8}, strap="j").amount(reading) == 0.8 for reading in READINGS)
