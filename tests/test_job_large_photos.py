"""Photos of 12 megapixels: the example's own, enlarged; figures against its truth, all pixels the photos' own."""

from pathlib import Path

import cv2
import numpy as np
import pandas as pd
import pytest
from PIL import Image
from shelf_photos import FEW, SHELF, run

from sproutlapse.trayfile import read_tray

SIZE = (4000, 3000)


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("large") / "photos"
    folder.mkdir()
    for name in FEW:
        with Image.open(SHELF / "photos" / name) as photo:
            photo.resize(SIZE, Image.Resampling.BICUBIC).save(folder / name, quality=90, exif=photo.info["exif"])
    return folder


@pytest.fixture(scope="module")
def results(large: Path) -> Path:
    return run(large, masks=True).out


def test_heights_are_as_true_as_those_of_the_photos_they_were_made_from(results: Path):
    truth = pd.read_csv(SHELF / "truth.csv").set_index(["frame", "plant"])
    table = pd.read_csv(results / "measurements.csv").dropna(subset=["height_mm"]).set_index(["frame", "plant"])
    away = (table["height_mm"] - truth["height_mm"].loc[table.index]).abs()
    assert len(away) >= 16
    assert away.mean() < 0.8
    assert (away <= 2 * table["height_sd_mm"]).mean() > 0.85


def test_pixels_are_the_photos_own(results: Path):
    tray, table = read_tray(results / "tray.toml"), pd.read_csv(results / "measurements.csv")
    small = read_tray(SHELF / "photos" / "tray.toml")
    soil = [plant.soil_y_px for plant in tray.plants]
    assert soil == pytest.approx([(p.soil_y_px + 0.5) * 3.125 - 0.5 for p in small.plants], abs=6)
    seen = table.dropna(subset=["height_px"])
    ratio = seen["height_mm"] / seen["height_px"]
    assert ratio.max() < 0.15  # about 0.28 mm a pixel in the photos that they were made from
    masks = sorted((results / "masks").glob("*.png"))
    last = np.asarray(cv2.imread(str(masks[-1]), cv2.IMREAD_UNCHANGED))
    assert last.shape == (SIZE[1], SIZE[0])
    assert last.dtype == np.uint8
    true = np.asarray(cv2.imread(str(SHELF / "masks" / masks[-1].name), cv2.IMREAD_UNCHANGED))
    wide = cv2.resize(true, SIZE, interpolation=cv2.INTER_NEAREST) > 0
    # 0.9 at the size of the example's photos, whose stems are five pixels wide and four of those that are measured.
    assert ((last > 0) & wide).sum() / ((last > 0) | wide).sum() > 0.75


def test_the_tray_that_was_found_gives_the_same_figures_again(large: Path, results: Path, tmp_path: Path):
    again = run(large, tmp_path / "again", tray_path=results / "tray.toml").out
    assert (again / "measurements.csv").read_bytes() == (results / "measurements.csv").read_bytes()
    assert read_tray(again / "tray.toml") == read_tray(results / "tray.toml")
