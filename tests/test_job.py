"""The whole job on the example's season, against what is true of each plant."""

from pathlib import Path

import cv2
import numpy as np
import pandas as pd
import pytest
from shelf_photos import SEASON, SHELF, copy_season, run, written

LEGGY = {"B", "D"}  # they stood under the high tubes


@pytest.fixture(scope="module")
def truth() -> pd.DataFrame:
    table = pd.read_csv(SHELF / "truth.csv")
    return table[table["frame"].isin(SEASON)]


@pytest.fixture(scope="module")
def measured(season: Path) -> pd.DataFrame:
    return pd.read_csv(season / "measurements.csv")


def test_there_is_a_row_for_each_photo_and_plant_in_order(measured: pd.DataFrame):
    assert measured[["frame", "plant"]].values.tolist() == [[frame, plant] for frame in SEASON for plant in "ABCDE"]


def test_heights_are_right_to_a_millimetre_and_a_half(measured: pd.DataFrame, truth: pd.DataFrame):
    both = measured.merge(truth, on=["frame", "plant"], suffixes=("", "_true"))
    up = both[both["height_mm"].notna() & (both["height_mm_true"] > 0)]
    assert len(up) > 60
    assert (up["height_mm"] - up["height_mm_true"]).abs().mean() <= 1.5


def test_heights_are_as_uncertain_as_is_said(measured: pd.DataFrame, truth: pd.DataFrame):
    both = measured.merge(truth, on=["frame", "plant"], suffixes=("", "_true"))
    up = both[both["height_sd_mm"].notna() & (both["height_mm_true"] > 0)]
    within = (up["height_mm"] - up["height_mm_true"]).abs() <= 2 * up["height_sd_mm"]
    assert within.mean() >= 0.9
    # Nor is it padded: a give or take of centimetres would hold any error.
    assert up["height_sd_mm"].mean() <= 0.9
    assert (up["height_noise_mm"] <= up["height_sd_mm"]).all()


def test_what_is_taken_for_plant_is_plant(season: Path):
    both = either = 0
    for frame in SEASON:
        name = Path(frame).with_suffix(".png").name
        ours, true = (
            cv2.imread(str(folder / name), cv2.IMREAD_UNCHANGED) for folder in (season / "masks", SHELF / "masks")
        )
        assert ours.shape == true.shape
        both += int(np.count_nonzero((ours > 0) & (ours == true)))
        either += int(np.count_nonzero((ours > 0) | (true > 0)))
    assert both / either >= 0.85


def test_each_plant_is_seen_to_come_up_within_a_photo_of_the_truth(season: Path, truth: pd.DataFrame):
    plants = pd.read_csv(season / "plants.csv").set_index("plant")
    for plant, own in truth.groupby("plant"):
        times = own["time"].tolist()
        first = own["visible"].tolist().index(1)
        by = plants.loc[plant, "emerged_by"]
        assert abs(times.index(by) - first) <= 1, plant
        assert plants.loc[plant, "emerged_after"] == times[times.index(by) - 1]


def test_before_a_plant_is_up_its_canopy_is_nought_and_the_rest_is_empty(measured: pd.DataFrame):
    before = measured[measured["frame"] == SEASON[0]]
    assert (before[["canopy_mm2", "canopy_px", "canopy_sd_mm2", "seedlings"]] == 0).all(axis=None)
    assert before[["height_mm", "height_sd_mm", "stem_mm", "width_mm", "height_px"]].isna().all(axis=None)


def test_both_plants_under_high_tubes_are_called_leggy_and_no_other(season: Path):
    plants = pd.read_csv(season / "plants.csv")
    assert set(plants.loc[plants["leggy"], "plant"]) == LEGGY
    events = pd.read_csv(season / "events.csv")
    assert set(events.loc[events["event"] == "leggy", "plant"]) == LEGGY


def test_every_photo_counts(season: Path):
    frames = pd.read_csv(season / "frames.csv", keep_default_na=False)
    assert frames["used"].all()
    assert set(frames["reason"]) == {""}
    assert frames["gain"].between(0.8, 1.25).all()


def test_portions_measured_by_one_worker_equal_one_run_by_two(season: Path, tmp_path: Path):
    folder = tmp_path / "photos"
    for frames in (SEASON[:3], SEASON[:11], SEASON):
        copy_season(folder, frames)
        out = run(folder, masks=True, workers=1).out
    assert written(out).keys() == written(season).keys()
    assert [name for name, data in written(out).items() if data != written(season)[name]] == []


def test_photos_keep_their_bytes_and_times(season: Path, season_photos: Path):
    for frame in SEASON:
        original, copy = SHELF / "photos" / frame, season_photos / frame
        assert copy.read_bytes() == original.read_bytes()
        assert copy.stat().st_mtime_ns == original.stat().st_mtime_ns
    assert sorted(path.name for path in season_photos.iterdir()) == sorted([*SEASON, "tray.toml"])


def test_a_second_run_touches_no_file(season: Path, season_photos: Path):
    before = {path: path.stat().st_mtime_ns for path in season.rglob("*") if path.suffix in {".csv", ".png", ".json"}}
    run(season_photos, masks=True, workers=2)
    assert {path: path.stat().st_mtime_ns for path in before} == before


def test_the_tray_that_was_written_gives_the_same_results(few: Path, few_photos: Path, tmp_path: Path):
    again = run(few_photos, tmp_path / "again", tray_path=few / "tray.toml", masks=True).out
    assert written(again) == written(few)
