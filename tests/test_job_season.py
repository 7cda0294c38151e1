"""All trays of a season in one run: each as if it were run alone, none lost to another, the next run quick."""

from __future__ import annotations

import csv
import shutil
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import pytest
from shelf_photos import FEW, halve, written

from sproutlapse.errors import PhotosError, ResultsError
from sproutlapse.job_season import SeasonSummary, Wanted, season_job
from sproutlapse.progress import Silent
from sproutlapse.work.store import Store

TABLES = Wanted(masks=True, film=False, report=False)


class Watched:
    """Counts photos as they are done, and keeps what is said."""

    def __init__(self) -> None:
        self.measured, self.said = 0, []

    @contextmanager
    def stage(self, name, total):
        self.total = total
        yield self

    def advance(self, n=1):
        self.measured += n

    def say(self, text):
        self.said.append(text)


def run_all(root: Path, wanted: Wanted = TABLES, **options: object) -> SeasonSummary:
    settings: dict[str, object] = {"out": None, "workers": 2, "progress": Silent()}
    return season_job(root, wanted=wanted, **{**settings, **options})  # type: ignore[arg-type]


def break_tray(folder: Path) -> None:
    """Misspell a key."""
    text = (folder / "tray.toml").read_text("utf-8")
    (folder / "tray.toml").write_text(text.replace("[view]", "[veiw]"), "utf-8")


def some_photos_told(results: Path) -> bool:
    """Whether the store of a run under way, which nobody else can read, has grown by more than its empty tables."""
    log = results / "store.sqlite-wal"
    return log.is_file() and log.stat().st_size > 80_000


@pytest.fixture(scope="module")
def made(few_photos: Path, few: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, SeasonSummary]:
    """Two trays of one sort in two rooms, the first measured before by itself; and one with a misspelt tray.toml."""
    root = tmp_path_factory.mktemp("rooms") / "season"
    for name in ("attic/peppers", "cellar/peppers", "cellar/broken"):
        shutil.copytree(few_photos, root / name)
    for name in ("attic/peppers", "cellar/broken"):
        shutil.copytree(few, root / f"{name}-results")
    break_tray(root / "cellar" / "broken")
    return root, run_all(root)


@pytest.fixture
def season(made: tuple[Path, SeasonSummary], tmp_path: Path) -> Path:
    """A copy of the two trays and the broken one, with file times kept, that a test may change."""
    return Path(shutil.copytree(made[0], tmp_path / "season"))


def test_each_tray_gets_the_bytes_that_a_run_of_its_own_would_give(made: tuple[Path, SeasonSummary], few: Path):
    for room in ("attic", "cellar"):
        assert written(made[0] / room / "peppers-results") == written(few)


def test_a_broken_tray_is_told_and_costs_the_others_nothing(made: tuple[Path, SeasonSummary]):
    root, summary = made
    assert summary.failed == 1
    assert any("1 of 3 trays could not be done: cellar/broken" in line for line in summary.lines)
    page = (root / "season.html").read_text("utf-8")
    assert "veiw" in page
    assert "What to do: " in page
    assert "not done" in page


