"""What the trays of a season share while they are done: one crew in turn, and one bar for the photos of all."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, ExitStack, contextmanager
from typing import Self

from sproutlapse.errors import ClusterError, SproutlapseError
from sproutlapse.frames.trays import TrayFolder
from sproutlapse.progress import Progress, Silent, Stage
from sproutlapse.work.crew import Crew
from sproutlapse.work.engine import Shared, Task, Told

MEASURING = "measuring photos"  # the stage that counts photos


class InTurn(Crew):
    """A crew that several trays use side by side: it measures the photos of one after those of the other.

    Parameters
    ----------
    crew
        Who measures. It is not closed by closing this one.
    """

    def __init__(self, crew: Crew) -> None:
        self._crew, self._turn = crew, threading.Lock()
        self._stopped: SproutlapseError | None = None

    def measure(self, tasks: Sequence[Task], shared: Shared) -> Iterator[Told]:
        """See `Crew.measure`; it begins once the photos of the tray before are done."""
        with self._turn:
            self._must_go_on()
            try:
                for told in self._crew.measure(tasks, shared):
                    yield told
                    self._must_go_on()
            except ClusterError as error:
                self.stop(error)  # the next tray would only wait for the same machines again
                raise

    def _must_go_on(self) -> None:
        if self._stopped is not None:
            raise self._stopped

    def get_ready(self, photos: int) -> None:
        """See `Crew.get_ready`; while photos of another tray are measured, the workers are there already."""
        if self._turn.acquire(blocking=False):
            try:
                self._crew.get_ready(photos)
            finally:
                self._turn.release()

    @property
    def unlike(self) -> Sequence[str]:
        """See `Crew.unlike`."""
        return self._crew.unlike

    def stop(self, why: SproutlapseError | None = None) -> None:
        """Nothing more is measured, for this reason: who is at it ends with the photos in hand."""
        self._stopped = why or SproutlapseError("stopped.", remedy="Run again: what is measured is kept.")

    def close(self) -> None:
        """Nothing; the crew belongs to who made it."""


class Shares(AbstractContextManager["Shares"]):
    """One bar over the photos of all trays. Use it as a context manager.

    Parameters
    ----------
    progress
        Where the bar is shown.
    trays
        With how many photos each has.
    """

    def __init__(self, progress: Progress, trays: Sequence[TrayFolder]) -> None:
        self._progress, self._total = progress, sum(tray.photos for tray in trays)
        self._name = f"{len(trays)} trays" if len(trays) > 1 else "1 tray"
        self._lock, self._open = threading.Lock(), ExitStack()
        self._left = {tray.name: tray.photos for tray in trays}
        self._stage: Stage | None = None

    def __enter__(self) -> Self:
        self._stage = self._open.enter_context(self._progress.stage(f"photos of {self._name}", self._total))
        return self

    def __exit__(self, *_exc: object) -> None:
        self._open.close()

    def of(self, tray: TrayFolder) -> Progress:
        """Where one tray tells how far it is."""
        return _Share(self, tray.name)

    def advance(self, name: str, n: int) -> None:
        """So many photos of a tray are measured; those of further views of its camera count once."""
        with self._lock:
            n = min(n, self._left[name])
            self._left[name] -= n
            if n and self._stage is not None:
                self._stage.advance(n)

    def finished(self, tray: TrayFolder) -> None:
        """A tray is done: what was measured before, or could not be, counts now."""
        self.advance(tray.name, tray.photos)

    def say(self, text: str) -> None:
        """One sentence for the person who waits."""
        with self._lock:
            self._progress.say(text)

    def complain(self, text: str) -> None:
        """What went wrong, which is told also where nothing else is."""
        if isinstance(self._progress, Silent):
            print(text, file=sys.stderr, flush=True)
        else:
            self.say(text)


class _Share(Silent):
    """One tray's part of the bar."""

    def __init__(self, shares: Shares, name: str) -> None:
        self._shares, self._name = shares, name

    @contextmanager
    def stage(self, name: str, total: int) -> Iterator[Stage]:
        yield _Counting(self._shares, self._name, name == MEASURING)

    def say(self, text: str) -> None:
        self._shares.say(f"{self._name}: {text}")


class _Counting:
    def __init__(self, shares: Shares, name: str, counts: bool) -> None:
        self._shares, self._name, self._counts = shares, name, counts

    def advance(self, n: int = 1) -> None:
        if self._counts:
            self._shares.advance(self._name, n)
