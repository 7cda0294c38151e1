"""Notes and done marks of a real results folder: kept through new runs, and nothing else changed by them."""

import shutil
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from shelf_photos import TABLES, run

from sproutlapse.errors import ResultsError
from sproutlapse.film.options import FilmOptions, Note, with_diary
from sproutlapse.job import open_results
from sproutlapse.job_diary import done_job, note_job
from sproutlapse.job_explain import explain_job
from sproutlapse.job_looked import keep_looked, with_looked
from sproutlapse.progress import Silent
from sproutlapse.work.diary import NAME, read_diary
from sproutlapse.work.store import Store


@pytest.fixture
def out(few: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(few, tmp_path / "photos-results"))


def note(out: Path, text: str, at: str | None = None) -> list[str]:
    return note_job(out, text, at=at, progress=Silent())


def done(out: Path, item: str) -> list[str]:
    return done_job(out, item, progress=Silent())


def first_and_last(out: Path) -> tuple[str, str]:
    frames = [frame.time for frame in open_results(out).frames if frame.used]
    return frames[0], frames[-1]


def test_a_note_is_kept_and_stands_in_each_plants_story(out: Path) -> None:
    last = first_and_last(out)[1]
    assert "fan on, 2 h a day" in note(out, "  fan on,\n2 h a day ")[0]
    (entry,) = read_diary(out)
    assert (entry.time, entry.text) == (last, "fan on, 2 h a day")
    assert any("your note: fan on, 2 h a day" in line for line in explain_job(out, "A"))


def test_tables_are_the_same_with_and_without_notes_and_a_run_keeps_them(shelf_run: Path) -> None:
    out = shelf_run.with_name("photos-results")
    before = {name: (out / name).read_bytes() for name in TABLES}
    note(out, "potted on")
    words = (out / NAME).read_bytes()
    run(shelf_run)
    assert {name: (out / name).read_bytes() for name in TABLES} == before
    assert (out / NAME).read_bytes() == words


def test_what_is_done_leaves_the_list(out: Path) -> None:
    items = open_results(out).care
    assert items
    lines = done(out, items[0].id)
    assert lines[0].startswith(f"Done: {items[0].title}")
    assert items[0].key not in [item.key for item in open_results(out).care]


def test_times_are_taken_within_the_photos_only(out: Path) -> None:
    first, last = first_and_last(out)
    note(out, "a", last[:10])
    note(out, "b", first[:10])
    note(out, "c", last)
    assert [entry.time for entry in read_diary(out) if entry.text == "c"] == [last]
    assert all(first <= entry.time <= last for entry in read_diary(out))
    for wrong in ("2001-01-01", "2099-01-01 10:00"):
        with pytest.raises(ResultsError, match="outside the photos"):
            note(out, "x", wrong)
    with pytest.raises(ResultsError, match="is no time"):
        note(out, "x", "tomorrow")
    assert len(read_diary(out)) == 3


def test_bad_input_is_told_plainly_and_writes_nothing(out: Path, tmp_path: Path) -> None:
    with pytest.raises(ResultsError, match="says nothing"):
        note(out, "   ")
    with pytest.raises(ResultsError, match=r"nothing on the list is named “water”") as told:
        done(out, "water")
    assert open_results(out).care[0].id in str(told.value)
    for command in (note, done):
        with pytest.raises(ResultsError, match="no results of a run"):
            command(tmp_path, "x")
    assert not (out / NAME).exists()
    assert not (tmp_path / NAME).exists()


def test_since_you_last_looked_means_the_page_before_and_not_each_quiet_run(out: Path) -> None:
    whole = open_results(out)
    last = [frame for frame in whole.frames if frame.used][-1]
    earlier = replace(whole, frames=tuple(f for f in whole.frames if f is not last))
    before = [frame.time for frame in earlier.frames if frame.used][-1]
    with Store(out) as store:
        assert with_looked(store, earlier).looked == ""
        keep_looked(store, earlier)
        assert with_looked(store, earlier).looked == ""
        assert with_looked(store, whole).looked == before
        assert with_looked(store, whole).looked == before, "a page that was never made uses nothing up"
        keep_looked(store, whole)
        assert with_looked(store, whole).looked == before, "the same page again"
        assert with_looked(store, earlier).looked == "", "photos that are gone"


def test_notes_are_told_by_a_film_that_tells_moments(out: Path) -> None:
    note(out, "fan on")
    diary = read_diary(out)
    own = Note(datetime(2026, 3, 5), "mine")
    assert with_diary(FilmOptions(), diary).notes == ()
    told = with_diary(FilmOptions(moments=True, notes=(own,)), diary).notes
    assert [one.text for one in told] == ["fan on", "mine"]
