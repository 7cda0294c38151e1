"""A camera that was moved to another view altogether: a new stand begins, and the pots keep their names."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pandas as pd
import pytest
from PIL import Image
from shelf_photos import FRAMES, SHELF, halve, run, write_half_tray, written

SEEN = [*FRAMES[:4], *FRAMES[25:28]]
MOVED = FRAMES[28:31]
NAMES = list("ABCDE")


def move_camera(path: Path) -> None:
    """A photo as a camera takes it that stands elsewhere and leans by 9 degrees."""
    with Image.open(path) as photo:
        pixels, exif = np.asarray(photo), photo.info["exif"]
    size = (pixels.shape[1], pixels.shape[0])
    matrix = cv2.getRotationMatrix2D((size[0] / 2, size[1] / 2), 9.0, 0.95)
    matrix[:, 2] += (10, -20)
    moved = cv2.warpAffine(pixels, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    Image.fromarray(moved).save(path, quality=95, exif=exif)


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("view") / "photos"
    folder.mkdir()
    write_half_tray(folder / "tray.toml")
    for name in [*SEEN, *MOVED]:
        halve(name, folder / name)
        if name in MOVED:
            move_camera(folder / name)
    return folder


@pytest.fixture(scope="module")
def out(photos: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Measured in portions: while two photos show the other view, and when a third does."""
    out, last = tmp_path_factory.mktemp("view") / "out", photos / MOVED[-1]
    kept = last.rename(photos.parent / last.name)
    before = run(photos, out, masks=True)
    assert any("left out" in line for line in before.lines)
    kept.rename(last)
    run(photos, out, masks=True)
    return out


def test_heights_go_on_with_their_names(out: Path):
    table = pd.read_csv(out / "measurements.csv").merge(
        pd.read_csv(SHELF / "truth.csv"), on=["frame", "plant"], suffixes=("", "_true")
    )
    new = table[table["frame"].isin(MOVED) & (table["height_mm_true"] >= 5)]
    # At half the size a bare stem is a pixel wide: what is not found again is left out, never wrong.
    assert set(new.dropna(subset="height_mm")["plant"]) >= {"A", "C", "E"}
    assert (new["height_mm"] - new["height_mm_true"]).abs().max() < 2.5


def test_it_is_said_and_nothing_is_taken_for_an_event(out: Path):
    told = json.loads((out / "run.json").read_text(encoding="utf-8"))
    assert any(
        note.startswith(f"Since {MOVED[0]} the camera shows another view: a new stand") for note in told["notes"]
    )
    assert [plant["name"] for plant in told["views"][0]["tray"]["plant"]] == NAMES
    events = pd.read_csv(out / "events.csv", keep_default_na=False)
    assert set(events["event"]) <= {"emerged", "leggy", "first up", "done"}


def test_in_portions_the_same_bytes_as_in_one_go(photos: Path, out: Path, tmp_path: Path):
    assert written(run(photos, tmp_path / "at-once", masks=True).out) == written(out)
