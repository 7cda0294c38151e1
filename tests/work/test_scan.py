"""The folder read: each file once, copies named, all in camera order."""

import os
import shutil
from pathlib import Path

import pytest
from shelf_photos import FEW

from sproutlapse.errors import PhotosError
from sproutlapse.frames.decode import MOST_BYTES
from sproutlapse.frames.find import photos
from sproutlapse.work.scan import scan


def nothing() -> None:
    pass


def test_photos_come_in_the_order_of_their_exif_times_whatever_their_names(shelf: Path):
    for letter, name in zip("kjihgfedcba", FEW, strict=True):
        (shelf / name).rename(shelf / f"{letter}.jpg")
    whole = scan(photos(shelf), {}, nothing)
    assert [photo.file.frame for photo in whole.photos] == [f"{letter}.jpg" for letter in "kjihgfedcba"]
    assert whole.photos[0].dated.taken.text == "2025-03-03T08:10:00"


LONG_AGO = 1_600_000_000_000_000_000  # ns


def aged(folder: Path) -> None:
    for path in folder.iterdir():
        os.utime(path, ns=(LONG_AGO, LONG_AGO))


def test_a_file_of_the_same_size_and_time_is_not_read_again(shelf: Path):
    aged(shelf)
    known = {one.frame: one for one in scan(photos(shelf), {}, nothing).scanned}
    changed = shelf / FEW[2]
    size, times = changed.stat().st_size, (changed.stat().st_atime_ns, changed.stat().st_mtime_ns)
    changed.write_bytes(b"x" * size)
    os.utime(changed, ns=times)
    assert scan(photos(shelf), known, nothing).scanned == tuple(known[name] for name in FEW)


def test_a_file_written_a_moment_ago_is_read_again(shelf: Path):
    """It may have been written to again since, and its disk may know no finer time."""
    aged(shelf)
    (shelf / FEW[2]).touch()
    known = {one.frame: one for one in scan(photos(shelf), {}, nothing).scanned}
    times = (shelf / FEW[2]).stat().st_mtime_ns
    (shelf / FEW[2]).write_bytes(b"x" * (shelf / FEW[2]).stat().st_size)
    os.utime(shelf / FEW[2], ns=(times, times))
    again = {one.frame: one for one in scan(photos(shelf), known, nothing).scanned}
    assert [name for name in FEW if again[name].digest != known[name].digest] == [FEW[2]]


def test_a_file_larger_than_any_photo_is_hashed_unread(shelf: Path):
    with (shelf / "film.tif").open("wb") as file:
        file.truncate(MOST_BYTES + 1)
    whole = {one.frame: one for one in scan(photos(shelf), {}, nothing).scanned}
    assert len(whole) == len(FEW) + 1


def test_a_file_that_was_replaced_is_read_again(shelf: Path):
    known = {one.frame: one for one in scan(photos(shelf), {}, nothing).scanned}
    shutil.copy(shelf / FEW[5], shelf / FEW[2])
    again = {one.frame: one for one in scan(photos(shelf), known, nothing).scanned}
    assert again[FEW[2]].digest == known[FEW[5]].digest


def test_a_copy_names_the_first_in_camera_order(shelf: Path):
    (shelf / "second folder").mkdir()
    shutil.copy2(shelf / FEW[2], shelf / "second folder" / FEW[2])
    copies = {photo.file.frame: photo.copy_of for photo in scan(photos(shelf), {}, nothing).photos if photo.copy_of}
    assert copies in ({f"second folder/{FEW[2]}": FEW[2]}, {FEW[2]: f"second folder/{FEW[2]}"})


def test_a_file_that_is_gone_ends_in_a_message_with_its_name(shelf: Path):
    files = photos(shelf)
    (shelf / FEW[1]).unlink()
    with pytest.raises(PhotosError, match=FEW[1]):
        scan(files, {}, nothing)


def test_each_file_counts_as_a_step(shelf: Path):
    steps: list[int] = []
    scan(photos(shelf), {}, lambda: steps.append(1))
    assert len(steps) == len(FEW)
