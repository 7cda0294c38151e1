"""How far a long step is: a bar on a terminal, one plain line a minute elsewhere, nothing when asked to be quiet.

All of it goes to the error stream, so that what a command prints as its result can be read by another program.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import TYPE_CHECKING, Protocol, TextIO

if TYPE_CHECKING:
    from rich.progress import Progress as RichProgress
    from rich.progress import TaskID

LINE_EVERY_S = 60.0


class Stage(Protocol):
    """One long step while it runs."""

    def advance(self, n: int = 1) -> None:
        """Say that `n` more of the step's parts are done."""


class Progress(Protocol):
    """What a long job tells of itself."""

    def stage(self, name: str, total: int) -> AbstractContextManager[Stage]:
        """One long step, named for what it does ("measuring photos"), of `total` parts."""

    def say(self, text: str) -> None:
        """One sentence for the person who waits."""


def progress_for(*, quiet: bool = False, stream: TextIO | None = None) -> Progress:
    """The way to show progress that fits where the words go.

    Parameters
    ----------
    quiet
        Say nothing at all (errors are shown elsewhere, and always).
    stream
        Where to write; the error stream unless given.
    """
    stream = sys.stderr if stream is None else stream
    if quiet:
        return Silent()
    return TerminalBar(stream) if stream.isatty() else PlainLines(stream)


class Silent:
    """Says nothing."""

    @contextmanager
    def stage(self, name: str, total: int) -> Iterator[Stage]:
        yield _SilentStage()

    def say(self, text: str) -> None:
        pass


class _SilentStage:
    def advance(self, n: int = 1) -> None:
        pass


class PlainLines:
    """One plain line a minute, for log files and terminals that cannot redraw a line.

    Parameters
    ----------
    stream
        Where to write.
    clock
        Seconds that only ever rise.
    """

    def __init__(self, stream: TextIO, clock: Callable[[], float] = time.monotonic) -> None:
        self._stream, self._clock = stream, clock

    @contextmanager
    def stage(self, name: str, total: int) -> Iterator[Stage]:
        yield _PlainStage(name, total, self.say, self._clock)

    def say(self, text: str) -> None:
        print(text, file=self._stream, flush=True)


class _PlainStage:
    def __init__(self, name: str, total: int, say: Callable[[str], None], clock: Callable[[], float]) -> None:
        self._name, self._total, self._say, self._clock = name, total, say, clock
        self._done = 0
        self._start = self._last = clock()

    def advance(self, n: int = 1) -> None:
        self._done += n
        now = self._clock()
        if now - self._last < LINE_EVERY_S:
            return
        self._last = now
        left = (now - self._start) * (self._total - self._done) / max(self._done, 1)
        self._say(f"{self._name}: {self._done} of {self._total} done, about {spoken_seconds(left)} left")


def spoken_seconds(seconds: float) -> str:
    """A length of time as one would say it: `40 s`, `7 min`, `2 h 5 min`."""
    if seconds < 90:
        return f"{max(0.0, seconds):.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60} min"


class TerminalBar:
    """A bar that redraws itself, for terminals. Steps that run inside one another share the screen."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._bars: RichProgress | None = None
        self._open = 0

    @contextmanager
    def stage(self, name: str, total: int) -> Iterator[Stage]:
        bars = self._started()
        task = bars.add_task(name, total=total)
        self._open += 1
        try:
            yield _BarStage(bars, task)
        finally:
            self._open -= 1
            if not self._open:
                bars.stop()
                self._bars = None

    def _started(self) -> RichProgress:
        if self._bars is None:
            from rich.console import Console  # noqa: PLC0415 - a late import keeps `--help` quick
            from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn  # noqa: PLC0415 - as above
            from rich.progress import Progress as RichProgress  # noqa: PLC0415 - as above

            columns = (TextColumn("{task.description}", markup=False), BarColumn(), MofNCompleteColumn())
            self._bars = RichProgress(*columns, TimeRemainingColumn(), console=Console(file=self._stream))
            self._bars.start()
        return self._bars

    def say(self, text: str) -> None:
        if self._bars is not None:
            self._bars.console.print(text, markup=False, highlight=False, soft_wrap=True)
        else:
            print(text, file=self._stream, flush=True)


class _BarStage:
    def __init__(self, bars: RichProgress, task: TaskID) -> None:
        self._bars, self._task = bars, task

    def advance(self, n: int = 1) -> None:
        self._bars.advance(self._task, n)
