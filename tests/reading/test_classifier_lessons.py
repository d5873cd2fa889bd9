"""The folder of confirmed photos: readings, plugs, groups, and everything that must be passed over with a word."""

from __future__ import annotations

from pathlib import Path

import pytest

from plugread.errors import ModelError
from plugread.reading.training.lessons import find_lessons, plug_of

KNOWN = ("normal", "carbon_fouled", "oil_fouled")


def photo(folder: Path, name: str) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(b"a photo")
    return path


def test_folder_is_the_reading_and_the_name_gives_the_plug(tmp_path: Path) -> None:
    """PLUG-SHOT.jpg under a reading's folder is a lesson of that plug; other files are no photos."""
    for name in ("normal/a-1.jpg", "normal/a-2.JPG", "carbon_fouled/b.png", "normal/notes.txt", "readme.txt"):
        photo(tmp_path, name)
    found = find_lessons(tmp_path, KNOWN)
    assert [(one.reading, one.plug) for one in found.photos] == [("carbon_fouled", "b"), ("normal", "a"), ("normal", "a")]
    assert found.passed_over == ()


@pytest.mark.parametrize(
    ("stem", "plug"), [("four-c3-1", "four-c3"), ("four", "four"), ("-1", "-1"), ("four-", "four-"), ("a-b", "a")]
)
def test_plug_is_the_name_up_to_the_last_dash(stem: str, plug: str) -> None:
    """A name without a plug or a shot stands for itself."""
    assert plug_of(stem) == plug


def test_a_mislabelled_folder_is_told_with_the_nearest_reading(tmp_path: Path) -> None:
    """A folder that is no reading is passed over, and the nearest id is offered."""
    photo(tmp_path, "Carbon fouled/a-1.jpg")
    photo(tmp_path, "normal/b-1.jpg")
    found = find_lessons(tmp_path, KNOWN)
    assert [one.plug for one in found.photos] == ["b"]
    assert found.passed_over == (
        "folder 'Carbon fouled' is no reading that a photo of the firing end shows; did you mean carbon_fouled?",
    )


def test_a_folder_like_no_reading_gets_no_suggestion(tmp_path: Path) -> None:
    """Nothing is offered for a name near to none."""
    photo(tmp_path, "zzz/a-1.jpg")
    assert find_lessons(tmp_path, KNOWN).passed_over == ("folder 'zzz' is no reading that a photo of the firing end shows",)


def test_an_empty_class_is_told(tmp_path: Path) -> None:
    """A reading's folder without photos is listed."""
    photo(tmp_path, "normal/b-1.jpg")
    (tmp_path / "oil_fouled").mkdir()
    assert find_lessons(tmp_path, KNOWN).passed_over == ("oil_fouled: no photos",)


def test_contradictory_labels_of_one_plug_are_left_out(tmp_path: Path) -> None:
    """All photos of a plug that stands under two readings are left out, with one line."""
    for name in ("normal/a-1.jpg", "carbon_fouled/a-2.jpg", "normal/b-1.jpg"):
        photo(tmp_path, name)
    found = find_lessons(tmp_path, KNOWN)
    assert [one.plug for one in found.photos] == ["b"]
    assert len(found.passed_over) == 1 and "plug 'a' stands under carbon_fouled and normal" in found.passed_over[0]


def test_plugs_of_two_engines_may_share_a_name(tmp_path: Path) -> None:
    """With the engine told, cylinder 1 of one engine does not contradict cylinder 1 of another."""
    photo(tmp_path, "normal/c1-1.jpg")
    photo(tmp_path, "carbon_fouled/c1-1.jpg")
    (tmp_path / "groups.csv").write_text("file,engine\nnormal/c1-1.jpg,four\ncarbon_fouled/c1-1.jpg,six\n")
    found = find_lessons(tmp_path, KNOWN)
    assert [(one.plug, one.engine) for one in found.photos] == [("six/c1", "six"), ("four/c1", "four")]
    assert found.passed_over == ()


def test_groups_file_tells_plug_light_and_nose(tmp_path: Path) -> None:
    """A groups.csv beside the photos may name plug, light and nose box; what it leaves out comes from the file name."""
    photo(tmp_path, "normal/x1.jpg")
    photo(tmp_path, "normal/y-1.jpg")
    (tmp_path / "normal/groups.csv").write_text("file,plug,light,nose\nx1.jpg,mine,shed,10 20 30 40\n", encoding="utf-8-sig")
    one, other = find_lessons(tmp_path, KNOWN).photos
    assert (one.plug, one.light, one.nose) == ("mine", "shed", (10, 20, 30, 40))
    assert (other.plug, other.light, other.nose) == ("y", None, None)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("file,plgu\na.jpg,b\n", "unknown column 'plgu'"),
        ("plug,light\nb,shed\n", "no column 'file'"),
        ("file,nose\na.jpg,1 2 3\n", "nose '1 2 3' is not a box"),
        ("file,nose\na.jpg,here\n", "nose 'here' is not a box"),
        ("file,plug\na.jpg,b,c,d\n", "unknown column 'None'"),
    ],
)
def test_a_groups_file_that_cannot_be_understood_is_refused(tmp_path: Path, content: str, told: str) -> None:
    """A fault in groups.csv stops with the fault named: nobody wants a column silently ignored."""
    photo(tmp_path, "normal/a.jpg")
    (tmp_path / "normal/groups.csv").write_text(content)
    with pytest.raises(ModelError, match=told):
        find_lessons(tmp_path, KNOWN)


def test_a_groups_file_in_another_encoding_is_refused(tmp_path: Path) -> None:
    """Bytes that are no UTF-8 are told, with the columns to write."""
    photo(tmp_path, "normal/a.jpg")
    (tmp_path / "normal/groups.csv").write_bytes(b"file,plug\na.jpg,\xff\xfe\n")
    with pytest.raises(ModelError, match=r"cannot be read.*write a CSV with columns"):
        find_lessons(tmp_path, KNOWN)


def test_no_folder_is_told(tmp_path: Path) -> None:
    """A folder that is not there is named."""
    with pytest.raises(ModelError, match=r"no folder .*none"):
        find_lessons(tmp_path / "none", KNOWN)
