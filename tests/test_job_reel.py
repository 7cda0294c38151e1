"""A film measured as the folder of its photos would be: the same rows, the film's own times, and all that follows."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from PIL import Image
from reels import spoil, write_jpegs, write_reel
from shelf_photos import FEW, run, write_half_tray, written

from sproutlapse.errors import PhotosError
from sproutlapse.film.options import FilmOptions
from sproutlapse.frames.reel import frame_name
from sproutlapse.frames.reel_times import film_times
from sproutlapse.job import audit_job, film_job, report_job
from sproutlapse.job_explain import explain_job
from sproutlapse.job_tray_sight import tray_job
from sproutlapse.progress import Silent

BEGINS, EVERY_MIN = "2026-03-01 08:10", 360.0
TIMES = film_times(BEGINS, EVERY_MIN)
TABLES = ("measurements.csv", "frames.csv", "events.csv", "plants.csv")


def table(results: Path, name: str) -> pd.DataFrame:
    """A table as text."""
    return pd.read_csv(results / name, dtype=str, keep_default_na=False)


@pytest.fixture(scope="module")
def film(few_photos: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The eleven photos as a film of motion JPEG, their tray.toml beside it."""
    folder = tmp_path_factory.mktemp("reel")
    write_half_tray(folder / "tray.toml")
    return write_jpegs(folder / "bed.avi", [(few_photos / name).read_bytes() for name in FEW], (640, 480))


@pytest.fixture(scope="module")
def results(film: Path) -> Path:
    """Results of the film, where they go by themselves."""
    return run(film, masks=True, film_times=TIMES).out


def test_results_lie_beside_the_film_under_its_name(film, results):
    assert results == film.with_name("bed-results")


def test_the_same_is_measured_as_of_the_photos(few, results):
    for name in ("measurements.csv", "frames.csv"):
        photos, frames = table(few, name), table(results, name)
        assert list(frames["frame"]) == [frame_name(FEW.index(frame) + 1) for frame in photos["frame"]]
        apart = ["frame", "time"]
        pd.testing.assert_frame_equal(frames.drop(columns=apart), photos.drop(columns=apart))
    for number, name in enumerate(FEW, start=1):
        mask = results / "masks" / f"{frame_name(number)}.png"
        assert mask.read_bytes() == (few / "masks" / name).with_suffix(".png").read_bytes()


def test_times_go_by_the_number(results):
    frames = table(results, "frames.csv")
    expected = pd.Timestamp(BEGINS) + pd.to_timedelta([6 * n for n in range(len(FEW))], unit="h")
    assert list(pd.to_datetime(frames["time"])) == list(expected)
    assert set(frames["clock_shift_s"]) <= {"", "0", "0.000"}


def test_run_again_goes_on_with_the_times_that_were_told(film, results):
    before = written(results)
    run(film, masks=True)
    assert written(results) == before


def test_another_beginning_moves_all_times_and_says_so(film, results, tmp_path, monkeypatch):
    out = tmp_path / "moved"
    run(film, out, film_times=TIMES)
    monkeypatch.setattr("sproutlapse.work.engine.measure", lambda *_: pytest.fail("measured again"))
    lines = run(film, out, film_times=film_times("2026-03-02 08:10", None)).lines
    assert any("told otherwise than at the last run: from 2026-03-02 08:10:00, every 360 min" in line for line in lines)
    moved, before = (pd.to_datetime(table(place, "measurements.csv")["time"]) for place in (out, results))
    assert set(moved - before) == {pd.Timedelta(days=1)}
    told = [line for line in lines if "not told any more" in line]
    assert all("since the film's times were told otherwise" in line for line in told)


def test_page_film_and_story_come_from_the_results_and_the_film(film, results):
    assert report_job(results, progress=Silent()).report == results / "report.html"
    page = (results / "report.html").read_text("utf-8")
    assert page.count("data:image/jpeg") > len(FEW) // 2 and "frame-000011" in page
    made = film_job(results, options=FilmOptions(height_px=240), progress=Silent()).film
    assert made is not None and made.stat().st_size > 10_000
    plant = table(results, "plants.csv")["plant"][0]
    assert any("Mar" in line for line in explain_job(results, plant))


def test_check_tells_number_times_and_interval(film):
    audit = audit_job(film, progress=Silent(), film_times=TIMES)
    assert audit.ok
    assert audit.lines[0].startswith("11 photos, 11 of them usable, from 2026-03-01T08:10:00 to 2026-03-03T20:10:00")
    assert "Usually one every 6 h." in audit.lines


def test_tray_needs_no_times(film, tmp_path):
    sight = tray_job(film, tmp_path / "seen", Silent())
    with Image.open(sight.picture) as drawn:
        assert drawn.width >= 640
    assert 'pixels_of = "frame-000001"' in sight.tray.read_text("utf-8")


def test_a_broken_frame_is_left_out_with_its_reason_and_the_rest_is_measured(film, results, tmp_path):
    broken = tmp_path / "bed.avi"
    broken.write_bytes(film.read_bytes())
    write_half_tray(tmp_path / "tray.toml")
    spoil(broken, 8)
    out = run(broken, film_times=TIMES).out
    frames = table(out, "frames.csv")
    (left,) = frames[frames["used"] != "true"].to_dict("records")
    assert left["frame"] == frame_name(9) and left["reason"].startswith("damaged: ")
    whole, rest = table(results, "measurements.csv"), table(out, "measurements.csv")
    assert len(rest) == len(whole[whole["frame"] != frame_name(9)])


def test_a_film_without_its_times_is_asked_for_them_and_leaves_nothing_behind(film, tmp_path):
    with pytest.raises(PhotosError, match="--every"):
        run(film, tmp_path / "none")
    assert not (tmp_path / "none").exists()


def test_what_was_measured_is_told_by_the_digest_of_each_picture(results):
    told = json.loads((results / "run.json").read_text("utf-8"))
    digests = [photo for photo in json.dumps(told).split('"') if len(photo) == 64]
    assert len(set(digests)) >= len(FEW)


def test_h264_is_measured_as_the_photos_are_within_what_its_packing_loses(few_photos, few, tmp_path):
    pictures = []
    for name in FEW:
        with Image.open(few_photos / name) as photo:
            pictures.append(np.asarray(photo.convert("RGB")))
    write_half_tray(tmp_path / "tray.toml")
    film = write_reel(tmp_path / "bed.mp4", pictures, gop=250, crf="18")
    out = run(film, film_times=TIMES).out
    heights, expected = (pd.to_numeric(table(place, "measurements.csv")["height_mm"]) for place in (out, few))
    assert set(table(out, "frames.csv")["used"]) == {"true"}
    assert list(heights.isna()) == list(expected.isna()) and expected.notna().sum() >= 15
    assert (heights - expected).abs().median() < 0.5 and (heights - expected).abs().max() < 3
