"""The notebook keeps every change, tells of two writers, and says plainly when it cannot be used."""

from __future__ import annotations

import sqlite3
import threading
from dataclasses import replace
from pathlib import Path

import pytest

from plugread.casefile import load_case
from plugread.errors import StoreError
from plugread.notebook import draft as drafts
from plugread.notebook.draft import Draft
from plugread.notebook.engines import presets, usual
from plugread.notebook.samples import draft_of_case, sample_names
from plugread.notebook.store import Store, default_path, digest_of, new_id
from plugread.records import CheckEntry

BLANK = Draft(usual())


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "deep" / "notebook.sqlite")


def test_an_unknown_visit_is_none(store: Store) -> None:
    """Looking for a visit makes no file and finds nothing."""
    assert store.find("x") is None
    assert not store.path.exists()


def test_every_change_is_there_for_the_next_reader(store: Store) -> None:
    """A change is on disk as soon as it is made."""
    store.change("v", lambda d: replace(d, picked=3), "tab", BLANK)
    kept = Store(store.path).find("v")
    assert kept is not None and (kept.draft.picked, kept.revision, kept.writer) == (3, 1, "tab")


def test_two_writers_lose_nothing_of_each_other(store: Store) -> None:
    """Changes to different things by two writers are both kept; the revision counts both."""
    store.change("v", lambda d: drafts.record(d, CheckEntry("swap_plug", 1, "moved")), "a", BLANK)
    kept = store.change("v", lambda d: drafts.gauge(d, 2, 0.9), "b", BLANK)
    assert (len(kept.draft.checks), kept.draft.entry(2).gap_mm, kept.revision) == (1, 0.9, 2)


def test_many_writers_at_once(store: Store) -> None:
    """Forty changes from eight threads are all kept."""

    def write(k: int) -> None:
        for n in range(5):
            token = f"{k}.{n}"
            store.change("v", lambda d, token=token: drafts.took(d, token), str(k), BLANK)

    threads = [threading.Thread(target=write, args=(k,)) for k in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    kept = store.find("v")
    assert kept is not None and kept.revision == 40 and len(set(kept.draft.received)) == 40


def test_the_last_engine_is_remembered_but_not_a_sample(store: Store) -> None:
    """The engine of the last visit of one's own comes back; sample engines do not count."""
    store.start("mine", Draft(presets()["Flat four, injection, shared coils"]), "tab")
    store.start("sample", replace(BLANK, sample="engine_healthy"), "tab")
    last = store.last()
    assert last is not None and last.draft.engine.layout == "flat"


def test_photos_are_kept_once(store: Store) -> None:
    """The same bytes have the same name and come back as they were."""
    assert store.keep_photo(b"abc") == store.keep_photo(b"abc") == digest_of(b"abc")
    assert store.photo(digest_of(b"abc")) == b"abc"


def test_a_missing_photo_is_told(store: Store) -> None:
    """Asking for a photo that was never kept says so and what to do."""
    store.keep_photo(b"abc")
    with pytest.raises(StoreError, match="is not in the notebook; take it again"):
        store.photo("0" * 32)


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    """A file where the folder should be gives one line that names it."""
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="cannot be used"):
        Store(tmp_path / "file" / "notebook.sqlite").keep_photo(b"abc")


def test_a_damaged_file_is_told(tmp_path: Path) -> None:
    """A file that is no data base gives one line, not a trace."""
    path = tmp_path / "notebook.sqlite"
    path.write_bytes(b"this is not a data base, only some text that is long enough" * 20)
    with pytest.raises(StoreError, match="cannot be used"):
        Store(path).find("v")


def test_a_damaged_visit_is_told(store: Store) -> None:
    """A visit whose text cannot be understood is named; other visits are not touched."""
    store.start("good", BLANK, "tab")
    with sqlite3.connect(store.path) as db:
        db.execute("INSERT INTO visit VALUES ('bad', 1, 't', '', '{}')")
    db.close()
    with pytest.raises(StoreError, match="visit bad"):
        store.find("bad")
    assert store.find("good") is not None


def test_ids_do_not_repeat() -> None:
    """A thousand new visits have a thousand names, in letters and digits that an address and a key take as they are."""
    names = {new_id() for _ in range(1000)}
    assert len(names) == 1000
    assert all(name.isalnum() for name in names)


def test_home_can_be_moved(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """PLUGREAD_HOME says where the notebook lies."""
    monkeypatch.setenv("PLUGREAD_HOME", str(tmp_path))
    assert default_path() == tmp_path / "notebook.sqlite"


def test_a_case_file_becomes_a_draft(tmp_path: Path) -> None:
    """A case with photos, ticks and a line-up opens as a visit whose readings are shown at once."""
    folder = tmp_path / "engine_x"
    folder.mkdir()
    for name in ("c1.jpg", "row.jpg"):
        (folder / name).write_bytes(name.encode())
    (folder / "case.toml").write_text(
        '[engine]\nlayout="inline"\ncylinders=2\nfiring_order=[1,2]\ninduction="carburettor"\nignition="magneto"\n'
        '[lineup]\nphoto="row.jpg"\ncylinders=[2,1]\n[[plug]]\ncylinder=1\nphoto="c1.jpg"\nseen=["worn"]\n'
    )
    draft, photos = draft_of_case(load_case(folder / "case.toml"), "engine_x")
    assert sample_names(tmp_path) == ("engine_x",)
    assert draft.shown and draft.row is not None and draft.row.cylinders == (2, 1)
    assert (draft.entry(1).seen, draft.shots[0].cylinder, set(photos.values())) == (("worn",), 1, {b"c1.jpg", b"row.jpg"})
