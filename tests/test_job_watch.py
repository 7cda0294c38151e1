"""A folder watched as it grows: after each photo the tables and masks are those that a run would write."""

import shutil
import time
from pathlib import Path

import pandas as pd
import pytest
from shelf_photos import FEW, halve, run, written
from watched_folder import frames, look, results, watching

from sproutlapse.errors import ResultsError
from sproutlapse.watch.alone import alone
from sproutlapse.watch.arriving import GIVEN_UP_S, MISSING_S
from sproutlapse.watch.post import Asked
from sproutlapse.work.store import Store


def test_after_each_photo_the_tables_are_those_of_a_run(few_photos: Path, few: Path, tmp_path: Path):
    folder = tmp_path / "photos"
    folder.mkdir()
    watch = watching(folder)
    look(watch)
    assert not (results(folder) / "frames.csv").exists()
    shutil.copy2(few_photos / "tray.toml", folder)
    for count, new in enumerate([FEW[:1], FEW[1:7], FEW[7:8], FEW[8:9], FEW[9:]]):
        for name in new:
            shutil.copy2(few_photos / name, folder)
        look(watch)
        if count != 3:
            assert written(results(folder)) == written(run(folder, tmp_path / "run", masks=True).out)
    assert written(results(folder)) == written(few)


def test_a_photo_that_is_copied_slowly_counts_when_its_last_row_is_there(shelf_run: Path, few: Path):
    whole = (shelf_run / FEW[-1]).read_bytes()
    (shelf_run / FEW[-1]).unlink()
    watch = watching(shelf_run)
    look(watch)
    assert FEW[-1] not in frames(shelf_run).index
    with (shelf_run / FEW[-1]).open("wb") as file:
        for part in (whole[:2000], whole[2000:20000]):
            file.write(part)
            file.flush()
            look(watch)
            assert FEW[-1] not in frames(shelf_run).index
        file.write(whole[20000:])
    look(watch)
    look(watch)
    assert written(results(shelf_run)) == written(few)


def test_half_a_photo_is_damaged_after_a_minute_and_measured_when_the_rest_comes(shelf_run: Path, few: Path, capsys):
    whole = (shelf_run / FEW[-1]).read_bytes()
    (shelf_run / FEW[-1]).write_bytes(whole[: len(whole) // 2])
    watch = watching(shelf_run)
    look(watch)
    assert FEW[-1] not in frames(shelf_run).index
    look(watch, GIVEN_UP_S)
    reason = frames(shelf_run)["reason"][FEW[-1]]
    assert "damaged" in reason
    assert capsys.readouterr().out.count(f"left out: {reason}") == 1
    assert written(results(shelf_run)) != written(few)
    (shelf_run / FEW[-1]).write_bytes(whole)
    look(watch)
    look(watch)
    assert frames(shelf_run)["used"].all()


def test_photos_replaced_and_taken_away_lead_to_what_a_run_writes(shelf_run: Path, tmp_path: Path):
    watch = watching(shelf_run)
    look(watch)
    halve("P3030060.JPG", shelf_run / FEW[-1])
    (shelf_run / FEW[8]).unlink()
    look(watch, 30.0)
    look(watch, MISSING_S + 30.0)
    assert len(frames(shelf_run)) == len(FEW) - 1
    assert written(results(shelf_run)) == written(run(shelf_run, tmp_path / "run", masks=True).out)


def test_a_folder_that_vanishes_changes_nothing_and_is_taken_up_again(shelf_run: Path, few: Path, capsys):
    new = (shelf_run / FEW[-1]).read_bytes()
    (shelf_run / FEW[-1]).unlink()
    watch = watching(shelf_run)
    look(watch)
    before = written(results(shelf_run))
    away = shelf_run.rename(shelf_run.with_name("away"))
    for _ in range(3):
        look(watch, 60.0)
    shelf_run.mkdir()  # the empty place of a disk that is not there
    look(watch, 60.0)
    assert written(results(shelf_run)) == before
    shelf_run.rmdir()
    away.rename(shelf_run)
    (shelf_run / FEW[-1]).write_bytes(new)
    look(watch, 60.0)
    assert len(frames(shelf_run)) == len(FEW)
    words = capsys.readouterr().out
    assert words.count("waiting until it is there again") == 1
    assert words.count("is there again.\n") == 2


def test_between_two_photos_others_may_use_the_results_but_no_second_watch(shelf_run: Path):
    watch = watching(shelf_run)
    look(watch)
    with Store(results(shelf_run)) as store:
        assert store.about("reference")
    with alone(results(shelf_run)), pytest.raises(ResultsError, match="watched already"), alone(results(shelf_run)):
        pass


def test_somebody_else_at_the_results_is_waited_for(shelf_run: Path, capsys):
    new = (shelf_run / FEW[-1]).read_bytes()
    (shelf_run / FEW[-1]).unlink()
    watch = watching(shelf_run)
    look(watch)
    with Store(results(shelf_run)):
        (shelf_run / FEW[-1]).write_bytes(new)
        look(watch)
        look(watch)
    assert capsys.readouterr().out.count("in use") == 1
    look(watch, 10.0)
    assert FEW[-1] in frames(shelf_run).index


def test_events_of_before_are_history_and_later_ones_are_told_once(shelf_run: Path, capsys, tmp_path: Path):
    for name in FEW[9:]:
        shutil.move(shelf_run / name, tmp_path / name)
    told = tmp_path / "told.jsonl"
    asked = Asked(command=f'cat >> "{told}"')
    watch = watching(shelf_run, asked=asked)
    look(watch)
    assert "came up" not in capsys.readouterr().out
    for name in FEW[9:]:
        shutil.move(tmp_path / name, shelf_run / name)
    look(watch)
    assert capsys.readouterr().out.count("5 plants came up") == 1
    until = time.monotonic() + 20
    while time.monotonic() < until and (not told.exists() or watch.news.letters):
        look(watch)
        time.sleep(0.05)
    watch.close()
    sent = pd.read_json(told, lines=True)
    assert sent["sowing"].is_unique
    again = watching(shelf_run, asked=asked)
    look(again)
    look(again)
    again.close()
    assert len(pd.read_json(told, lines=True)) == len(sent)
