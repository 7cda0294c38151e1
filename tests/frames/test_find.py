"""Which files count as photos, in which order, and what is said when there are none."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from sproutlapse.errors import PhotosError
from sproutlapse.frames.find import frame_of, number_of, path_of, photos


def put(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"x")


def frames(folder: Path) -> list[str]:
    return [photo.frame for photo in photos(folder)]


def test_photos_come_in_natural_order_over_the_cameras_folders(tmp_path: Path) -> None:
    put(tmp_path, "101CAM/IMG_1000.JPG", "100CAM/IMG_0999.JPG", "100CAM/IMG_2.jpg", "100CAM/IMG_10.jpg")
    assert frames(tmp_path) == ["100CAM/IMG_2.jpg", "100CAM/IMG_10.jpg", "100CAM/IMG_0999.JPG", "101CAM/IMG_1000.JPG"]


@pytest.mark.parametrize(
    "ending", ["JPG", "jpeg", "jpe", "PNG", "tif", "TIFF", "webp", "HEIC", "heif", "dng", "CR3", "nef"]
)
def test_every_usual_ending_of_a_picture_counts_in_capitals_too(tmp_path: Path, ending: str) -> None:
    put(tmp_path, f"a.{ending}", "notes.txt")
    assert frames(tmp_path) == [f"a.{ending}"]


def test_hidden_files_and_folders_are_passed_over(tmp_path: Path) -> None:
    put(tmp_path, "a.jpg", "._a.jpg", ".hidden.jpg", ".thumbs/b.jpg")
    assert frames(tmp_path) == ["a.jpg"]


def test_a_folder_of_results_inside_is_never_searched(tmp_path: Path) -> None:
    put(tmp_path, "a.jpg", "out/store.sqlite", "out/charts/b.png", "other/c.png")
    assert frames(tmp_path) == ["a.jpg", "other/c.png"]


def test_a_folder_of_results_is_no_photo_folder(tmp_path: Path) -> None:
    put(tmp_path, "store.sqlite", "charts/b.png")
    with pytest.raises(PhotosError, match="holds results"):
        photos(tmp_path)


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_links_in_a_circle_end_and_count_once(tmp_path: Path) -> None:
    put(tmp_path, "in/a.jpg")
    (tmp_path / "in" / "back").symlink_to(tmp_path, target_is_directory=True)
    (tmp_path / "gone.jpg").symlink_to(tmp_path / "nowhere.jpg")
    assert frames(tmp_path) == ["in/a.jpg"]


def test_size_and_time_of_the_file_are_kept(tmp_path: Path) -> None:
    put(tmp_path, "a.jpg")
    os.utime(tmp_path / "a.jpg", ns=(5_000_000_000, 7_000_000_000))
    (only,) = photos(tmp_path)
    assert (only.size_bytes, only.mtime_ns, only.path) == (1, 7_000_000_000, tmp_path / "a.jpg")


def test_a_missing_folder_is_said_with_its_neighbours(tmp_path: Path) -> None:
    (tmp_path / "peppers").mkdir()
    with pytest.raises(PhotosError, match=r"no such folder[\s\S]*peppers"):
        photos(tmp_path / "pepers")


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    put(tmp_path, "a.jpg")
    with pytest.raises(PhotosError, match="this is a file"):
        photos(tmp_path / "a.jpg")


def test_without_a_picture_the_endings_found_and_looked_for_are_said(tmp_path: Path) -> None:
    put(tmp_path, "a.mp4", "b.mp4", "README")
    with pytest.raises(PhotosError, match=r"\.mp4 \(2\), no ending \(1\)[\s\S]*jpg, jpeg"):
        photos(tmp_path)


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="rights bind neither here nor for the superuser"
)
def test_a_folder_without_permission_is_said(tmp_path: Path) -> None:
    (tmp_path / "locked").mkdir(mode=0)
    with pytest.raises(PhotosError, match="permission"):
        photos(tmp_path / "locked")


@pytest.mark.parametrize(
    ("frame", "number"), [("IMG_0042.JPG", 42), ("100A/DSC00007.jpg", 7), ("last.png", None), ("a1/b.jpg", None)]
)
def test_the_number_is_the_one_at_the_names_end(frame: str, number: int | None) -> None:
    assert number_of(frame) == number


@pytest.mark.skipif(sys.platform == "win32", reason="no such files there")
def test_links_to_themselves_pipes_and_devices_are_no_photos(tmp_path: Path) -> None:
    put(tmp_path, "a.jpg", "lost+found/b.jpg")
    (tmp_path / "loop.jpg").symlink_to(tmp_path / "loop.jpg")
    (tmp_path / "without end.jpg").symlink_to("/dev/zero")
    os.mkfifo(tmp_path / "pipe.jpg")
    assert frames(tmp_path) == ["a.jpg"]


@pytest.mark.skipif(sys.platform != "linux", reason="other systems allow no such names")
def test_names_that_are_not_utf_8_are_shown_and_found_again(tmp_path: Path) -> None:
    name = os.fsdecode(b"K\xfcche/Bl\xe4tter \xc3\xbc.jpg")
    put(tmp_path, name, "a.jpg", "b\\xe4.jpg", os.fsdecode(b"b\xe4.jpg"))
    found = {photo.frame: photo.path for photo in photos(tmp_path)}
    assert set(found) == {"a.jpg", "K\\xfcche/Bl\\xe4tter ü.jpg", "b\\xe4.jpg", "b\\xe4.jpg.jpg"}
    assert path_of(tmp_path, "K\\xfcche/Bl\\xe4tter ü.jpg") == tmp_path / name
    assert path_of(tmp_path, "b\\xe4.jpg") == tmp_path / "b\\xe4.jpg"
    frame_of(name).encode("utf-8")


def test_a_folder_above_several_trays_is_not_taken_for_one(tmp_path: Path):
    for name in ("left", "right"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "a.jpg").write_bytes(b"x")
        (tmp_path / name / "tray.toml").write_text("", "utf-8")
    with pytest.raises(PhotosError, match="left, right") as told:
        photos(tmp_path)
    assert f"run --all {tmp_path}" in told.value.remedy
    (tmp_path / "right" / "tray.toml").unlink()
    assert len(photos(tmp_path)) == 2
