"""How a taught model enters the reasoning: as a likelihood, in the place of the colour rule, never on top of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from plugread.engine import Engine
from plugread.photo.decode import open_photo
from plugread.pipeline import default_rules, read_photo
from plugread.reading.by_classifier import NOT_IN_THE_BOX, least_likelihood, likelihoods, reading, shipped
from plugread.reading.by_rules import read
from plugread.reading.join import ECHO_AFTER_PHOTO, join
from plugread.reading.looks import load_looks
from plugread.reading.model import Model, Prediction
from plugread.records import EngineSpec, PlugEntry, PlugMeasures, Reading
from plugread.resources import samples_dir
from tests.reading.ends import GOOD, SEEN, end, measures

FLOOR = load_looks().floor
NAMES = ("normal", "carbon_fouled", "oil_fouled")
ENGINE = Engine(EngineSpec("inline", 1, (1,), "carburettor", "contact_breaker", False))


def model(share: tuple[float, ...] = (0.5, 0.3, 0.2), readings: tuple[str, ...] = NAMES) -> Model:
    k = len(readings)
    nothing = np.zeros(1)
    return Model(
        readings, nothing, nothing + 1, nothing, np.zeros((k, 1)), np.zeros(k), np.array(share), np.zeros((k, 1)), np.eye(1),
        farthest=1.0, doubt=0.5, card={},
    )  # fmt: skip


def seen(*chance: float, distance: float = 0.5, sets: tuple[str, ...] = ()) -> Prediction:
    return Prediction(np.array(chance), distance, sets, distance <= 1.0)


def flat(**other: float) -> Mapping[str, float]:
    """Rules that have no opinion, but for what is named."""
    return dict.fromkeys(load_looks().look, 1.0) | other


def test_training_shares_are_divided_out() -> None:
    """A chance equal to the training share says nothing; twice the share speaks twice as much for it.

    By hand: chances 0.5, 0.3, 0.2 over shares 0.5, 0.3, 0.2 are all 1; 0.2, 0.6, 0.2 over the same are 0.4, 2, 1:
    over the largest, 0.2, 1, 0.5.
    """
    nothing = likelihoods(model(), seen(0.5, 0.3, 0.2), end(), flat(), FLOOR)
    assert [nothing[name] for name in NAMES] == pytest.approx([1, 1, 1])
    sooty = likelihoods(model(), seen(0.2, 0.6, 0.2), end(), flat(), FLOOR)
    assert [sooty[name] for name in NAMES] == pytest.approx([0.2, 1, 0.5])


def test_an_image_can_always_be_wrong() -> None:
    """However sure the model is, no look falls below the floor of the table."""
    sure = likelihoods(model(), seen(1.0, 0.0, 0.0), end(), flat(), FLOOR)
    assert min(sure.values()) == FLOOR > 0
    assert max(sure.values()) == 1.0


def test_the_colour_rules_are_not_multiplied_in() -> None:
    """Among the readings the model was taught, what the rules say between them changes nothing: same pixels, said once."""
    one = likelihoods(model(), seen(0.2, 0.6, 0.2), end(), flat(carbon_fouled=0.02, oil_fouled=0.5), FLOOR)
    other = likelihoods(model(), seen(0.2, 0.6, 0.2), end(), flat(normal=0.1, oil_fouled=0.02), FLOOR)
    assert [one[name] for name in NAMES] == pytest.approx([other[name] for name in NAMES])


def test_readings_never_taught_keep_what_the_rules_say() -> None:
    """The rules weigh the readings the model does not know against those it knows."""
    rules = dict.fromkeys(load_looks().look, 0.1) | {"glazed": 1.0, "normal": 0.5}
    joined = likelihoods(model(), seen(0.2, 0.6, 0.2), end(), rules, FLOOR)
    assert joined["glazed"] == 1.0
    assert [joined[name] for name in NAMES] == pytest.approx([0.5 * 0.2, 0.5, 0.5 * 0.5])


def test_a_nose_that_may_be_elsewhere_weighs_less() -> None:
    """The finder's doubt thins the model's likelihoods as it thins the rules'."""
    sure = likelihoods(model(), seen(0.05, 0.9, 0.05), end(score=0.9), flat(), FLOOR)
    doubtful = likelihoods(model(), seen(0.05, 0.9, 0.05), end(score=0.35), flat(), FLOOR)
    assert doubtful["normal"] > sure["normal"]


def rules_reading() -> tuple[Reading, PlugMeasures]:
    """A tan nose by the rules, which hold readings other than the three for out of the question."""
    measured = measures(**SEEN["normal"])
    rules = read(measured, GOOD, end())
    only = {name: value if name in NAMES else FLOOR for name, value in rules.likelihood.items()}
    return replace(rules, likelihood=only), measured


def test_the_reading_tells_who_read_it() -> None:
    """A reading by the model says so, its probabilities sum to one, and it may name another look than the rules."""
    rules, measured = rules_reading()
    made = reading(model((1 / 3, 1 / 3, 1 / 3)), seen(0.01, 0.98, 0.01, sets=("carbon_fouled",)), end(), measured, rules)
    assert (rules.top, rules.by, made.top, made.by) == ("normal", "rules", "carbon_fouled", "classifier")
    assert sum(made.probability.values()) == pytest.approx(1)


