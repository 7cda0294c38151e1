"""Which photos count: the first usable ones, and the reason of each that is left out."""

import shutil
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from shelf_photos import FEW

from sproutlapse.frames import audit
from sproutlapse.frames.find import photos
from sproutlapse.vision.findings import Findings
from sproutlapse.work.engine import Task, look_at, picture_of
from sproutlapse.work.scan import Photo, scan
from sproutlapse.work.usable import STILL, FirstUsable, Judged, Looks, another_view, as_seen_from, left_between, reasons


def looked_at(folder: Path) -> tuple[tuple[Photo, ...], Looks]:
    found = scan(photos(folder), {}, lambda: None).photos
    looks: Looks = {}
    for photo in found:
        told, _ = look_at(Task(photo.file.frame, photo.file.path, photo.digest))
        looks[photo.digest] = (told.damaged, audit.Look(**told.look) if told.look else None)
    return found, looks


def first_of(found: tuple[Photo, ...], looks: Looks, most: int = 7) -> FirstUsable:
    first = FirstUsable(most)
    for photo in found:
        look = looks[photo.digest][1]
        if look is not None and not photo.copy_of and not first.full:
            first.offer(photo, look)
    return first


def darken(path: Path) -> None:
    with Image.open(path) as photo:
        exif = photo.info["exif"]
        Image.fromarray((np.asarray(photo) * 0.05).astype(np.uint8)).save(path, exif=exif)


def test_the_first_seven_usable_photos_are_compared_with_and_bad_ones_between_them_not(shelf: Path):
    darken(shelf / FEW[1])
    (shelf / FEW[3]).write_bytes((shelf / FEW[3]).read_bytes()[:5000])
    found, looks = looked_at(shelf)
    frames = [photo.dated.frame for photo in first_of(found, looks).photos]
    assert frames == [name for k, name in enumerate(FEW) if k not in (1, 3)][:7]


def test_each_bad_photo_has_its_own_reason_and_good_ones_none(shelf: Path):
    darken(shelf / FEW[7])
    (shelf / FEW[8]).write_bytes(b"not a picture")
    shutil.copy2(shelf / FEW[0], shelf / "z copy.JPG")
    found, looks = looked_at(shelf)
    first = first_of(found, looks)
    why = dict(zip([p.dated.frame for p in found], reasons(found, looks, lambda _: None, first.usual), strict=True))
    assert why.pop(FEW[7]).startswith("dark")
    assert why.pop(FEW[8]).startswith("damaged")
    assert {why.pop(FEW[0]), why.pop("z copy.JPG")} in (
        {"", f"duplicate: same picture as {FEW[0]}"},
        {"", "duplicate: same picture as z copy.JPG"},
    )
    assert set(why.values()) == {""}


def test_the_same_picture_in_another_file_is_a_duplicate_even_if_its_bytes_differ(shelf: Path):
    data = (shelf / FEW[9]).read_bytes()
    (shelf / "P3109999.JPG").write_bytes(data + b"\0" * 7)
    found, looks = looked_at(shelf)
    why = reasons(found, looks, lambda _: None, first_of(found, looks).usual)
    assert sum(reason.startswith("duplicate") for reason in why) == 1


def test_a_fault_that_measuring_found_is_the_reason(shelf: Path):
    found, looks = looked_at(shelf)
    moved = Findings("camera moved: nothing was found again")
    why = reasons(found, looks, {found[8].digest: moved}.get, first_of(found, looks).usual)
    assert [k for k, reason in enumerate(why) if reason] == [8]
    assert why[8] == moved.fault


def test_a_photo_of_which_nothing_is_known_is_left_out_and_no_fault_of_ours(shelf: Path):
    found, looks = looked_at(shelf)
    first = first_of(found, looks)
    del looks[found[4].digest]
    assert reasons(found, looks, lambda _: None, first.usual)[4].startswith("damaged")


@pytest.mark.parametrize("count", [1, 3])
def test_what_comes_later_has_no_say_in_the_first_photos(shelf: Path, count: int):
    found, looks = looked_at(shelf)
    assert first_of(found[:count], looks).photos == first_of(found, looks).photos[:count]


LOST = Findings("camera moved: what stands still was not found again in this photo")


def told(shelf: Path, lost: set[int]) -> list[str]:
    found, looks = looked_at(shelf)
    digests = {photo.digest: k for k, photo in enumerate(found)}
    usual = first_of(found, looks).usual
    return reasons(found, looks, lambda digest: LOST if digests[digest] in lost else Findings(""), usual)


def test_a_camera_that_shows_another_view_to_the_end_is_said_with_the_photo_since_when(shelf: Path):
    count = len(FEW)
    why = told(shelf, set(range(count - 3, count)))
    assert why[-3] == LOST.fault
    assert why[-1] == why[-2] == f"camera moved: shows another view since {FEW[-3]}"
    assert another_view(why).startswith(f"Since {FEW[-3]} the camera shows another view")


def test_a_camera_that_came_back_needs_no_words(shelf: Path):
    why = told(shelf, {7, 8})
    assert why[8].endswith(f"since {FEW[7]}") and not any(why[9:])
    assert another_view(why) == ""


