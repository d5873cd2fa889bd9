"""The list of sample pictures: complete, without twins, refused when it cannot be."""

from __future__ import annotations

import tarfile

import pytest

from sample_images.render import sample_set
from sample_images.render.plug.spec import READINGS
from sample_images.render.sample_set import SampleSetError, Shot, pack, shots


@pytest.fixture(scope="module")
def listed():
    """All pictures of the list."""
    return shots()


def test_every_reading_that_shows_on_a_plug_has_two_pictures(listed):
    """Each reading the generator draws stands in two pictures or more of single plugs."""
    single = [s.row["plugs"][0]["readings"] for s in listed if s.file.startswith("readings/")]
    few = [r for r in READINGS if sum(r in readings for readings in single) < 2]
    assert not few


def test_every_engine_has_a_photo_a_cylinder_and_one_row(listed):
    """Engines have four, four, six and eight single photos, and a row."""
    count = {
        f: sum(s.file.startswith(f + "/c") for s in listed)
        for f in ("engine_healthy", "engine_one_odd", "engine_shared_six", "engine_shared_eight")
    }
    assert list(count.values()) == [4, 4, 6, 8]
    assert all(any(s.file == f"{f}/row" for s in listed) for f in count)


def test_ten_pictures_show_no_plug(listed):
    """Ten foreign subjects are there to be refused."""
    assert sum(s.file.startswith("no_plug/") for s in listed) == 10


def test_every_picture_can_be_asked_for(listed):
    """No row of the list asks for a scene or plug that is refused."""
    for shot in listed:
        assert sample_set.request_of(shot, (64, 48)).seed == shot.seed


def test_pictures_of_one_engine_share_their_setting(listed):
    """Table, light and lens of an engine's pictures come from one setting seed."""
    for folder in ("engine_healthy", "engine_shared_eight"):
        settings = {(s.row["setting_seed"], s.row["light"], s.row["background"]) for s in listed if s.file.startswith(folder)}
        assert len(settings) == 1


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[[picture]]\nfile="a"\nseed=30000001\n[[picture]]\nfile="a"\nseed=30000002\n', "file 'a' stands twice"),
        ('[[picture]]\nfile="a"\nseed=30000001\n[[picture]]\nfile="b"\nseed=30000001\n', "seed 30000001 stands twice"),
        ('[[picture]]\nfile="a"\nseed=5\n', "seed 5 of a is not of the split 'sample'"),
    ],
)
def test_faulty_lists_are_refused(text, message):
    """Twins and borrowed seeds are refused in one line."""
    with pytest.raises(SampleSetError, match=message):
        shots(text)


def test_packed_parts_hold_every_file(tmp_path, monkeypatch):
    """All files come back out of the tar parts, none of which is over its limit."""
    monkeypatch.setattr(sample_set, "MOST_PACKED", 5000)
    listed = [Shot(f"x{k}", {"seed": 30000001 + k}) for k in range(4)]
    for shot in listed:
        (tmp_path / f"{shot.file}.jpg").write_bytes(bytes(1500))
    pack(tmp_path, listed, tmp_path / "parts")
    parts = sorted((tmp_path / "parts").glob("*.tar"))
    names = []
    for part in parts:
        with tarfile.open(part) as archive:
            names += archive.getnames()
    assert sorted(names) == [f"x{k}.jpg" for k in range(4)]
    assert len(parts) > 1
