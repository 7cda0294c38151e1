"""What a grower may give by mistake, and what cannot be helped: each ends in a clear message or in honest results."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from PIL import Image
from shelf_photos import FEW, half_tray, run, write_half_tray

from sproutlapse.errors import PhotosError, ResultsError, SproutlapseError, TrayError
from sproutlapse.film.options import FilmOptions
from sproutlapse.job import audit_job, film_job, report_job
from sproutlapse.progress import Silent
from sproutlapse.tray import Scale
from sproutlapse.vision.colour import to_light
from sproutlapse.vision.scale import find_marks


def table(out: Path, name: str) -> pd.DataFrame:
    return pd.read_csv(out / f"{name}.csv", keep_default_na=False)


def without_mark(folder: Path, frames: list[str]) -> None:
    """Paint the printed mark over, as if the card had been taken away."""
    for name in frames:
        with Image.open(folder / name) as photo:
            pixels, exif = np.asarray(photo).copy(), photo.info["exif"]
        for mark in find_marks(pixels, to_light(pixels)):
            (left, top), (right, bottom) = mark.corners.min(axis=0) - 6, mark.corners.max(axis=0) + 6
            pixels[int(top) : int(bottom), int(left) : int(right)] = np.median(pixels[:100], axis=(0, 1))
        Image.fromarray(pixels).save(folder / name, quality=95, exif=exif)


def test_no_such_folder(tmp_path: Path):
    with pytest.raises(PhotosError, match="no such folder"):
        run(tmp_path / "nothing")
    assert list(tmp_path.iterdir()) == []


def test_an_empty_folder(tmp_path: Path):
    (tmp_path / "photos").mkdir()
    with pytest.raises(PhotosError, match="no picture"):
        run(tmp_path / "photos")


def test_a_folder_without_a_readable_picture(tmp_path: Path):
    folder = tmp_path / "photos"
    folder.mkdir()
    (folder / "IMG_1.JPG").write_bytes(b"no picture")
    (folder / "IMG_2.JPG").write_bytes(b"")
    with pytest.raises(PhotosError, match="none of the 2 photos can be used"):
        run(folder)
    report = audit_job(folder, progress=Silent())
    assert not report.ok
    assert [line for line in report.lines if "IMG_2.JPG: damaged: the file is empty" in line]


def test_only_dark_photos(tmp_path: Path):
    folder = tmp_path / "photos"
    folder.mkdir()
    for number in (1, 2):
        Image.new("RGB", (640, 480), (number, 3, 3)).save(folder / f"IMG_{number}.JPG")
    with pytest.raises(PhotosError, match="none of the 2"):
        run(folder)
    assert sum("dark" in line for line in audit_job(folder, progress=Silent()).lines) == 2


def test_nights_are_no_fault_of_a_folder(shelf: Path):
    Image.new("RGB", (640, 480), (3, 3, 3)).save(shelf / "IMG_9001.JPG")
    Image.new("RGB", (640, 480), (2, 3, 3)).save(shelf / "IMG_9002.JPG")
    report = audit_job(shelf, progress=Silent())
    assert report.ok
    night = [line for line in report.lines if "by night" in line]
    assert night[0].startswith("2 of the others by night")
    assert "IMG_9001.JPG to IMG_9002.JPG" in night[0]
    assert not [line for line in report.lines if line.startswith("  IMG_90")]


def test_a_broken_tray_ends_the_run_before_anything_is_made(shelf: Path):
    (shelf / "tray.toml").write_text("[view\n", "utf-8")
    with pytest.raises(TrayError, match="line 1"):
        run(shelf)
    assert not shelf.with_name("photos-results").exists()


def test_a_tray_for_another_picture_size_is_refused(shelf: Path):
    plants = half_tray().plants
    far = plants[0].model_copy(update={"box_px": (2000.0, 0.0, 2100.0, 200.0), "soil_y_px": 190.0})
    write_half_tray(shelf / "tray.toml", plants=(far, *plants[1:]))
    with pytest.raises(TrayError, match="640 x 480"):
        run(shelf)


@pytest.mark.parametrize(("where", "words"), [
    ("photos", "photo folder"), ("photos/results", "photo folder"), (".", "around it"),
    ("photos/IMG.txt", "photo folder"), ("a-file", "this is a file"), ("a-file/results", "cannot be made"),
    ("strange", "not ours \\(letter.txt\\)"),
])  # fmt: skip
def test_results_in_a_wrong_place(shelf: Path, tmp_path: Path, where: str, words: str):
    (tmp_path / "a-file").write_text("x", "utf-8")
    (tmp_path / "strange").mkdir()
    (tmp_path / "strange" / "letter.txt").write_text("x", "utf-8")
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(ResultsError, match=words):
        run(shelf, tmp_path / where)
    assert sorted(tmp_path.rglob("*")) == before


def test_results_of_other_photos_are_not_written_over(shelf_run: Path, tmp_path: Path):
    other = tmp_path / "other"
    other.mkdir()
    Image.new("RGB", (640, 480), (200, 200, 200)).save(other / "IMG_1.JPG")
    with pytest.raises(ResultsError, match="other photos"):
        run(other, shelf_run.with_name("photos-results"))


def test_a_store_that_is_broken(shelf: Path, tmp_path: Path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "store.sqlite").write_bytes(b"this is no data base" * 100)
    with pytest.raises(ResultsError, match="no store of ours"):
        run(shelf, out)


@pytest.mark.parametrize("job", [lambda out: report_job(out, progress=Silent()),
                                 lambda out: film_job(out, options=FilmOptions(), progress=Silent())])  # fmt: skip
def test_page_and_film_of_a_folder_without_results(tmp_path: Path, job):
    with pytest.raises(ResultsError, match="no results of a run"):
        job(tmp_path)


LIMITED = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), resource.RLIM_INFINITY))
from sproutlapse.cli import main
sys.argv = ["sproutlapse", *sys.argv[2:]]
main()
"""


