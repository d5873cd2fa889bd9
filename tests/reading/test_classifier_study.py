"""Measured photos in groups: near-duplicates kept together, too few plugs left out, the widest grouping that can be checked."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from plugread.reading.portrait import Portrait
from plugread.reading.training.study import SAME_BITS, look_at, study, twins
from tests.reading.taught import THREE, lessons, measured, studied


def test_twins_are_pictures_that_differ_in_few_bits() -> None:
    """Photos whose fingerprints differ in at most `SAME_BITS` of 256 bits are twins; one bit more and they are not."""
    print_ = np.random.default_rng(1).random(256) < 0.5
    near, far = print_.copy(), print_.copy()
    near[:SAME_BITS] ^= True
    far[-SAME_BITS - 1 :] ^= True
    assert twins(np.array([print_, near, far])) == [(0, 1)]


def test_unreadable_photos_are_listed_and_skipped() -> None:
    """A photo that gave nothing is named with its reason, the others are learned from."""
    found = lessons({"normal": 3, "carbon_fouled": 3}, shots=1)
    seen = [measured(one.reading, one.plug) for one in found]
    seen[0] = Portrait(None, None, {}, None, "too dark")
    seen.append(measured("normal", "late"))
    learned = study([*found, replace(found[0], path=Path("normal/late-1.jpg"), plug="late")], seen)
    assert learned.passed_over == ("normal/normal0-0.jpg: too dark",)
    assert len(learned.x) == 6


def test_readings_of_fewer_than_three_plugs_are_not_evaluable() -> None:
    """Two plugs cannot be checked, however many photos they have; the reading is named with its count."""
    learned = studied({"normal": 4, "carbon_fouled": 3, "glazed": 2}, shots=5)
    assert learned.too_few == {"glazed": 2}
    assert set(learned.reading) == {"normal", "carbon_fouled"}


def test_a_picture_saved_three_times_is_one_plug() -> None:
    """Three names for one picture do not make a reading evaluable."""
    found = lessons({"normal": 4, "carbon_fouled": 3}, shots=1)
    seen = [measured(one.reading, "same" if one.reading == "carbon_fouled" else one.plug) for one in found]
    assert study(found, seen).too_few == {"carbon_fouled": 1}


def test_one_picture_under_two_readings_is_left_out() -> None:
    """A near-duplicate given two readings teaches nothing: both are left out and named."""
    found = lessons({"normal": 4, "carbon_fouled": 4}, shots=1)
    seen = [measured(one.reading, one.plug) for one in found]
    seen[4] = replace(seen[4], fingerprint=seen[0].fingerprint)
    learned = study(found, seen)
    assert learned.passed_over == (
        "normal/normal0-0.jpg: the same picture stands under carbon_fouled; left out",
        "carbon_fouled/carbon_fouled0-0.jpg: the same picture stands under normal; left out",
    )
    assert len(learned.x) == 6


def test_engines_are_kept_whole_where_there_are_enough() -> None:
    """With the engine told and three engines a reading, photos of one engine share a group."""
    learned = studied(THREE)
    assert learned.grouped_by == "engine"
    assert len(set(learned.group.tolist())) == max(THREE.values())


def test_plugs_are_kept_whole_where_engines_are_too_few() -> None:
    """All from one engine and one light: grouped by plug, shots together."""
    found = [replace(one, engine="mine") for one in lessons({"normal": 4, "carbon_fouled": 3})]
    learned = study(found, [measured(one.reading, one.plug, one.path.name) for one in found])
    assert learned.grouped_by == "plug"
    assert len(set(learned.group.tolist())) == 7


def test_one_engine_not_told_means_no_grouping_by_engine() -> None:
    """Grouping by a kind needs it told of every photo; then the light is next."""
    found = [replace(one, engine=None, light=one.engine) for one in lessons({"normal": 4, "carbon_fouled": 3})]
    assert study(found, [measured(one.reading, one.plug, one.path.name) for one in found]).grouped_by == "light"


def test_twins_of_two_plugs_share_a_group() -> None:
    """A picture saved under two plug names must not be learned from and checked on."""
    found = [replace(one, engine=None, light=None) for one in lessons({"normal": 5, "carbon_fouled": 4}, shots=1)]
    seen = [measured(one.reading, one.plug) for one in found]
    seen[1] = replace(seen[1], fingerprint=seen[0].fingerprint)
    learned = study(found, seen)
    assert learned.group[0] == learned.group[1]
    assert len(set(learned.group.tolist())) == 8


def test_photos_are_measured_in_order_and_counted() -> None:
    """Portraits come back in the order of the lessons, and progress counts every photo once."""
    found, told = lessons({"normal": 3, "carbon_fouled": 3}), []
    seen = look_at(
        found,
        lambda path, _: Portrait(None, None, {}, None, path.name),
        jobs=2,
        progress=lambda done, of: told.append((done, of)),
    )
    assert [one.why for one in seen] == [one.path.name for one in found]
    assert told == [(k + 1, len(found)) for k in range(len(found))]