def test_what_a_camera_put_back_by_hand_sees_differs_by_nothing_but_the_way(shelf: Path):
    with Image.open(shelf / FEW[9]) as photo:
        picture = np.asarray(photo.convert("RGB"))
    height, width = picture.shape[:2]
    move = cv2.getRotationMatrix2D((width / 2, height / 2), 2.5, 1.04)
    move[:, 2] += (0.1 * width, -0.06 * height)
    moved = audit.look(cv2.warpAffine(picture, move, (width, height), borderMode=cv2.BORDER_REPLICATE))
    grid = audit.look(picture).grid
    seen = as_seen_from(grid, STILL, moved, tuple(cv2.invertAffineTransform(move).ravel()))
    apart = [np.abs(np.subtract(one, moved.grid)).mean() for one in (seen, grid)]
    assert apart[0] < 0.35 * apart[1]
    assert as_seen_from(grid, STILL, moved, STILL) == grid


def upright(path: Path) -> None:
    """The photo as a camera held upright writes it."""
    with Image.open(path) as photo:
        exif = photo.info["exif"]
        photo.transpose(Image.Transpose.ROTATE_90).save(path, quality=95, exif=exif)


@pytest.mark.parametrize("lying", [(0,), (0, 1), (0, 2)])
def test_a_first_photo_or_two_held_upright_do_not_decide_over_all_others(shelf: Path, lying: tuple[int, ...]):
    for k in lying:
        upright(shelf / FEW[k])
    found, looks = looked_at(shelf)
    first = first_of(found, looks)
    assert [p.dated.frame for p in first.photos] == [name for k, name in enumerate(FEW) if k not in lying][:7]
    why = reasons(found, looks, lambda _: None, first.usual)
    assert all(("lies on its side" in reason) == (k in lying) for k, reason in enumerate(why))
    told = left_between(found, why)
    assert len(told) == 1 and FEW[0] in told[0] and "Hold the camera the same way" in told[0]


def test_once_three_photos_of_a_size_count_others_are_left_out(shelf: Path):
    for k in range(3, 8):
        upright(shelf / FEW[k])
    found, looks = looked_at(shelf)
    assert [p.dated.frame for p in first_of(found, looks).photos] == [*FEW[:3], *FEW[8:]]


def test_photos_of_another_tray_among_the_others_are_named_with_the_remedy(shelf: Path):
    found, _ = looked_at(shelf)
    why = ["camera moved: not found" if k in (2, 4, 6) else "" for k in range(len(found))]
    told = left_between(found, why)
    assert len(told) == 1 and f"{FEW[2]} to {FEW[6]}" in told[0] and "a folder of its own" in told[0]
    assert left_between(found, ["camera moved: not found" if k > 6 else "" for k in range(len(found))]) == []
    assert left_between(found, [""] * len(found)) == []


def test_a_folder_that_grew_is_judged_as_if_from_its_beginning(shelf: Path):
    """Whatever was judged before: photos added at the end, put in between, taken out, another norm."""
    darken(shelf / FEW[7])
    shutil.copy2(shelf / FEW[8], shelf / "P3030028a.JPG")
    found, looks = looked_at(shelf)
    first = first_of(found, looks)
    judged = Judged()
    turns = [found[:3], found[:8], found, found[:5] + found[6:], found[:9], found]
    for turn, usual in [*((turn, first.usual) for turn in turns), (found, None)]:
        told = judged.reasons(turn, looks, lambda _: None, usual)
        assert told == reasons(turn, looks, lambda _: None, usual)
    assert any(reason.startswith("duplicate") for reason in told)


def test_pictures_of_photos_that_were_given_up_are_none_of_the_first_at_one_measured_size(shelf: Path):
    """2000 x 1500 and 4000 x 3000 pixels are both measured at 1000 x 750."""
    for k, name in enumerate(FEW):
        with Image.open(shelf / name) as photo:
            size = (2000, 1500) if k < 2 else (4000, 3000)
            photo.resize(size).save(shelf / name, exif=photo.info["exif"])
    found, looks = looked_at(shelf)
    first, known, read = FirstUsable(4), {}, []

    def decoded(photo: Photo) -> np.ndarray:
        read.append(photo.digest)
        return picture_of(photo.file.path, photo.file.frame)

    for photo in found[:6]:
        if first.offer(photo, looks[photo.digest][1]):
            first.pictures(known, decoded)
    assert [photo.dated.frame for photo in first.photos] == FEW[2:6]
    assert set(known) == {photo.digest for photo in first.photos}
    assert len(read) == len(set(read))
    assert all(np.array_equal(known[p.digest], picture_of(p.file.path, p.file.frame)) for p in first.photos)


def test_a_photo_that_came_first_and_does_not_count_is_not_compared_with(shelf: Path):
    """Another place, taken by infrared light: grey, with a tint that one photo alone may have."""
    with Image.open(shelf / FEW[0]) as photo:
        exif = photo.info["exif"]
        grey = np.asarray(photo.convert("L"), np.float32)[:, ::-1]
        tinted = grey[..., None] * [1.0, 0.93, 0.98] + np.random.default_rng(4).normal(0, 2.5, (*grey.shape, 3))
        Image.fromarray(np.clip(tinted, 0, 255).astype(np.uint8)).save(shelf / FEW[0], exif=exif, quality=85)
    found, looks = looked_at(shelf)
    alone = FirstUsable(7)
    assert alone.offer(found[0], looks[found[0].digest][1])
    first = first_of(found, looks)
    assert FEW[0] not in [photo.dated.frame for photo in first.photos]
    assert len(first.photos) == 7
    assert first.nights == 1