@pytest.mark.skipif(os.name == "nt", reason="Windows has no largest file size to set")
@pytest.mark.parametrize("most_bytes", [2_000, 60_000, 10])
def test_a_disk_that_takes_no_more(shelf: Path, few: Path, tmp_path: Path, most_bytes: int):
    """A largest file size stands in for a full disk, which a test cannot make everywhere."""
    words = ["run", str(shelf), "--no-film", "--no-report", "--workers", "1"]
    command = [sys.executable, "-c", LIMITED, str(most_bytes), *words]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert ended.returncode in (5, 6), ended.stderr
    assert "Make room" in ended.stderr
    assert "Traceback" not in ended.stderr
    assert "fault in sproutlapse" not in ended.stderr
    out = run(shelf).out
    assert (out / "measurements.csv").read_bytes() == (few / "measurements.csv").read_bytes()


def test_photos_of_another_size_are_left_out_and_the_first_usable_one_counts(shelf: Path):
    with Image.open(shelf / FEW[4]) as photo:
        photo.resize((320, 240)).save(shelf / FEW[4], exif=photo.info["exif"])
    frames = table(run(shelf).out, "frames").set_index("frame")
    assert frames.loc[FEW[4], "reason"].startswith("other size: 320 x 240")
    assert frames["used"].sum() == len(FEW) - 1


def test_one_photo_only(shelf: Path):
    for name in FEW[1:]:
        (shelf / name).unlink()
    summary = run(shelf, film=True, report=True)
    assert len(table(summary.out, "measurements")) == 5
    assert set(table(summary.out, "plants")["emerged_by"]) == {""}


def test_pictures_without_any_plant(shelf: Path):
    for name in FEW[7:]:
        (shelf / name).unlink()
    summary = run(shelf, film=True, report=True)
    plants = table(summary.out, "plants")
    assert set(plants["emerged_by"]) == {""}
    assert set(plants["final_height_mm"]) == {""}
    assert set(table(summary.out, "measurements")["canopy_px"].astype(float)) == {0.0}
    assert table(summary.out, "events").query("event != 'overdue'").empty


