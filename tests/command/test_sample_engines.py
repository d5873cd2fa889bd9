"""The sample engines end to end: photos in, planted fault out; and the answer follows a photo to another cylinder."""

from __future__ import annotations

from dataclasses import replace

import pytest

from plugread.casefile import load_case
from plugread.pipeline import default_model, diagnose_case, read_case_photos
from plugread.records import Case, PlugEntry, PlugRead
from plugread.resources import samples_dir


def case_of(name: str) -> Case:
    return load_case(samples_dir() / name)


@pytest.fixture(scope="module")
def odd() -> tuple[Case, dict[int, PlugRead]]:
    """The engine with one oily plug, its line-up read once."""
    case = case_of("engine_one_odd/case.toml")
    return case, read_case_photos(case, default_model())[0]


def test_the_healthy_engine_carries_on() -> None:
    """Four sound plugs, nothing to complain of: fit them and carry on."""
    assert diagnose_case(case_of("engine_healthy/case.toml"), shakes=0, model=default_model()).verdict.action == "carry_on"


def test_one_oily_plug_is_the_odd_one_and_names_its_valve_seal(odd: tuple[Case, dict[int, PlugRead]]) -> None:
    """Cylinder 3 is oily, the engine puffs blue at start: a valve stem seal of that cylinder comes first."""
    diagnosis = diagnose_case(odd[0], reads=odd[1], shakes=0)
    assert diagnosis.comparison.odd == (3,)
    assert (diagnosis.causes[0].id, diagnosis.causes[0].cylinders) == ("valve_seal_worn", (3,))
    assert diagnosis.verdict.action == "investigate"


@pytest.mark.parametrize("other", [1, 2, 4])
def test_the_answer_follows_the_odd_photo(odd: tuple[Case, dict[int, PlugRead]], other: int) -> None:
    """With the oily plug given for another cylinder, that cylinder's valve seal comes first."""
    case, reads = odd
    first = diagnose_case(case, reads={**reads, other: reads[3], 3: reads[other]}, shakes=0).causes[0]
    assert (first.id, first.cylinders) == ("valve_seal_worn", (other,))


@pytest.mark.parametrize(
    ("name", "cause", "cylinders"),
    [
        ("engine_shared_six/case.toml", "coil_pair_weak", (2, 5)),
        ("engine_shared_eight/case.toml", "bank_mixture_rich", (1, 3, 5, 7)),
    ],
)
def test_a_shared_fault_is_named_from_the_line_up(name: str, cause: str, cylinders: tuple[int, ...]) -> None:
    """From one photo of all plugs in a row, what the odd ones share comes first."""
    first = diagnose_case(case_of(name), shakes=0, model=default_model()).causes[0]
    assert (first.id, first.cylinders) == (cause, cylinders)


@pytest.mark.parametrize("number", [1, 4])
def test_ticks_follow_too(number: int) -> None:
    """The same without photos: the ticked cylinder is the one named."""
    case = case_of("engine_one_odd/case.toml")
    plugs = tuple(PlugEntry(n, seen=("oil_fouled",) if n == number else ("normal",)) for n in (1, 2, 3, 4))
    first = diagnose_case(replace(case, plugs=plugs, lineup=None), reads={}, shakes=0, model=default_model()).causes[0]
    assert (first.id, first.cylinders) == ("valve_seal_worn", (number,))
