"""A camera that was moved to another view altogether: a new stand begins, and the pots keep their names."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import cv2
import numpy as np
import pandas as pd
import pytest
from PIL import Image
from shelf_photos import FRAMES, SHELF, halve, run, write_half_tray, written

SEEN = [*FRAMES[:4], *FRAMES[16:19]]
ODD = FRAMES[19:22]  # of a part of the shelf alone, so that which pot is which cannot be told
MOVED = FRAMES[22:30]  # more than a reference is made of
NAMES = list("ABCDE")


def move_camera(path: Path, lean: float = 9.0, size_of: float = 0.95, by: tuple[int, int] = (10, -20)) -> None:
    """A photo as a camera takes it that stands elsewhere and leans."""
    with Image.open(path) as photo:
        pixels, exif = np.asarray(photo), photo.info["exif"]
    size = (pixels.shape[1], pixels.shape[0])
    matrix = cv2.getRotationMatrix2D((size[0] / 2, size[1] / 2), lean, size_of)
    matrix[:, 2] += by
    moved = cv2.warpAffine(pixels, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    Image.fromarray(moved).save(path, quality=95, exif=exif)


def spoil(path: Path) -> None:
    """Write noughts over a photo whose size and time stay."""
    was = path.stat()
    path.write_bytes(bytes(was.st_size))
    os.utime(path, ns=(was.st_atime_ns, was.st_mtime_ns))


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("view") / "photos"
    folder.mkdir()
    write_half_tray(folder / "tray.toml")
    for name in [*SEEN, *ODD, *MOVED]:
        halve(name, folder / name)
        if name in MOVED:
            move_camera(folder / name)
        elif name in ODD:
            move_camera(folder / name, 4.0, 1.0, (230, 20))
        when = (folder / name).stat().st_mtime - 3600  # what has only just changed is read again
        os.utime(folder / name, (when, when))
    return folder


@pytest.fixture(scope="module")
def out(photos: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Measured in portions: while two photos show the other view, and when there are more."""
    out, later = tmp_path_factory.mktemp("view") / "out", photos.parent / "later"
    later.mkdir()
    for name in MOVED[2:]:
        (photos / name).rename(later / name)
    before = run(photos, out, masks=True)
    assert any("left out" in line for line in before.lines)
    for name in MOVED[2:]:
        (later / name).rename(photos / name)
    run(photos, out, masks=True)
    return out


def test_heights_go_on_with_their_names(out: Path):
    table = pd.read_csv(out / "measurements.csv").merge(
        pd.read_csv(SHELF / "truth.csv"), on=["frame", "plant"], suffixes=("", "_true")
    )
    new = table[table["frame"].isin(MOVED) & (table["height_mm_true"] >= 5)]
    # At half the size a bare stem is a pixel wide: in one photo a stub is read of B's, 4 mm of 56. It is left out, as
    # is a plant of which too little is found in the first photos; one in two photos in a row would stand in the table.
    assert set(new.dropna(subset="height_mm")["plant"]) >= {"A", "C", "E"}
    assert (new["height_mm"] - new["height_mm_true"]).abs().max() < 3


def test_it_is_said_and_nothing_is_taken_for_an_event(out: Path):
    told = json.loads((out / "run.json").read_text(encoding="utf-8"))
    assert any(
        note.startswith(f"Since {MOVED[0]} the camera shows another view: a new stand") for note in told["notes"]
    )
    assert [plant["name"] for plant in told["views"][0]["tray"]["plant"]] == NAMES
    assert told["shared_uncertainty"]["later_scale_sd_shares"] == [told["views"][0]["scale_sd_share"]]
    events = pd.read_csv(out / "events.csv", keep_default_na=False)
    assert set(events["event"]) <= {"emerged", "leggy", "first up", "done"}


def test_in_portions_the_same_bytes_as_in_one_go(photos: Path, out: Path, tmp_path: Path):
    assert written(run(photos, tmp_path / "at-once", masks=True).out) == written(out)


def test_three_odd_photos_do_not_lose_the_season_after_them(out: Path):
    frames = pd.read_csv(out / "frames.csv", keep_default_na=False).set_index("frame")
    assert not frames.loc[ODD, "used"].any()
    assert frames.loc[MOVED, "used"].all()
    notes = json.loads((out / "run.json").read_text(encoding="utf-8"))["notes"]
    assert any(note.startswith(f"The photos of another view since {ODD[0]} could not be given") for note in notes)


def test_a_camera_that_stands_still_in_its_new_place_is_not_said_to_have_moved(out: Path):
    frames = pd.read_csv(out / "frames.csv").set_index("frame").loc[MOVED]
    assert frames["turn_deg"].abs().max() < 0.1
    assert frames["shift_px"].max() < 1


def test_nothing_new_opens_no_photo_of_a_view_again(photos: Path, out: Path, tmp_path: Path):
    """Each further view is kept: its photos could not even be read by now."""
    before = written(out)
    for name in [*ODD, *MOVED, *SEEN[4:]]:
        shutil.copy2(photos / name, tmp_path / name)
    try:
        for name in MOVED:
            spoil(photos / name)
        assert written(run(photos, out, masks=True).out) == before
    finally:
        for path in tmp_path.glob("*.JPG"):
            shutil.copy2(path, photos / path.name)