def test_without_a_scale_mark_sizes_are_in_pixels_and_that_is_said(shelf: Path):
    without_mark(shelf, FEW)
    out = run(shelf, report=True).out
    measured = table(out, "measurements")
    late = measured[measured["frame"] == FEW[-1]]
    in_mm = [name for name in measured.columns if "_mm" in name]
    assert (measured[in_mm] == "").all(axis=None)
    assert (late["height_px"].astype(float) > 20).all()
    assert (late["height_to_leaf"] != "").all()
    assert [note for note in json.loads((out / "run.json").read_text("utf-8"))["notes"] if "pixels only" in note]


def test_a_mark_that_is_seen_in_some_photos_only_still_gives_the_scale(shelf: Path, few: Path):
    without_mark(shelf, FEW[7:])
    ours, whole = table(run(shelf).out, "measurements"), table(few, "measurements")
    late = ours["frame"] == FEW[-1]
    assert (ours["height_mm"][late].astype(float) - whole["height_mm"][late].astype(float)).abs().max() < 1.0


def test_two_points_and_a_length_serve_as_well_as_a_mark(shelf: Path):
    without_mark(shelf, FEW)
    write_half_tray(shelf / "tray.toml", scale=Scale(from_px=(10.0, 400.0), to_px=(110.0, 400.0), length_mm=70.6))
    measured = table(run(shelf).out, "measurements")
    assert (measured.loc[measured["frame"] == FEW[-1], "height_mm"] != "").all()


def test_plants_in_the_very_first_photo_are_up_by_then_and_make_no_event(shelf: Path):
    for name in FEW[:7]:
        (shelf / name).unlink()
    out = run(shelf).out
    plants, events = table(out, "plants"), table(out, "events")
    assert set(plants["emerged_after"]) == {""}
    assert set(plants["emerged_by"]) == {table(out, "frames")["time"].iloc[0]}
    assert "emerged" not in set(events["event"])


def test_a_photo_cut_short_is_left_out(shelf: Path):
    photo = shelf / FEW[9]
    photo.write_bytes(photo.read_bytes()[:-9000])
    frames = table(run(shelf).out, "frames").set_index("frame")
    assert frames.loc[FEW[9], "reason"].startswith("damaged:")
    assert frames["used"].sum() == len(FEW) - 1


def test_pixels_of_a_photo_that_is_not_there_are_doubted_aloud(shelf: Path):
    view = half_tray().view.model_copy(update={"pixels_of": "IMG_9999.JPG"})
    write_half_tray(shelf / "tray.toml", view=view)
    notes = json.loads((run(shelf).out / "run.json").read_text("utf-8"))["notes"]
    assert [note for note in notes if "IMG_9999.JPG" in note]


def test_more_plants_than_a_label_picture_holds_are_refused(shelf: Path):
    plant = half_tray().plants[0]
    write_half_tray(shelf / "tray.toml", plants=tuple(plant.model_copy(update={"name": f"p{n}"}) for n in range(256)))
    with pytest.raises(TrayError, match="at most 255"):
        run(shelf)


def test_a_picture_of_nothing_ends_in_a_message(tmp_path: Path):
    folder = tmp_path / "photos"
    folder.mkdir()
    for number in range(3):
        noise = np.random.default_rng(number).integers(0, 255, (480, 640, 3), dtype=np.uint8)
        Image.fromarray(noise).save(folder / f"IMG_{number}.JPG")
    with pytest.raises(SproutlapseError):
        run(folder)


def test_check_writes_nothing(shelf: Path):
    shutil.copy2(shelf / FEW[0], shelf / "again.JPG")
    before = sorted(shelf.parent.rglob("*"))
    report = audit_job(shelf, progress=Silent())
    assert sorted(shelf.parent.rglob("*")) == before
    assert not report.ok
    assert report.lines[0].startswith(f"{len(FEW) + 1} photos, {len(FEW)} of them usable, from 2025-03-03T08:10:00")
    assert "Usually one every 6 h." in report.lines
    assert report.lines[-1].startswith("  again.JPG: duplicate") or report.lines[-1].startswith(f"  {FEW[0]}: dupl")


