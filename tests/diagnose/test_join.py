"""Photo and ticks of a plug as evidence: three states, what follows from a tick, echoes, contradictions."""

from __future__ import annotations

import numpy as np
import pytest

from plugread.engine import Engine
from plugread.errors import CaseError
from plugread.reading.join import ECHO_AFTER_PHOTO, join
from plugread.records import EngineSpec, Evidence, PlugEntry, Reading
from plugread.rules.load import load_rules

RULES = load_rules()
FOUR = Engine(EngineSpec("inline", 4, (1, 3, 4, 2), "port_injection", "coil_on_plug", True))


def seen(*names: str, **fields: object) -> PlugEntry:
    return PlugEntry(1, seen=names, **fields)  # type: ignore[arg-type]


def photo(top: str | None, status: str = "read") -> Reading:
    likelihood = dict.fromkeys(RULES.looks, 0.05) | ({top: 1.0} if top else {})
    return Reading(status, None, likelihood, {}, top)  # type: ignore[arg-type]


def ticks(*entries: PlugEntry, **reads: Reading) -> Evidence:
    return join(FOUR, entries, {int(name[1:]): read for name, read in reads.items()}, RULES)


def test_what_is_not_named_was_not_looked_at() -> None:
    """One tick gives that finding and makes its opposites absent; all the rest stays unknown."""
    opposites = {(other, 1): False for other in RULES.findings["carbon_fouled"].excludes}
    assert ticks(seen("carbon_fouled")).findings == {("carbon_fouled", 1): True} | opposites


def test_normal_alone_means_nothing_else_is_there() -> None:
    """`normal` alone makes every other firing-end finding absent, and says nothing of the outside."""
    found = ticks(seen("normal")).findings
    firing_end = {one.id for one in RULES.findings.values() if one.kind == "firing_end"}
    assert {name for name, _ in found} == firing_end
    assert [name for (name, _), present in found.items() if present] == ["normal"]


def test_an_implied_finding_is_not_asked_twice() -> None:
    """A missing piece is a crack as well: ticking both gives one finding, so that it is not counted double."""
    found = ticks(seen("nose_piece_missing", "nose_cracked")).findings
    assert found[("nose_piece_missing", 1)] is True
    assert ("nose_cracked", 1) not in found


def test_an_excluded_finding_is_absent() -> None:
    """A white nose is not sooty."""
    assert ticks(seen("lean_white")).findings[("carbon_fouled", 1)] is False


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        (seen("normal", "oil_fouled"), "normal and oil_fouled cannot both be there"),
        (seen("worn", not_seen=("worn",)), "worn is given as seen and as not seen"),
        (seen("nose_piece_missing", not_seen=("nose_cracked",)), "nose_piece_missing means that nose_cracked is there"),
        (seen("sooty_black"), "'sooty_black' is not something a plug shows"),
        (seen("carbon_fould"), "did you mean carbon_fouled"),
        (seen("rough_idle"), "'rough_idle' is not something a plug shows"),
        (PlugEntry(7, seen=("worn",)), "cylinder 7: this engine has cylinders 1 to 4"),
    ],
)
def test_contradictions_are_refused(entry: PlugEntry, words: str) -> None:
    """Ticks that contradict each other, or name what does not exist, are refused in one line."""
    with pytest.raises(CaseError, match=words):
        ticks(entry)


def test_two_plugs_of_one_cylinder_are_refused() -> None:
    """Which of two plugs is meant cannot be known."""
    with pytest.raises(CaseError, match="cylinder 1 is given twice"):
        ticks(seen("worn"), seen("normal"))


def test_a_tick_before_the_photo_counts_in_full() -> None:
    """A tick given before the photo's reading was shown is a finding beside the photo."""
    given = ticks(seen("carbon_fouled"), c1=photo("carbon_fouled"))
    assert given.findings["carbon_fouled", 1] is True
    assert given.looks[1] == photo("carbon_fouled").likelihood


def test_an_echo_only_weighs_on_the_photo() -> None:
    """A tick that repeats the photo leaves no finding; other looks keep 0.6 of their likelihood."""
    given = ticks(seen("carbon_fouled", tick_after_photo=True), c1=photo("carbon_fouled"))
    assert ("carbon_fouled", 1) not in given.findings
    assert given.looks[1]["carbon_fouled"] == 1.0
    assert given.looks[1]["worn"] == pytest.approx(0.05 * ECHO_AFTER_PHOTO)


def test_disagreement_counts_in_full() -> None:
    """A tick that differs from the photo stays a finding."""
    assert ticks(seen("worn", tick_after_photo=True), c1=photo("carbon_fouled")).findings[("worn", 1)] is True


def test_echo_is_the_published_mixture() -> None:
    """P(tick | image, truth) = r [tick = image] + (1 - r) [tick = truth], up to a constant, for every look at once."""
    looks = ticks(seen("worn", tick_after_photo=True), c1=photo("worn")).looks[1]
    plain = photo("worn").likelihood
    model = {look: plain[look] * (ECHO_AFTER_PHOTO + (1 - ECHO_AFTER_PHOTO) * (look == "worn")) for look in plain}
    assert np.allclose(list(looks.values()), list(model.values()))


def test_outside_findings_are_no_echo() -> None:
    """What a photo of the firing end cannot show was looked at by eye."""
    assert ticks(seen("oil_in_well", tick_after_photo=True), c1=photo("worn")).findings == {("oil_in_well", 1): True}


@pytest.mark.parametrize("status", ["read", "unsure"])
def test_a_photo_without_top_was_nothing_to_repeat(status: str) -> None:
    """Where the photo named no reading, later ticks count in full."""
    assert ticks(seen("worn", tick_after_photo=True), c1=photo(None, status)).findings == {("worn", 1): True}


def test_refused_photos_say_nothing() -> None:
    """A refused photo leaves no looks."""
    assert ticks(c1=Reading("refused", "blurred", {}, {}, None)).looks == {}
