"""Again with other photos in the folder: grown, shrunk, changed, broken off; and page and film without the photos."""

import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pandas as pd
import pytest
from shelf_photos import FEW, halve, run, written

from sproutlapse.errors import PhotosError, ResultsError
from sproutlapse.film.options import FilmOptions
from sproutlapse.job import film_job, report_job
from sproutlapse.job_again import forget_other_looks
from sproutlapse.job_steps import MEASURING
from sproutlapse.progress import Silent
from sproutlapse.work.store import NAME, Store

KILLED = """
import os, signal, sys
from contextlib import contextmanager
from pathlib import Path
from sproutlapse.job import run_job
from sproutlapse.progress import Silent

class Deadly(Silent):
    left = int(sys.argv[2])

    @contextmanager
    def stage(self, name, total):
        self.measuring = name == "measuring photos"
        yield self

    def advance(self, n=1):
        self.left -= self.measuring
        if self.left == 0:
            os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))

if __name__ == "__main__":
    run_job(Path(sys.argv[1]), tray_path=None, out=None, masks=False, film=False, report=False,
            workers=int(sys.argv[3]), progress=Deadly())
"""


def from_nothing(folder: Path, tmp_path: Path) -> dict[str, bytes]:
    return written(run(folder, tmp_path / "from-nothing", masks=True).out)


def count_measured(out: Path) -> int:
    with closing(sqlite3.connect(out / NAME)) as db:
        return int(db.execute("SELECT count(*) FROM findings").fetchone()[0])


def test_a_photo_that_vanished_leaves_the_tables_as_if_it_had_never_been(shelf_run: Path, tmp_path: Path):
    (shelf_run / FEW[8]).unlink()
    assert written(run(shelf_run, masks=True).out) == from_nothing(shelf_run, tmp_path)


def test_a_photo_replaced_under_the_same_name_is_measured_anew(shelf_run: Path, tmp_path: Path):
    halve("P3030060.JPG", shelf_run / FEW[-1])
    out = run(shelf_run, masks=True).out
    assert written(out) == from_nothing(shelf_run, tmp_path)
    assert "2025-03-18T02:10:00" in (out / "measurements.csv").read_text("utf-8")


def test_an_earlier_photo_that_turns_up_makes_all_be_measured_again(shelf: Path, tmp_path: Path):
    first = shelf / FEW[0]
    shutil.move(first, tmp_path / FEW[0])
    out = run(shelf, masks=True).out
    with Store(out) as store:
        before = store.about("reference")
    shutil.move(tmp_path / FEW[0], first)
    assert written(run(shelf, masks=True).out) == from_nothing(shelf, tmp_path)
    with Store(out) as store:
        assert store.about("reference") != before
    assert count_measured(out) == len(FEW)


def test_a_copy_of_a_photo_is_left_out_and_changes_no_number(shelf_run: Path, few: Path):
    shutil.copy2(shelf_run / FEW[3], shelf_run / "copy.JPG")
    out = run(shelf_run).out
    frames = pd.read_csv(out / "frames.csv", keep_default_na=False).set_index("frame")
    left_out = frames[~frames["used"]]
    assert len(left_out) == 1
    assert left_out["reason"].iloc[0].startswith("duplicate: same picture as")
    numbers = pd.read_csv(out / "measurements.csv").drop(columns="frame")
    assert numbers.equals(pd.read_csv(few / "measurements.csv").drop(columns="frame"))


def broken_off(folder: Path, script: Path, after: int, workers: int) -> int:
    """Run in a process of its own that is killed when so many photos are kept; the status it ended with.

    Workers inherit its error stream, so that reading that to its end waits for them as well.
    """
    script.write_text(KILLED, "utf-8")
    words = [sys.executable, str(script), str(folder), str(after), str(workers)]
    return subprocess.run(words, capture_output=True, timeout=60, check=False).returncode


def test_a_run_that_was_killed_goes_on_and_ends_with_the_same_bytes(shelf: Path, few: Path, tmp_path: Path):
    out = shelf.with_name("photos-results")
    assert broken_off(shelf, tmp_path / "killed.py", after=3, workers=1) != 0
    assert not (out / "measurements.csv").exists()
    with pytest.raises(ResultsError, match="never came to its end"):
        report_job(out, progress=Silent())
    assert count_measured(out) == 3
    assert written(run(shelf, masks=True).out) == written(few)


def test_workers_end_with_a_run_that_was_killed(shelf: Path, tmp_path: Path):
    assert broken_off(shelf, tmp_path / "killed.py", after=2, workers=2) != 0


