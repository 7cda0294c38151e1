"""A watch that tests take step by step, with a clock of their own."""

import threading
from pathlib import Path

import pandas as pd

from sproutlapse.job_watch import Watch, Wishes
from sproutlapse.job_watch_round import Place
from sproutlapse.watch.post import Asked
from sproutlapse.work.crew import LocalCrew
from sproutlapse.work.place import results_folder


class Clock:
    """Seconds that pass as a test wants them to, and a little with each look."""

    now = 1000.0

    def __call__(self) -> float:
        self.now += 0.001
        return self.now


def watching(folder: Path, clock: Clock | None = None, asked: Asked | None = None) -> Watch:
    """A watch that was begun, with masks, without page and film."""
    out = results_folder(folder, None)
    wishes = Wishes(film=False, page=False, asked=asked or Asked(), night=None)
    watch = Watch(Place(folder, None, out, True), LocalCrew(1), wishes, threading.Event(), clock or Clock())
    watch.begin()
    return watch


def look(watch: Watch, seconds: float = 1.0) -> None:
    """Let some time pass, and look."""
    watch.clock.now += seconds  # type: ignore[attr-defined]
    watch.step()


def results(folder: Path) -> Path:
    return folder.with_name("photos-results")


def frames(folder: Path) -> pd.DataFrame:
    return pd.read_csv(results(folder) / "frames.csv", keep_default_na=False).set_index("frame")
