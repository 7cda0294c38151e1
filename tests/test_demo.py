"""The example that comes with the package."""

import pytest

from sproutlapse.demo import fixture_folder, write_demo
from sproutlapse.errors import PhotosError


def test_the_example_is_copied_byte_for_byte_with_its_times(tmp_path):
    target = write_demo(tmp_path / "a new place")
    source = fixture_folder()
    assert sorted(p.name for p in target.iterdir()) == sorted(p.name for p in source.iterdir())
    for path in source.iterdir():
        copy = target / path.name
        assert copy.read_bytes() == path.read_bytes()
        assert copy.stat().st_mtime == pytest.approx(path.stat().st_mtime, abs=2)
    assert [p.name for p in target.parent.iterdir()] == ["photos"]


def test_a_second_time_keeps_what_was_corrected(tmp_path):
    tray = write_demo(tmp_path) / "tray.toml"
    tray.write_text("# mine\n", encoding="utf-8")
    (tray.parent / "Thumbs.db").touch()
    write_demo(tmp_path)
    assert tray.read_text(encoding="utf-8") == "# mine\n"


def test_a_folder_with_other_photos_is_left_alone(tmp_path):
    photos = tmp_path / "photos"
    photos.mkdir()
    (photos / "holiday.jpg").touch()
    with pytest.raises(PhotosError, match=r"holiday\.jpg"):
        write_demo(tmp_path)
    assert [p.name for p in photos.iterdir()] == ["holiday.jpg"]


def test_a_file_in_the_way(tmp_path):
    (tmp_path / "there").touch()
    with pytest.raises(PhotosError, match="is a file"):
        write_demo(tmp_path / "there")


def test_the_example_stays_small():
    fixtures = fixture_folder().parents[1]
    assert sum(path.stat().st_size for path in fixtures.rglob("*") if path.is_file()) < 12e6