def test_a_second_run_at_the_same_time_is_told_so(shelf_run: Path):
    with Store(shelf_run.with_name("photos-results")), pytest.raises(ResultsError, match="in use by another run"):
        run(shelf_run)


def test_a_lock_left_by_a_killed_run_does_not_last(tmp_path: Path):
    text = f"from pathlib import Path; from sproutlapse.work.store import Store; import os; \
s = Store(Path({str(tmp_path)!r})); s.set_about({{'folder': 'f'}}); os._exit(9)"
    subprocess.run([sys.executable, "-c", text], check=False)
    with Store(tmp_path) as store:
        assert store.about("folder") == "f"


def test_tables_and_page_are_made_again_after_the_photos_were_moved_away(shelf_run: Path, few: Path):
    out = run(shelf_run).out
    shutil.rmtree(shelf_run)
    (out / "plants.csv").unlink()
    summary = report_job(out, progress=Silent())
    assert summary.report is not None
    assert summary.report.is_file()
    assert (out / "plants.csv").read_bytes() == (few / "plants.csv").read_bytes()


def test_the_film_says_that_the_photos_were_moved_away(shelf_run: Path):
    out = run(shelf_run).out
    shutil.rmtree(shelf_run)
    with pytest.raises(PhotosError, match=FEW[0]):
        film_job(out, options=FilmOptions(), progress=Silent())
    assert not (out / "film.mp4").exists()


def test_photos_and_results_moved_together_are_found_again(shelf_run: Path, tmp_path: Path):
    run(shelf_run)
    moved = tmp_path / "elsewhere"
    moved.mkdir()
    for name in ("photos", "photos-results"):
        shutil.move(tmp_path / name, moved / name)
    summary = film_job(moved / "photos-results", options=FilmOptions(), progress=Silent())
    assert summary.film is not None
    assert summary.film.is_file()


def test_corrections_by_hand_in_the_results_are_not_written_over(shelf_run: Path):
    tray = shelf_run.with_name("photos-results") / "tray.toml"
    corrected = tray.read_text("utf-8").replace('"low tubes"', '"left tubes"') + "# my own remark\n"
    tray.write_text(corrected, "utf-8")
    with pytest.raises(ResultsError, match="changed by hand"):
        run(shelf_run)
    run(shelf_run, tray_path=tray)
    assert "left tubes" in tray.read_text("utf-8")
    assert "# my own remark" in tray.read_text("utf-8")


def test_a_mask_of_a_photo_that_no_longer_counts_is_taken_away(shelf_run: Path):
    (shelf_run / FEW[-1]).unlink()
    out = run(shelf_run, masks=True).out
    assert len(list((out / "masks").glob("*.png"))) == len(FEW) - 1


KILLED_WRITING = """
import os, signal, sys
from pathlib import Path
from sproutlapse.job import run_job
from sproutlapse.progress import Silent

left, flush = int(sys.argv[2]), os.fsync

def deadly(number):
    global left
    left -= 1
    if not left:
        os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))
    flush(number)

os.fsync = deadly
if __name__ == "__main__":
    run_job(Path(sys.argv[1]), tray_path=None, out=None, masks=True, film=False, report=False,
            workers=1, progress=Silent())
"""


@pytest.mark.parametrize("nth", [2, 16])
def test_a_run_killed_while_it_writes_tables_and_masks_is_taken_up(
    shelf_run: Path, few: Path, tmp_path: Path, nth: int
):
    """Killed before the n-th file that it writes is safe on disk: what is left beside is cleared by the next run."""
    out = shelf_run.with_name("photos-results")
    for path in [*out.glob("*.csv"), out / "tray.toml", *out.rglob("masks/*.png")]:
        path.unlink()
    (tmp_path / "killed.py").write_text(KILLED_WRITING, "utf-8")
    command = [sys.executable, str(tmp_path / "killed.py"), str(shelf_run), str(nth)]
    assert subprocess.run(command, check=False, timeout=120).returncode not in (0, 1)
    assert [path for path in out.rglob("*") if ".part" in path.name]
    assert written(run(shelf_run, masks=True).out) == written(few)
    assert not [path for path in out.rglob("*") if ".part" in path.name or path.name == "tray.toml.new"]
    assert not (out / ".held.json").exists()


def change(folder: Path, old: str, new: str) -> None:
    text = (folder / "tray.toml").read_text("utf-8")
    assert old in text
    (folder / "tray.toml").write_text(text.replace(old, new, 1), "utf-8")


