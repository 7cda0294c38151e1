"""What goes wrong while a folder is watched: one photo, one file or one part never stops the rest."""

import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from shelf_photos import FEW, halve
from watched_folder import Clock, frames, look, watching

from sproutlapse import job_watch_round
from sproutlapse.errors import ClusterError, SproutlapseError
from sproutlapse.work.crew import LocalCrew
from sproutlapse.work.engine import Shared, Task, Told


class Failing(LocalCrew):
    """A crew that cannot measure one photo."""

    def __init__(self, frame: str, error: Exception) -> None:
        super().__init__(1)
        self.frame, self.error, self.tries = frame, error, 0

    def measure(self, tasks: Sequence[Task], shared: Shared) -> Iterator[Told]:
        for task in tasks:
            if task.frame == self.frame:
                self.tries += 1
                raise self.error
            yield from super().measure([task], shared)


@pytest.mark.parametrize("named", [True, False])
def test_a_photo_that_makes_the_measuring_fail_is_left_out_and_the_others_are_measured(
    named: bool, shelf_run: Path, tmp_path: Path, capsys
):
    late = ["P3030059.JPG", "P3030060.JPG"]
    for name in late:
        halve(name, tmp_path / name)
    watch = watching(shelf_run)
    look(watch)
    place = shelf_run / late[0]
    crew = Failing(late[0], SproutlapseError("two workers died.", where=str(place)) if named else MemoryError())
    watch.rounds.crew = crew
    for name in late:
        shutil.move(tmp_path / name, shelf_run / name)
    for _ in range(6):
        look(watch, 3.0)
    told = frames(shelf_run)
    assert [frame for frame in told.index if not told["used"][frame]] == late[:1]
    assert "3 tries" in told["reason"][late[0]]
    tries = crew.tries
    look(watch, 100.0)
    assert crew.tries == tries
    assert "What to do" not in capsys.readouterr().out
    crew.frame = ""
    place.touch()
    for _ in range(2):
        look(watch, 20.0)
    assert frames(shelf_run)["used"].all()


def test_the_camera_has_not_stopped_while_its_photos_are_being_measured(
    shelf: Path, tmp_path: Path, capsys, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(job_watch_round, "FRAMES", 2)  # few at once, as on a slow machine
    for name in FEW:
        shutil.move(shelf / name, tmp_path / name)
    clock = Clock()
    watch = watching(shelf, clock)
    look(watch)
    for name in FEW[:6]:
        shutil.move(tmp_path / name, shelf / name)
    for _ in range(3):
        look(watch, 20 * 3600.0)
    assert "stopped" not in capsys.readouterr().out
    look(watch, 1000 * 3600.0)
    assert "stopped" in capsys.readouterr().out


def test_a_broken_tray_is_tried_once_and_stops_neither_news_nor_page_nor_silence(
    shelf_run: Path, capsys, monkeypatch: pytest.MonkeyPatch
):
    watch = watching(shelf_run)
    look(watch)
    rounds: list[object] = []
    take = watch.rounds.take
    monkeypatch.setattr(watch.rounds, "take", lambda *given: (rounds.append(given), take(*given))[1])
    tray = shelf_run / "tray.toml"
    tray.write_text(tray.read_text("utf-8").replace("[view]", "[veiw]"), "utf-8")
    for _ in range(4):
        look(watch, 0.3)
    assert len(rounds) == 1
    look(watch, 1000 * 3600.0)
    told = capsys.readouterr().out
    assert told.count("veiw") >= 1
    assert "The camera has stopped" in told


def test_a_part_that_fails_takes_no_other_along(shelf_run: Path, capsys, monkeypatch: pytest.MonkeyPatch):
    watch = watching(shelf_run)
    look(watch)

    def fails() -> list[str]:
        raise ValueError("no news")

    monkeypatch.setattr(watch.news, "step", fails)
    for _ in range(20):
        look(watch, 1000 * 3600.0)
    told = capsys.readouterr().out
    assert told.count("no news") == 1
    assert "The camera has stopped" in told


def test_what_waits_at_the_end_is_told(shelf_run: Path, tmp_path: Path, capsys):
    for name in FEW[9:]:
        shutil.move(shelf_run / name, tmp_path / name)
    watch = watching(shelf_run)
    look(watch)
    watch.close()
    assert "holds all that came" in capsys.readouterr().out
    watch = watching(shelf_run)
    look(watch)
    for name in FEW[9:]:
        whole = (tmp_path / name).read_bytes()
        (shelf_run / name).write_bytes(whole[: len(whole) // 2])
    look(watch)
    watch.pages.page = True
    assert watch.outcome is not None
    watch.pages.offer(watch.outcome.whole, None)
    watch.close()
    told = capsys.readouterr().out.splitlines()[-1]
    assert told.startswith("Stopped. Not yet in ")
    assert "2 photos, the latest page." in told


def test_a_cluster_that_goes_away_is_waited_for_and_its_photos_are_not_blamed(shelf_run: Path, tmp_path: Path, capsys):
    watch = watching(shelf_run)
    look(watch)
    late = "P3030060.JPG"
    crew = Failing(late, ClusterError("the scheduler went away.", where="tcp://127.0.0.1:9"))
    watch.rounds.crew = crew
    halve(late, tmp_path / late)
    shutil.move(tmp_path / late, shelf_run / late)
    for _ in range(5):
        look(watch, 0.3)
    assert crew.tries == 1
    for _ in range(5):
        look(watch, 400.0)
    assert crew.tries == 6
    assert late not in frames(shelf_run).index
    crew.frame = ""
    look(watch, 400.0)
    assert frames(shelf_run)["used"][late]
    assert capsys.readouterr().out.count("went away") == 1
