"""What a run is compared with where a cover hides plants at first: for those plants the photos after the uncovering."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pandas as pd
import pytest
from PIL import Image
from shelf_photos import FEW, half_tray, run

from sproutlapse.job_cover import STAYS_OFF

NAMES = [plant.name for plant in half_tray().plants]


def fog(path: Path, plants: list[str]) -> None:
    """A photo with a fogged hood over these pots, from above the soil down to the foot of the pot."""
    with Image.open(path) as photo:
        pixels, exif = np.asarray(photo).astype(np.float32), photo.info["exif"]
    for plant in half_tray().plants:
        if plant.name in plants and plant.soil_y_px is not None:
            left, right = int(plant.box_px[0]) + 1, int(plant.box_px[2])
            rows = slice(int(plant.soil_y_px) - 60, int(plant.soil_y_px) + 95)
            part = cv2.GaussianBlur(pixels[rows, left:right], (0, 0), 2.5)
            pixels[rows, left:right] = 0.35 * part + 0.65 * 190
    Image.fromarray(pixels.astype(np.uint8)).save(path, quality=95, exif=exif)


def table(out: Path, name: str) -> pd.DataFrame:
    return pd.read_csv(out / f"{name}.csv", keep_default_na=False)


def heights(out: Path, plant: str) -> pd.Series:
    rows = table(out, "measurements").query("plant == @plant").set_index("frame")
    return pd.to_numeric(rows["height_mm"])[list(FEW[-2:])]


def test_one_pot_under_a_cover_at_first_is_measured_as_well_as_without_once_it_is_off(shelf: Path, few: Path):
    for name in FEW[:3]:
        fog(shelf / name, ["B"])
    out = run(shelf).out
    frames = table(out, "frames").set_index("frame")
    assert list(frames["covered"][list(FEW[:3])]) == ["B"] * 3
    assert set(frames["covered"][list(FEW[3:])]) == {""}
    for plant in NAMES:
        assert (heights(out, plant) - heights(few, plant)).abs().max() < 1.0
    events = table(out, "events").query("event == 'uncovered'")
    assert list(events["plant"]) == ["B"]


def test_all_pots_under_a_cover_at_first_are_compared_with_photos_after_it(shelf: Path, few: Path):
    for name in FEW[:3]:
        fog(shelf / name, NAMES)
    out = run(shelf).out
    assert set(table(out, "frames").set_index("frame")["covered"][list(FEW[:3])]) == {", ".join(NAMES)}
    for plant in NAMES:
        assert (heights(out, plant) - heights(few, plant)).abs().max() < 1.0
    assert "the cover was taken off" in "".join(table(out, "events")["detail"])


@pytest.mark.parametrize("clear", [[], [4]])
def test_fog_that_clears_for_one_photo_is_no_uncovering_and_a_cover_to_the_end_is_said(shelf: Path, clear: list[int]):
    assert len(clear) < STAYS_OFF
    for k, name in enumerate(FEW):
        if k not in clear:
            fog(shelf / name, NAMES)
    summary = run(shelf)
    measured = table(summary.out, "measurements")
    assert set(measured["height_mm"]) == {""}
    assert set(table(summary.out, "plants")["emerged_by"]) == {""}
    words = " ".join(summary.lines)
    assert "A cover with fog or glare on it hides all pots or cells" in words
    assert clear or "Take it off" in words