def test_what_plants_are_judged_by_needs_no_photo_measured_again(shelf_run: Path):
    before = reference_of(shelf_run)
    change(shelf_run, 'habit = "broadleaf"', 'habit = "rosette"')
    words = " ".join(run(shelf_run).lines)
    assert "tray.toml was changed (habit of A): no photo has to be measured again for that." in words
    assert reference_of(shelf_run) == before
    assert "measured again" not in " ".join(run(shelf_run).lines)


def test_a_place_that_changed_has_all_measured_again_and_says_why(shelf_run: Path):
    change(shelf_run, "soil_y_px = 287.75", "soil_y_px = 286.75")
    words = " ".join(run(shelf_run).lines)
    assert f"{len(FEW)} photos are measured again, since tray.toml was changed (soil_y_px of A)." in words


def test_results_of_an_earlier_version_are_measured_again_and_until_then_not_read(shelf_run: Path, few: Path):
    out = shelf_run.with_name("photos-results")
    with closing(sqlite3.connect(out / NAME)) as db, db:
        db.execute("UPDATE about SET value = '2' WHERE key = 'measuring'")
        db.execute("UPDATE about SET value = '\"0.0.3\"' WHERE key = 'version'")
        db.execute("UPDATE about SET value = '\"old\"' WHERE key = 'reference'")
        db.execute("UPDATE findings SET reference = 'old', found = '{\"roots\": 3}'")
        db.execute("DELETE FROM about WHERE key = 'written_by'")
    for job in (lambda: report_job(out, progress=Silent()),
                lambda: film_job(out, options=FilmOptions(), progress=Silent())):  # fmt: skip
        with pytest.raises(ResultsError, match=r"earlier version \(0\.0\.3\)(.|\n)*sproutlapse run .*photos --out"):
            job()
    summary = run(shelf_run, masks=True)
    assert "measured again, since this version of sproutlapse measures otherwise" in " ".join(summary.lines)
    assert written(out) == written(few)


def looks_as_of(out: Path, measuring: int, *, ended: bool) -> None:
    """Let the looks be those of another way of measuring: one photo smaller than it is, one not to be decoded."""
    with closing(sqlite3.connect(out / NAME)) as db, db:
        one, other = (row[0] for row in db.execute("SELECT digest FROM files ORDER BY frame DESC LIMIT 2"))
        db.execute("UPDATE looks SET look = json_set(look, '$.width', 1) WHERE digest = ?", (one,))
        db.execute("UPDATE looks SET damaged = 'cut off', look = '{}' WHERE digest = ?", (other,))
        db.execute("UPDATE about SET value = json_set(value, '$[1]', ?) WHERE key = 'written_by'", (measuring,))
        db.execute("UPDATE findings SET reference = 'old'")
        if ended:
            db.execute("UPDATE about SET value = ? WHERE key = 'measuring'", (str(measuring),))
            db.execute("UPDATE about SET value = '\"old\"' WHERE key = 'reference'")
        else:
            db.execute("DELETE FROM about WHERE key IN ('measuring', 'version', 'reference')")


@pytest.mark.parametrize("ended", [True, False])
def test_looks_of_another_way_of_measuring_are_not_taken_for_ours(shelf_run: Path, few: Path, ended: bool):
    out = shelf_run.with_name("photos-results")
    looks_as_of(out, MEASURING - 1, ended=ended)
    assert written(run(shelf_run, masks=True).out) == written(few)


def test_a_run_that_was_broken_off_keeps_its_looks(shelf: Path, tmp_path: Path):
    out = shelf.with_name("photos-results")
    assert broken_off(shelf, tmp_path / "killed.py", after=3, workers=1) != 0
    with Store(out) as store:
        looks = store.looks()
        assert looks
        assert store.about("measuring") is None
        forget_other_looks(store, MEASURING)
        assert store.looks() == looks
        forget_other_looks(store, MEASURING + 1)
        assert store.looks() == {}
        store.keep("photo", "", {}, "", None)
        forget_other_looks(store, MEASURING + 1)
        assert set(store.looks()) == {"photo"}


@pytest.mark.parametrize("written_by", ['["0.1.0", 9999]', '["99.0", 1]'])
def test_results_that_a_later_version_wrote_to_are_left_alone(shelf_run: Path, written_by: str):
    out = shelf_run.with_name("photos-results")
    with closing(sqlite3.connect(out / NAME)) as db, db:
        db.execute("UPDATE about SET value = ? WHERE key = 'written_by'", (written_by,))
    before = written(out)
    with pytest.raises(ResultsError, match=r"later version(.|\n)*Update sproutlapse"):
        run(shelf_run)
    assert written(out) == before


def reference_of(folder: Path) -> str:
    with Store(folder.with_name("photos-results")) as store:
        return str(store.about("reference"))