def test_photos_of_another_tray_and_some_held_upright_are_named_and_the_rest_is_measured(shelf: Path, few: Path):
    for name, kind in ((FEW[0], "upright"), *((name, "other") for name in FEW[7:10])):
        with Image.open(shelf / name) as photo:
            turn = Image.Transpose.ROTATE_90 if kind == "upright" else Image.Transpose.ROTATE_180
            target = name if kind == "upright" else f"other tray {name}"
            photo.transpose(turn).save(shelf / target, quality=95, exif=photo.info["exif"])
    summary = run(shelf)
    frames = table(summary.out, "frames")
    left = frames[frames["used"].astype(str).str.lower() == "false"]
    assert set(left["frame"]) == {FEW[0], *(f"other tray {name}" for name in FEW[7:10])}
    words = " ".join(summary.lines)
    assert "3 photos among the others show another place" in words and "a folder of its own" in words
    assert f"1 photo has another size or another side up than most of the first ones ({FEW[0]})" in words
    late = [t[t["frame"] == FEW[-1]]["height_mm"].astype(float) for t in map(measurements, (summary.out, few))]
    assert np.abs(late[0].to_numpy() - late[1].to_numpy()).max() < 1.0


def measurements(out: Path) -> pd.DataFrame:
    return table(out, "measurements")


def test_photos_dated_years_before_the_sowing_are_said(shelf: Path):
    for name in FEW:
        with Image.open(shelf / name) as photo:
            exif = photo.getexif()
            for tag in (0x9003, 0x9004):
                exif.get_ifd(0x8769)[tag] = exif.get_ifd(0x8769)[0x9003].replace("2025:", "2015:", 1)
            photo.save(shelf / name, quality=95, exif=exif)
    words = " ".join(run(shelf).lines)
    assert "the camera shows a wrong year or day" in words and "2015-03-03" in words


@pytest.mark.skipif(sys.platform != "linux", reason="other systems allow no such names")
def test_names_that_are_not_utf_8_come_through_tables_masks_page_and_film(shelf: Path):
    (shelf / FEW[8]).rename(shelf / os.fsdecode(b"Bl\xe4tter.JPG"))
    folder = shelf.with_name(os.fsdecode(b"k\xfcche"))
    shelf.rename(folder)
    out = run(folder, masks=True, report=True).out
    assert "Bl\\xe4tter.JPG" in set(table(out, "frames")["frame"])
    assert (out / "masks" / "Bl\\xe4tter.png").is_file()
    assert "k\\xfcche" in (out / "report.html").read_text("utf-8")
    assert film_job(out, options=FilmOptions(), progress=Silent()).film is not None


def test_a_picture_too_large_is_left_out_and_a_hundred_files_of_junk_hurt_nobody(shelf: Path):
    data = bytearray((shelf / FEW[9]).read_bytes())
    frame = data.index(b"\xff\xc0")
    data[frame + 5 : frame + 9] = (30_000).to_bytes(2, "big") * 2
    (shelf / FEW[9]).write_bytes(data)
    for number in range(100):
        (shelf / f"junk {number}.jpg").write_bytes(b"junk" * number)
    frames = table(run(shelf).out, "frames").set_index("frame")
    assert frames.loc[FEW[9], "reason"].startswith("damaged: too large: 30000 x 30000 are 900 megapixels")
    assert frames["used"].sum() == len(FEW) - 1


def test_a_folder_that_vanishes_while_it_is_measured_is_named_and_gone_on_with(shelf: Path, few: Path):
    away = shelf.with_name("card")

    class Pulled(Silent):
        """Progress that pulls the card out at the third photo."""

        @contextmanager
        def stage(self, name: str, total: int) -> Iterator["Pulled"]:
            self.left = 3 if name == "measuring photos" else -1
            yield self

        def advance(self, n: int = 1) -> None:
            self.left -= n
            if self.left == 0:
                shelf.rename(away)

    with pytest.raises(PhotosError, match=r"the folder of this photo is not there(.|\n)*what is measured is kept"):
        run(shelf, progress=Pulled())
    away.rename(shelf)
    out = run(shelf).out
    assert (out / "measurements.csv").read_bytes() == (few / "measurements.csv").read_bytes()
