"""Confirmed photos kept as lessons: a folder the learner reads, one reading a plug, nothing lost on a full disk."""

from __future__ import annotations

from pathlib import Path

import pytest

from plugread.errors import StoreError
from plugread.notebook.taught import Kept, Taught
from plugread.reading.training.lessons import find_lessons

READINGS = ("normal", "carbon_fouled", "oil_fouled")


@pytest.fixture
def taught(tmp_path: Path) -> Taught:
    return Taught(tmp_path)


def keep(taught: Taught, reading: str, plug: str, digest: str = "a" * 32, **other: object) -> None:
    known = {"data": b"bytes of " + digest.encode(), "name": "p.jpg", "light": "visit", "nose": None} | other
    taught.keep(reading, plug, digest, **known)  # type: ignore[arg-type]


def test_nothing_kept_is_nothing(taught: Taught) -> None:
    """Before the first lesson there is nothing, and asking makes no folder."""
    assert taught.counts() == {} and taught.reading_of("v-c1", "a" * 32) is None
    assert not taught.photos.exists()


def test_what_is_kept_the_learner_finds(taught: Taught) -> None:
    """The learner finds every photo with its reading, plug, light and nose, visit names with dashes included."""
    keep(taught, "carbon_fouled", "a-b_c-c3", "1" * 32, nose=(1, 2, 30, 40))
    keep(taught, "normal", "-x-c1", "2" * 32, name="p.PNG")
    found = find_lessons(taught.photos, READINGS)
    assert found.passed_over == ()
    assert [(one.reading, one.plug, one.light, one.nose) for one in found.photos] == [
        ("carbon_fouled", "a-b_c-c3", "visit", (1, 2, 30, 40)),
        ("normal", "-x-c1", "visit", None),
    ]
    assert found.photos[0].path.read_bytes() == b"bytes of " + b"1" * 32
    assert found.photos[1].path.suffix == ".png"


def test_a_plug_has_one_reading(taught: Taught) -> None:
    """Confirming another reading takes all photos of the plug with it, and what is known of them."""
    keep(taught, "normal", "v-c1", "1" * 32, nose=(1, 2, 3, 4))
    keep(taught, "normal", "v-c2", "2" * 32)
    keep(taught, "oil_fouled", "v-c1", "3" * 32)
    found = find_lessons(taught.photos, READINGS)
    assert found.passed_over == ()
    assert [(one.reading, one.plug, one.nose) for one in found.photos] == [
        ("normal", "v-c2", None),
        ("oil_fouled", "v-c1", (1, 2, 3, 4)),
        ("oil_fouled", "v-c1", None),
    ]


def test_a_photo_kept_twice_is_kept_once(taught: Taught) -> None:
    """The same photo of the same plug is one lesson."""
    for _ in range(2):
        keep(taught, "normal", "v-c1")
    assert taught.counts() == {"normal": Kept(1, 1)}


def test_counts_tell_photos_and_plugs(taught: Taught) -> None:
    """Two shots of one plug and one of another are three photos of two plugs."""
    for plug, digest in (("v-c1", "1" * 32), ("v-c1", "2" * 32), ("v-c2", "3" * 32)):
        keep(taught, "normal", plug, digest)
    assert taught.counts() == {"normal": Kept(3, 2)}


def test_a_forgotten_plug_is_gone(taught: Taught) -> None:
    """Forgetting a plug takes its photos and their rows out, and no others."""
    keep(taught, "normal", "v-c1")
    keep(taught, "normal", "v-c11", "1" * 32)
    taught.forget("v-c1")
    assert taught.reading_of("v-c1", "a" * 32) is None
    assert taught.reading_of("v-c11", "1" * 32) == "normal"
    assert "v-c1-" not in (taught.photos / "normal" / "groups.csv").read_text()


def test_the_model_in_use_is_a_copy(taught: Taught) -> None:
    """Learning again does not change what reads now, until that is asked for."""
    taught.learned.mkdir(parents=True)
    (taught.learned / "card.json").write_text("one")
    taught.use_learned()
    (taught.learned / "card.json").write_text("two")
    assert (taught.used / "card.json").read_text() == "one"
    taught.use_learned()
    assert (taught.used / "card.json").read_text() == "two"
    taught.stop_using()
    assert not taught.used.exists()


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """A file in the place of the folder is told in one line."""
    (tmp_path / "taught").write_text("a file")
    with pytest.raises(StoreError, match=r"the folder of lessons .* cannot be used"):
        keep(Taught(tmp_path), "normal", "v-c1")


def test_a_full_disk_keeps_the_lessons_there_were(taught: Taught, monkeypatch: pytest.MonkeyPatch) -> None:
    """A photo that does not fit is told; what was kept can still be learned from."""
    keep(taught, "normal", "v-c1")

    def full(self: Path, data: bytes) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(StoreError, match="No space left on device"):
        keep(taught, "normal", "v-c2", "1" * 32)
    assert [one.plug for one in find_lessons(taught.photos, READINGS).photos] == ["v-c1"]
