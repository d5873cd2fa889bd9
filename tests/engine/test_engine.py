"""Cylinders, banks, neighbours, coils and companions, and where a cause can sit."""

from __future__ import annotations

import pytest

from plugread.engine import Engine
from plugread.errors import CaseError
from plugread.records import EngineSpec
from plugread.rules.tables import Backing, Cause


def engine(cylinders: int, order: tuple[int, ...] | None = None, **fields: object) -> Engine:
    known = {
        "layout": "inline",
        "induction": "port_injection",
        "ignition": "wasted_spark",
        "closed_loop": True,
        "firing_order": order or tuple(range(1, cylinders + 1)),
    }
    return Engine(EngineSpec(cylinders=cylinders, **{**known, **fields}))  # type: ignore[arg-type]


def cause(scope: str, **needs: tuple[str, ...]) -> Cause:
    return Cause("c", "C", scope, "common", "wear", "part", "", "", Backing("our_estimate"), needs)


def test_companions_of_the_textbook_six() -> None:
    """Order 1-6-5-4-3-2: the second half written under the first gives 1-4, 6-3, 5-2 (ignition textbook, p. 361)."""
    assert engine(6, (1, 6, 5, 4, 3, 2)).companions == {1: 4, 2: 5, 3: 6, 4: 1, 5: 2, 6: 3}


@pytest.mark.parametrize("order", [(1, 3, 4, 2), (1, 2, 4, 3)])
def test_companions_of_the_inline_four(order: tuple[int, ...]) -> None:
    """Both usual orders pair 1 with 4 and 2 with 3: one coil feeds 2 and 3, the other 1 and 4 (maintenance study guide)."""
    assert engine(4, order).coils == ((1, 4), (2, 3))


def test_odd_engines_have_no_companions() -> None:
    """A five fires no two cylinders half a cycle apart; each plug then has its own coil."""
    five = engine(5, (1, 2, 4, 5, 3))
    assert five.companions == {}
    assert five.coils == ((1,), (2,), (3,), (4,), (5,))


def test_vee_is_numbered_across_the_banks() -> None:
    """A vee six has odd cylinders on one bank and even ones on the other; neighbours stand along a bank."""
    six = engine(6, layout="vee")
    assert six.banks == ((1, 3, 5), (2, 4, 6))
    assert six.neighbours == ((1, 3), (3, 5), (2, 4), (4, 6))


def test_banks_may_be_given() -> None:
    """Banks of the case file win over the usual ones, and the neighbours follow them."""
    eight = engine(8, layout="vee", banks=((1, 2, 3, 4), (5, 6, 7, 8)))
    assert eight.neighbours[:3] == ((1, 2), (2, 3), (3, 4))


@pytest.mark.parametrize(
    ("fields", "scope", "places"),
    [
        ({}, "engine", ((),)),
        ({}, "bank", ()),
        ({}, "feed", ()),
        ({}, "coil", ((1, 4), (2, 3))),
        ({}, "neighbours", ((1, 2), (2, 3), (3, 4))),
        ({}, "cylinder", ((1,), (2,), (3,), (4,))),
        ({"ignition": "coil_on_plug"}, "coil", ()),
        ({"induction": "carburettor"}, "feed", ((1, 2, 3, 4),)),
        ({"induction": "carburettor", "feeds": ((1, 2), (3, 4))}, "feed", ((1, 2), (3, 4))),
    ],
)
def test_where_a_cause_can_sit(fields: dict[str, object], scope: str, places: object) -> None:
    """A cause sits at every place of its scope that the engine has, and at no other."""
    assert engine(4, (1, 3, 4, 2), **fields).instances(cause(scope)) == places


@pytest.mark.parametrize(
    ("needs", "has"),
    [
        ({"ignition": ("wasted_spark", "coil_on_plug")}, True),
        ({"ignition": ("distributor",)}, False),
        ({"closed_loop": ("true",)}, True),
        ({"closed_loop": ("false",)}, False),
        ({"cylinders": ("2+",)}, True),
        ({"cylinders": ("5+",)}, False),
        ({"cylinders": ("4",), "induction": ("carburettor",)}, False),
        ({"head": ("iron",)}, True),
    ],
)
def test_what_the_engine_cannot_have_is_not_offered(needs: dict[str, tuple[str, ...]], has: bool) -> None:
    """Every need must be met; a field that was not told may be so."""
    four = engine(4)
    assert four.has(needs) is has
    assert bool(four.instances(cause("engine", **needs))) is has


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"firing_order": (1, 3, 4)}, r"firing_order = \[1, 3, 4\] does not fit 4 cylinders; name each"),
        ({"firing_order": (1, 3, 3, 2)}, "firing_order"),
        ({"layout": "radial"}, "layout = 'radial' is not known; use one of inline, vee, flat"),
        ({"ignition": "diesel"}, "ignition = 'diesel'"),
        ({"coils": ((1, 4), (4, 3))}, r"coils = \[\[1, 4\], \[4, 3\]\] must name each"),
        ({"banks": ((1, 2),)}, "banks"),
        ({"neighbours": ((1, 1),)}, "neighbours"),
        ({"neighbours": ((1, 5),)}, "neighbours"),
    ],
)
def test_nonsense_is_refused_in_one_line(fields: dict[str, object], words: str) -> None:
    """A description that contradicts itself is refused with the field, what was found and what to do."""
    with pytest.raises(CaseError, match=words) as caught:
        engine(4, **{"firing_order": (1, 3, 4, 2), **fields})  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("count", [0, 13, -1])
def test_one_to_twelve_cylinders(count: int) -> None:
    """No other number of cylinders is taken."""
    with pytest.raises(CaseError, match=f"cylinders = {count}"):
        engine(count, ())


def test_a_single_has_no_neighbours() -> None:
    """One cylinder: no neighbours, no groups, and every cause of a cylinder at that one."""
    one = engine(1, (1,), induction="carburettor")
    assert (one.neighbours, one.instances(cause("coil")), one.instances(cause("cylinder"))) == ((), (), ((1,),))
    assert one.instances(cause("feed")) == ((1,),)
