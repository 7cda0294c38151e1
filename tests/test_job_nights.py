"""Nights between the photos: never measured as plants gone, never compared with, and data on the lamps."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from PIL import Image
from shelf_photos import FEW as ALL
from shelf_photos import halve, run, write_half_tray

from sproutlapse.errors import PhotosError
from sproutlapse.work.files import csv_bytes

FEW = [*ALL[:7], ALL[9]]


def night_of(day: Path, target: Path, hours: float, *, infrared: bool) -> None:
    """The photo as it would be so many hours later, by the camera's own lamp or in the dark."""
    with Image.open(day) as photo:
        exif, rgb = photo.getexif(), np.asarray(photo.convert("RGB"))
    own = exif.get_ifd(0x8769)
    when = datetime.strptime(own[0x9003], "%Y:%m:%d %H:%M:%S") + timedelta(hours=hours)
    own[0x9003] = when.strftime("%Y:%m:%d %H:%M:%S")
    green = rgb[..., 1].astype(int) * 2 - rgb[..., 0] - rgb[..., 2] > 20
    grey = np.where(green, 205, rgb.mean(axis=2)) if infrared else rgb.mean(axis=2) * 0.03
    grey = grey + np.random.default_rng(round(hours) + 9).integers(0, 3, grey.shape)  # no two nights are the same
    Image.fromarray(np.repeat(grey.astype(np.uint8)[..., None], 3, axis=2)).save(target, quality=92, exif=exif)


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The same few days without nights and with them: one before the first photo, one after each."""
    plain, nights = (tmp_path_factory.mktemp(name) / "tray" for name in ("plain", "nights"))
    for folder in (plain, nights):
        folder.mkdir()
        for name in FEW:
            halve(name, folder / name)
        write_half_tray(folder / "tray.toml")
    night_of(plain / FEW[0], nights / "A0.JPG", -2, infrared=True)
    for k, name in enumerate(FEW):
        night_of(plain / name, nights / f"N{k:02d}.JPG", 2, infrared=k % 2 == 0)
    return plain, nights


def test_nights_change_no_figure_and_are_said(folders: tuple[Path, Path]) -> None:
    plain, nights = (run(folder).out for folder in folders)
    for name in ("measurements.csv", "plants.csv", "events.csv"):
        assert (plain / name).read_bytes() == (nights / name).read_bytes()
    table = pd.read_csv(nights / "frames.csv", keep_default_na=False).set_index("frame")
    assert list(table.index[table["used"]]) == FEW
    reasons = table["reason"]
    assert reasons["A0.JPG"].startswith("night picture (infrared)")
    assert all(reasons[f"N{k:02d}.JPG"].startswith(("night picture", "dark")[k % 2]) for k in range(len(FEW)))
    light = pd.read_csv(nights / "light.csv")
    assert light["photos"].sum() == len(table)
    assert light["light_photos"].sum() == len(FEW)
    assert (light["light_least_h"] <= light["light_most_h"]).all()


def test_a_camera_that_knows_only_the_night_is_told_what_to_do(folders: tuple[Path, Path], tmp_path: Path) -> None:
    folder = tmp_path / "tray"
    folder.mkdir()
    for k, name in enumerate(FEW[:4]):
        night_of(folders[0] / name, folder / f"N{k}.JPG", 0, infrared=True)
    with pytest.raises(PhotosError, match="4 of the 4 photos are night pictures") as told:
        run(folder)
    assert "night mode off" in str(told.value)
    assert not (folder.parent / "tray-results" / "measurements.csv").exists()


def test_hours_of_light_are_written_as_other_tables_are() -> None:
    days = pd.DataFrame({"day": ["2026-03-01"], "photos": [3], "light_least_h": [15.5]})
    assert csv_bytes(days) == b"day,photos,light_least_h\n2026-03-01,3,15.500\n"
