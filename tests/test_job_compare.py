"""`compare` and `sheets` on results of real runs, and what they say where nothing can be compared."""

import json
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from sproutlapse.compare.sheets import sheets_of
from sproutlapse.errors import ResultsError
from sproutlapse.growth.compared import compared
from sproutlapse.growth.fair_pots import pots_of
from sproutlapse.job_compare import _file_name, compare_job, opened_together, sheets_job
from sproutlapse.progress import Silent


def compare(*results: Path, by: str = "sowing", crop: str | None = None, out: Path | None = None) -> list[str]:
    return compare_job(results, by=by, crop=crop, out=out, progress=Silent())


@pytest.fixture
def two(few: Path, tmp_path: Path) -> tuple[Path, Path]:
    """The same results twice, as those of two trays."""
    return tuple(Path(shutil.copytree(few, tmp_path / name)) for name in ("left-results", "right-results"))


def test_page_tables_and_charts_are_written_and_nothing_else_changes(two: tuple[Path, Path]):
    before = {path: path.read_bytes() for path in two[0].rglob("*.csv")}
    lines = compare(*two)
    folder = two[0] / "compare-sowing"
    page = (folder / "compare.html").read_text("utf-8")
    assert "2 trays: left and right" in page
    assert {"compare.csv", "groups.csv", "pots.csv", "came-up.svg", "came-up.png"} <= {p.name for p in folder.iterdir()}
    assert len(pd.read_csv(folder / "pots.csv")) == 10
    assert any("no claim" in line for line in lines)  # the shelf's sowings stand side by side
    assert {path: path.read_bytes() for path in before} == before


@pytest.mark.parametrize(
    ("by", "crop", "words"),
    [("tray", None, "only one tray here(.|\n)*Name the results of several trays"),
     ("place", None, "no plant has a place named(.|\n)*write place"),
     ("sowing", "leek", "nobody named a crop “leek”(.|\n)*basil"),
     ("crop", "pepper", "only one crop here, “pepper”")],
)  # fmt: skip
def test_what_cannot_be_compared_is_said(few: Path, tmp_path: Path, by, crop, words):
    with pytest.raises(ResultsError, match=words):
        compare(few, by=by, crop=crop, out=tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_folder_named_twice_and_one_without_results(few: Path, tmp_path: Path):
    with pytest.raises(ResultsError, match="named twice"):
        compare(few, few)
    with pytest.raises(ResultsError, match="no results of a run"):
        compare(few, tmp_path)


@pytest.mark.parametrize(("key", "value", "words"), [
    ("version", "0.0.9", r"another version(.|\n)*Run both photo folders again"),
    ("measuring", 1, r"measured by an earlier version(.|\n)*sproutlapse run .*photos --out"),
    ("measuring", 10_000, r"written by a later version(.|\n)*Update sproutlapse"),
    ("version", "999.0", r"written by a later version(.|\n)*Update sproutlapse"),
])  # fmt: skip
def test_results_of_two_versions_are_not_mixed(two: tuple[Path, Path], key: str, value: object, words: str):
    with closing(sqlite3.connect(two[1] / "store.sqlite")) as store, store:
        changed = store.execute("UPDATE about SET value = ? WHERE key = ?", (json.dumps(value), key)).rowcount
    assert changed == 1
    with pytest.raises(ResultsError, match=words):
        compare(*two)


def test_a_sheet_proves_each_count_by_two_pieces_of_photos(few: Path, tmp_path: Path):
    lines = sheets_job([few], by="sowing", out=tmp_path / "sheets", csv=True, progress=Silent())
    pages = sorted((tmp_path / "sheets").glob("*.html"))
    proofs = pd.read_csv(tmp_path / "sheets" / "proofs.csv")
    assert len(pages) == 3 and len(lines) == 4
    up = pd.read_csv(few / "plants.csv")["emerged_by"].notna().sum()
    assert len(proofs) == up > 0
    shown = sum(page.read_text("utf-8").count("in the first photo that shows it") for page in pages)
    assert shown == up
    run = json.loads((few / "run.json").read_text("utf-8"))
    assert all(run["photos"][row.photo_with] == row.fingerprint_with for row in proofs.itertuples())


def test_sheets_without_photos_say_that_they_are_gone(few: Path, tmp_path: Path):
    [(tray, whole)] = opened_together([few], Silent())
    gone = replace(whole, frames=tuple(replace(f, path=tmp_path / f.frame) for f in whole.frames))
    pages = [sheet.html for sheet in sheets_of(compared(pots_of(tray), "sowing"), [(tray, gone)])]
    assert any("Its photo is no longer there" in page for page in pages)


def test_every_disk_takes_the_name_of_a_sheet_and_each_sheet_has_its_own():
    taken: set[str] = set()
    wanted = ("con", "NUL", "lpt1", "kale", "Kale", "kale, early", "kale early", "???", "!")
    names = [_file_name(name, taken) for name in wanted]
    # Microsoft, "Naming Files, Paths, and Namespaces": a file of such a name is a device on Windows.
    assert not {name.casefold() for name in names} & {"con", "nul", "lpt1"}
    assert len({name.casefold() for name in names}) == len(wanted)
    assert (names[3], names[5]) == ("kale", "kale-early")