def test_a_set_of_two_is_unsure_and_names_both() -> None:
    """Where the model's set holds two answers no look is named alone, and the reason names them."""
    rules, measured = rules_reading()
    torn = seen(0.01, 0.60, 0.39, sets=("carbon_fouled", "oil_fouled"))
    made = reading(model((1 / 3, 1 / 3, 1 / 3)), torn, end(), measured, rules)
    assert (made.status, made.top) == ("unsure", None)
    assert "carbon fouled, oil fouled" in str(made.why)


def test_a_share_that_leaves_little_doubt_is_named_for_all_the_set_holds() -> None:
    """Nineteen parts soot to one part oil, soot being the commoner look as well: named, though oil cannot be ruled out."""
    rules, measured = rules_reading()
    clear = seen(0.01, 0.94, 0.05, sets=("carbon_fouled", "oil_fouled"))
    made = reading(model((1 / 3, 1 / 3, 1 / 3)), clear, end(), measured, rules)
    assert made.probability["carbon_fouled"] > load_looks().sure_share
    assert (made.status, made.top) == ("read", "carbon_fouled")


def test_where_rules_and_model_differ_on_a_half_taught_plug_it_is_unsure() -> None:
    """Rules that see a tan nose keep the untaught looks of a tan nose up; a model of three readings cannot overrule those."""
    measured = measures(**SEEN["normal"])
    rules = read(measured, GOOD, end())
    made = reading(model((1 / 3, 1 / 3, 1 / 3)), seen(0.01, 0.98, 0.01, sets=("carbon_fouled",)), end(), measured, rules)
    assert (rules.top, made.status, made.top) == ("normal", "unsure", None)


@pytest.mark.parametrize("by", ["rules", "classifier"])
def test_a_tick_that_repeats_the_screen_counts_the_same_whoever_read(by: str) -> None:
    """A tick given after the photo's reading was shown is damped by the echo rule for the model as for the colour rules."""
    shown = Reading("read", None, dict.fromkeys(load_looks().look, 0.2) | {"carbon_fouled": 1.0}, {"carbon_fouled": 1.0},
                    "carbon_fouled", by=by)  # fmt: skip
    entry = PlugEntry(1, seen=("carbon_fouled",), tick_after_photo=True)
    evidence = join(ENGINE, [entry], {1: shown}, default_rules())
    assert ("carbon_fouled", 1) not in evidence.findings
    assert evidence.looks[1]["carbon_fouled"] == 1.0
    assert evidence.looks[1]["glazed"] == pytest.approx(ECHO_AFTER_PHOTO * 0.2)


def test_a_tick_against_the_model_counts_in_full() -> None:
    """Where the user saw something else than the model, the tick is taken at its word."""
    shown = Reading("read", None, dict.fromkeys(load_looks().look, 0.2) | {"carbon_fouled": 1.0}, {"carbon_fouled": 1.0},
                    "carbon_fouled", by="classifier")  # fmt: skip
    entry = PlugEntry(1, seen=("oil_fouled",), tick_after_photo=True)
    evidence = join(ENGINE, [entry], {1: shown}, default_rules())
    assert evidence.findings["oil_fouled", 1] is True


def test_a_model_of_all_looks_leaves_the_rules_no_say() -> None:
    """A model taught every look of the table reads alone: the rules' likelihoods change nothing."""
    names = tuple(load_looks().look)
    whole = replace(model(tuple(np.full(len(names), 1 / len(names))), names), doubt=1.0)
    chance = np.linspace(1, 2, len(names)) / np.linspace(1, 2, len(names)).sum()
    one = likelihoods(whole, Prediction(chance, 0.5, (), True), end(), flat(glazed=0.02), FLOOR)
    other = likelihoods(whole, Prediction(chance, 0.5, (), True), end(), flat(worn=0.02), FLOOR)
    assert one == pytest.approx(other)


@pytest.mark.parametrize(("photos", "least"), [(655, 0.005), (300, 0.01), (48, 0.02), (None, 0.02), ("many", 0.02)])
def test_a_model_speaks_as_firmly_as_the_photos_it_was_checked_on_allow(photos: object, least: float) -> None:
    """Rule of three: 3 / n, between the table's floors; a card that tells no number leaves the floor of the rules."""
    assert least_likelihood(replace(model(), card={"photos": photos}), load_looks()) == pytest.approx(least)


@pytest.mark.parametrize("name", ["walnut", "coins", "pens"])
def test_a_box_drawn_on_something_else_is_refused(name: str) -> None:
    """What is marked in the middle of a picture without a plug is not read, and it is said why; the rules alone would read it."""
    photo = samples_dir() / "no_plug" / f"{name}.jpg"
    w, h = open_photo(photo, name=name).size
    box = (w * 2 // 5, h * 2 // 5, w // 5, h // 5)
    told = read_photo(photo, nose_box=box, model=shipped()).plugs[0].reading
    assert (told.status, told.why, told.likelihood) == ("refused", NOT_IN_THE_BOX, {})
    assert read_photo(photo, nose_box=box).plugs[0].reading.status != "refused"
