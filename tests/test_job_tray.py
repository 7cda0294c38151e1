"""The tray of a run: places told in another photo's pixels, and what was taken for granted written down."""

import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from shelf_photos import half_tray, run, write_half_tray

from sproutlapse.errors import TrayError
from sproutlapse.tray import Scale
from sproutlapse.trayfile import read_tray


def test_places_told_in_the_pixels_of_a_bumped_photo_are_moved_to_the_first(shelf: Path):
    tray = half_tray()
    bumped = sorted(path.name for path in shelf.glob("*.JPG"))[2]
    with Image.open(shelf / bumped) as photo:
        # What is in the picture moves 6 pixels to the right and 4 down.
        moved = photo.transform(photo.size, Image.Transform.AFFINE, (1, 0, -6, 0, 1, -4))
        moved.save(shelf / bumped, quality=95, exif=photo.info["exif"])
    plants = tuple(
        plant.model_copy(
            update={
                "box_px": tuple(v + d for v, d in zip(plant.box_px, (6, 4, 6, 4), strict=True)),
                "soil_y_px": plant.soil_y_px + 4,
            }
        )
        for plant in tray.plants
    )
    view = tray.view.model_copy(update={"pixels_of": bumped})
    write_half_tray(shelf / "tray.toml", view=view, plants=plants)
    used = read_tray(run(shelf).out / "tray.toml")
    assert used.view.pixels_of == min(path.name for path in shelf.glob("*.JPG"))
    for ours, true in zip(used.plants, tray.plants, strict=True):
        assert ours.box_px == pytest.approx(true.box_px, abs=0.6)
        assert ours.soil_y_px == pytest.approx(true.soil_y_px, abs=0.6)


def test_places_told_in_the_pixels_of_a_photo_that_shows_something_else(shelf: Path):
    other = sorted(path.name for path in shelf.glob("*.JPG"))[2]
    grain = np.random.default_rng(3).integers(0, 255, (480, 640, 3), dtype=np.uint8)
    with Image.open(shelf / other) as photo:
        exif = photo.info["exif"]
    Image.fromarray(grain).save(shelf / other, quality=95, exif=exif)
    write_half_tray(shelf / "tray.toml", view=half_tray().view.model_copy(update={"pixels_of": other}))
    with pytest.raises(TrayError, match="cannot be laid over") as told:
        run(shelf)
    assert "pixels_of" in told.value.remedy


def test_a_mark_of_unknown_size_is_written_as_it_was_taken(shelf: Path, tmp_path: Path):
    write_half_tray(shelf / "tray.toml", scale=Scale())
    first = run(shelf)
    text = (first.out / "tray.toml").read_text("utf-8")
    assert "marker_mm = 30 # taken for granted" in text
    assert any("taken as 30 mm" in line for line in first.lines)
    again = run(shelf, tmp_path / "again", tray_path=first.out / "tray.toml").out
    for name in ("measurements.csv", "plants.csv", "events.csv"):
        assert (again / name).read_bytes() == (first.out / name).read_bytes()


def rewritten(results_tray: Path, was: str, now: str) -> None:
    text = results_tray.read_text("utf-8")
    assert was in text
    results_tray.write_text(text.replace(was, now), "utf-8")


def test_a_plain_run_goes_on_with_the_corrected_tray_that_the_last_run_was_given(shelf_run: Path):
    tray = shelf_run.with_name("photos-results") / "tray.toml"
    rewritten(tray, '"low tubes"', '"left tubes"')
    run(shelf_run, tray_path=tray)
    again = run(shelf_run)
    assert any("Went on with" in line for line in again.lines)
    assert "left tubes" in tray.read_text("utf-8")


def test_a_tray_written_anew_beside_the_photos_wins_and_the_corrected_one_is_kept(shelf_run: Path):
    tray = shelf_run.with_name("photos-results") / "tray.toml"
    rewritten(tray, '"low tubes"', '"left tubes"')
    run(shelf_run, tray_path=tray)
    rewritten(shelf_run / "tray.toml", '"low tubes"', '"own tubes"')
    run(shelf_run)
    assert "own tubes" in tray.read_text("utf-8")
    assert "left tubes" in tray.with_name("tray-before.toml").read_text("utf-8")


def measured_when(out: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(out / "store.sqlite")) as db:
        return list(db.execute("SELECT rowid, digest, reference FROM findings ORDER BY rowid"))


def test_a_changed_habit_or_limit_measures_nothing_anew_and_events_that_go_are_named(shelf_run: Path):
    out = shelf_run.with_name("photos-results")
    before, events = measured_when(out), (out / "events.csv").read_text("utf-8")
    assert ",emerged," in events
    tray = out / "tray.toml"
    tray.write_text(tray.read_text("utf-8") + "\n[judge]\nemerged_frames = 20\n", "utf-8")
    lines = run(shelf_run, tray_path=tray).lines
    assert measured_when(out) == before
    gone = next(line for line in lines if "not told any more" in line)
    assert "tray.toml was changed ([judge])" in gone
    assert "emerged (" in gone
