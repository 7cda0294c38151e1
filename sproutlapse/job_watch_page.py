"""Page and film while photos come: made by a process of its own, so that they hold no photo up, and not too often."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from typing import TYPE_CHECKING, Any

from sproutlapse.plainly import as_told
from sproutlapse.progress import Silent
from sproutlapse.work.crew import end_with_parent

if TYPE_CHECKING:
    from sproutlapse.results import Results

# ruff: noqa: PLC0415 - page and film are imported by the process that makes them

EVERY_S = 60.0  # from the beginning of one to that of the next, at least
NICE = 10  # photos that come go first


@dataclass
class PageMaker:
    """Page and film of the latest results, at most once a minute, and never more than half of the time.

    Attributes
    ----------
    film, page
        Which of them are wanted.
    clock
        Seconds that only ever rise.
    """

    film: bool
    page: bool
    clock: Callable[[], float]
    _process: SpawnProcess | None = None
    _starter: threading.Thread | None = None
    _end: Connection | None = None
    _began: float = 0.0
    _due: float = 0.0
    _whole: Results | None = None
    _kept: Any = None
    _making: tuple[Results, Any] | None = None
    _not_begun: list[str] = field(default_factory=list)  # why a process could not be started
    _trouble: str = ""

    def offer(self, whole: Results, kept: Any) -> None:
        """These are the results now; `kept` is how the film was last asked for, as the store has it."""
        if self.film or self.page:
            self._whole, self._kept = whole, kept

    def step(self) -> str:
        """Begin if it is time to; what went wrong with the last ones, empty if nothing did or the same as before."""
        trouble = self._ended() if self._process is not None else ""
        if self._process is None and self._whole is not None and self.clock() >= self._due:
            self._began = self.clock()
            self._due = self._began + EVERY_S
            context = get_context("spawn")
            self._end, other = context.Pipe(duplex=False)
            told = (self._whole, self._kept, self.film, self.page, other)
            self._process = context.Process(target=_make, args=told, daemon=True)
            # The results go over while the other process loads its libraries: a photo must not wait for that.
            told_of = (self._process, other, self._not_begun)
            self._starter = threading.Thread(target=_start, args=told_of, daemon=True)
            self._making, self._whole = (self._whole, self._kept), None
            self._starter.start()
        return trouble

    @property
    def busy(self) -> bool:
        """Whether it is at work, or will be."""
        return self._process is not None or self._whole is not None

    def close(self) -> None:
        """Give up what is being made: the files of the last time stay."""
        if self._process is not None and self._starter is not None:
            if self._starter.is_alive():
                self._starter.join()
            if self._process.pid is not None:
                self._process.terminate()
                self._process.join()
            self._process = None

    def _ended(self) -> str:
        assert self._process is not None
        assert self._end is not None
        if (self._starter is not None and self._starter.is_alive()) or self._process.is_alive():
            return ""
        trouble = "page and film could not be made: their process stopped without a word"
        if self._not_begun:
            trouble = f"page and film could not be made: {self._not_begun.pop()}"
        elif self._end.poll():
            with suppress(EOFError):
                trouble = str(self._end.recv())
        if self._process.pid is not None:
            self._process.join()
        self._end.close()
        self._process = None
        if trouble and self._whole is None and self._making is not None:
            self._whole, self._kept = self._making  # tried again, unless there is something newer
        self._making = None
        said, self._trouble = self._trouble, trouble
        # A film that takes long must not keep the machine busy all the time.
        self._due = max(self._due, 2 * self.clock() - self._began)
        return trouble if trouble != said else ""


def _start(process: SpawnProcess, end: Connection, not_begun: list[str]) -> None:
    """Start a process that Ctrl-C does not reach, not even while it loads; run in a thread of its own."""
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        process.start()
    except Exception as error:  # no memory or no process left, say
        not_begun.append(str(as_told(error)))
    end.close()


def _make(whole: Results, kept: Any, film: bool, page: bool, end: Connection) -> None:
    """What the process does; its words go to `end`."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threading.Thread(target=end_with_parent, daemon=True).start()
    if hasattr(os, "nice"):
        os.nice(NICE)
    trouble = ""
    try:
        path = whole.out / "film.mp4"
        if film and any(frame.used for frame in whole.frames):
            from sproutlapse.job_film import film_as_kept

            path, _lines = film_as_kept(whole, kept, Silent())
        if page:
            from sproutlapse.report.page import write_report

            write_report(whole, film=path if path.is_file() else None)
    except Exception as error:  # it is told by the watch, which tries again
        trouble = f"page and film could not be made: {as_told(error)}"
    end.send(trouble)