def test_one_table_holds_the_sowings_of_all_trays(made: tuple[Path, SeasonSummary]):
    with (made[0] / "season.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["tray"] for row in rows] == ["attic/peppers"] * 3 + ["cellar/peppers"] * 3
    assert rows[0]["results"] == "attic/peppers-results"
    with (made[0] / "attic" / "peppers-results" / "sowings.csv").open(encoding="utf-8", newline="") as file:
        for row, own in zip(rows, csv.DictReader(file), strict=False):
            assert {name: row[name] for name in own} == own


def test_again_with_nothing_new_nothing_is_touched(season: Path):
    changes = ("store.sqlite", "season.html")  # the page names the broken file, which lies elsewhere in the copy
    before = {path: path.stat().st_mtime_ns for path in season.rglob("*.*") if path.name not in changes}
    start = time.process_time()
    run_all(season)
    assert time.process_time() - start < 1.0
    assert {path: path.stat().st_mtime_ns for path in before} == before


def test_a_new_photo_is_measured_and_the_broken_tray_once_it_is_mended(season: Path, few_photos: Path):
    halve("P3030060.JPG", season / "attic" / "peppers" / "P3030060.JPG")
    shutil.copy2(few_photos / "tray.toml", season / "cellar" / "broken" / "tray.toml")
    watched = Watched()
    summary = run_all(season, progress=watched)
    assert (summary.failed, watched.total) == (0, 3 * len(FEW) + 1)
    table = (season / "attic" / "peppers-results" / "frames.csv").read_text("utf-8")
    assert "P3030060.JPG" in table
    assert "Could not be done" not in (season / "season.html").read_text("utf-8")


def test_a_table_that_was_taken_away_is_written_again(season: Path):
    table = season / "cellar" / "peppers-results" / "plants.csv"
    before = table.read_bytes()
    table.unlink()
    run_all(season)
    assert table.read_bytes() == before


def test_a_tray_that_breaks_keeps_what_its_last_run_told(season: Path):
    break_tray(season / "cellar" / "peppers")
    watched = Watched()
    assert run_all(season, progress=watched).failed == 2
    assert any(text.startswith("cellar/peppers: ") and "What to do" in text for text in watched.said)
    page = (season / "season.html").read_text("utf-8")
    assert "not up to date" in page
    assert (season / "season.csv").read_text("utf-8").count("cellar/peppers,") == 3


def test_all_results_can_go_below_another_folder_and_keep_their_paths(season: Path, few: Path):
    shutil.rmtree(season / "cellar")
    (season / "season.html").unlink()
    (season / "out" / "attic").mkdir(parents=True)
    shutil.move(season / "attic" / "peppers-results", season / "out" / "attic" / "peppers-results")
    watched = Watched()
    run_all(season, out=season / "out", progress=watched)
    assert watched.total == len(FEW)
    assert written(season / "out" / "attic" / "peppers-results") == written(few)
    assert "attic/peppers-results" in (season / "out" / "season.csv").read_text("utf-8")
    assert (season / "out" / "season.html").is_file()
    assert [path.name for path in (season / "attic").iterdir()] == ["peppers"]
    assert not (season / "season.html").exists()


def test_a_root_that_is_a_tray_itself_gets_no_file_of_ours(shelf_run: Path):
    before = sorted(path.name for path in shelf_run.iterdir())
    summary = run_all(shelf_run)
    assert sorted(path.name for path in shelf_run.iterdir()) == before
    assert summary.page == shelf_run.with_name("photos-results").resolve() / "season.html"


def test_a_tray_of_the_root_s_own_name_gets_results_of_its_own(shelf: Path, tmp_path: Path, few: Path):
    root = shelf.rename(shelf.with_name("season"))
    shutil.copytree(root, root / "season")
    shutil.copytree(few, tmp_path / "out" / "season-results")
    shutil.copytree(few, tmp_path / "out" / "results")
    halve("P3030060.JPG", root / "P3030060.JPG")
    assert run_all(root, out=tmp_path / "out", workers=1).failed == 0
    rows = [len((tmp_path / "out" / name / "frames.csv").read_text("utf-8").splitlines()) - 1
            for name in ("results", "season-results")]  # fmt: skip
    assert rows == [len(FEW) + 1, len(FEW)]


def test_results_never_go_into_a_folder_of_photos(shelf_run: Path):
    with pytest.raises(ResultsError, match="folder of photos"):
        run_all(shelf_run, out=shelf_run / "out")


def test_a_root_without_any_tray_is_refused(tmp_path: Path):
    with pytest.raises(PhotosError, match=r"tray\.toml"):
        run_all(tmp_path)


def test_the_page_leads_to_the_page_of_each_tray(season: Path):
    shutil.rmtree(season / "cellar")
    run_all(season, Wanted(film=False, report=True))
    assert '<a href="attic/peppers-results/report.html">attic/peppers</a>' in (season / "season.html").read_text(
        "utf-8"
    )
    assert (season / "attic" / "peppers-results" / "report.html").is_file()


@pytest.mark.skipif(sys.platform == "win32", reason="a console's Ctrl-C cannot be sent to one process there")
def test_stopped_from_the_keyboard_it_ends_at_once_and_keeps_what_is_measured(season: Path):
    shutil.rmtree(season / "attic" / "peppers-results")
    command = [sys.executable, "-m", "sproutlapse", "run", "--all", str(season), "--no-film", "--no-report", "-q"]
    running = subprocess.Popen([*command, "--workers", "2"], stderr=subprocess.PIPE, text=True)
    try:
        while not some_photos_told(season / "attic" / "peppers-results") and running.poll() is None:
            time.sleep(0.02)
        running.send_signal(signal.SIGINT)
        assert running.wait(60) == 130
    finally:
        running.kill()
    assert running.stderr is not None
    assert "Stopped" in running.stderr.read()
    with Store(season / "attic" / "peppers-results") as store:
        assert store.looks()
