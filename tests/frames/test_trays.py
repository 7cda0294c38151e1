"""Which folders below a root are trays of one season, whose photos are whose, and what is said where there is none."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from sproutlapse.errors import PhotosError
from sproutlapse.frames.find import photos
from sproutlapse.frames.trays import Found, none_found, trays_below

links = pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")


def put(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"x")


def told(found: Found) -> dict[str, int]:
    return {tray.name: tray.photos for tray in found.trays}


def test_a_tray_is_a_folder_of_photos_that_says_what_stands_there(tmp_path: Path) -> None:
    put(tmp_path, "left/tray.toml", "left/a.jpg", "left/b.JPG", "left/notes.txt", "right/tray.toml", "right/a.jpg")
    assert told(trays_below(tmp_path)) == {"left": 2, "right": 1}


def test_trays_come_in_the_order_a_person_counts_them(tmp_path: Path) -> None:
    put(tmp_path, *(f"tray {n}/{name}" for n in (10, 2, 1) for name in ("tray.toml", "a.jpg")))
    assert list(told(trays_below(tmp_path))) == ["tray 1", "tray 2", "tray 10"]


def test_photos_in_subfolders_count_for_the_nearest_tray_above_them(tmp_path: Path) -> None:
    put(tmp_path, "shelf/tray.toml", "shelf/100CAM/a.jpg", "shelf/101CAM/b.jpg")
    put(tmp_path, "shelf/window/tray.toml", "shelf/window/100CAM/c.jpg")
    assert told(trays_below(tmp_path)) == {"shelf": 2, "shelf/window": 1}
    # A run of one folder alone counts in the same way.
    assert [photo.frame for photo in photos(tmp_path / "shelf")] == ["100CAM/a.jpg", "101CAM/b.jpg"]
    assert [photo.frame for photo in photos(tmp_path / "shelf" / "window")] == ["100CAM/c.jpg"]


def test_a_tray_toml_deep_in_a_folder_without_one_takes_no_photos_away_from_it(tmp_path: Path) -> None:
    put(tmp_path, "a.jpg", "100CAM/b.jpg", "100CAM/tray.toml")
    assert [photo.frame for photo in photos(tmp_path)] == ["100CAM/b.jpg", "a.jpg"]


def test_two_trays_of_one_name_are_told_apart_by_their_folders(tmp_path: Path) -> None:
    put(tmp_path, *(f"{room}/peppers/{name}" for room in ("attic", "cellar") for name in ("tray.toml", "a.jpg")))
    assert list(told(trays_below(tmp_path))) == ["attic/peppers", "cellar/peppers"]


def test_the_root_may_be_a_tray_itself_beside_one_of_its_own_name(tmp_path: Path) -> None:
    root = tmp_path / "peppers"
    put(root, "tray.toml", "a.jpg", "peppers/tray.toml", "peppers/b.jpg", "peppers/c.jpg")
    assert told(trays_below(root)) == {"peppers": 2, "peppers itself": 1}


def test_results_hidden_folders_and_drawn_rulers_are_passed_over(tmp_path: Path) -> None:
    put(tmp_path, "left/tray.toml", "left/a.jpg", ".trash/old/tray.toml", ".trash/old/a.jpg", "left/._a.jpg")
    put(tmp_path, "left-results/store.sqlite", "left-results/tray.toml", "left-results/film.jpg")
    put(tmp_path, "left-results/deep/tray.toml", "left-results/deep/a.jpg")
    put(tmp_path, "left-tray/tray.toml", "left-tray/tray.png")
    found = trays_below(tmp_path)
    assert (told(found), found.untold, found.bare) == ({"left": 1}, (), ())


def test_the_folder_that_all_results_go_to_is_not_searched(tmp_path: Path) -> None:
    put(tmp_path, "left/tray.toml", "left/a.jpg", "out/old/tray.toml", "out/old/a.jpg")
    assert told(trays_below(tmp_path, but=tmp_path / "out")) == {"left": 1}
    assert told(trays_below(tmp_path, but=tmp_path)) == {"left": 1, "out/old": 1}


def test_photos_without_a_tray_and_trays_without_photos_are_named(tmp_path: Path) -> None:
    put(tmp_path, "left/tray.toml", "left/a.jpg", "new/tray.toml", "loose/a.jpg", "loose/b.jpg")
    found = trays_below(tmp_path)
    assert (found.untold, found.bare) == ((("loose", 2),), ("new",))


@links
def test_links_in_a_circle_end_and_a_tray_counts_once_under_its_own_path(tmp_path: Path) -> None:
    put(tmp_path, "shelf/tray.toml", "shelf/a.jpg")
    (tmp_path / "shelf" / "back").symlink_to(tmp_path, target_is_directory=True)
    (tmp_path / "again").symlink_to(tmp_path / "shelf", target_is_directory=True)
    (tmp_path / "self").symlink_to(tmp_path / "self", target_is_directory=True)
    assert told(trays_below(tmp_path)) == {"shelf": 1}


@links
def test_a_link_to_a_tray_elsewhere_is_followed(tmp_path: Path) -> None:
    put(tmp_path / "camera", "tray.toml", "a.jpg")
    (tmp_path / "season").mkdir()
    (tmp_path / "season" / "cellar").symlink_to(tmp_path / "camera", target_is_directory=True)
    assert told(trays_below(tmp_path / "season")) == {"cellar": 1}


def test_hundreds_of_folders_are_searched_at_once(tmp_path: Path) -> None:
    put(tmp_path, *(f"room {n // 20}/tray {n}/{name}" for n in range(300) for name in ("tray.toml", "a.jpg")))
    assert len(trays_below(tmp_path).trays) == 300


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="rights bind neither here nor for the superuser"
)
def test_a_folder_that_must_not_be_read_ends_nothing(tmp_path: Path) -> None:
    put(tmp_path, "left/tray.toml", "left/a.jpg")
    (tmp_path / "locked").mkdir(mode=0)
    found = trays_below(tmp_path)
    assert told(found) == {"left": 1}
    assert [name for name, _why in found.closed] == ["locked"]


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["left/a.jpg", "right/b.jpg"], r"photos without one: left \(1\), right \(1\)[\s\S]*sproutlapse tray"),
        (["left/tray.toml"], r"no photo yet[\s\S]*left"),
        (["left/notes.txt"], r"no folder here holds photos and a tray\.toml[\s\S]*name the folder above"),
    ],
)
def test_a_root_without_any_tray_is_told_with_what_to_do(names: list[str], said: str, tmp_path: Path) -> None:
    put(tmp_path, *names)
    error = none_found(tmp_path, trays_below(tmp_path))
    assert isinstance(error, PhotosError)
    with pytest.raises(PhotosError, match=said):
        raise error


def test_a_missing_root_is_said_with_its_neighbours(tmp_path: Path) -> None:
    (tmp_path / "season").mkdir()
    with pytest.raises(PhotosError, match=r"no such folder[\s\S]*season"):
        trays_below(tmp_path / "seson")
