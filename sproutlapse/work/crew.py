"""Who measures the photos: one small interface, and the processes of this machine behind it.

Photos and what they are compared with go in, findings come out as each is done. Another crew stands in `cluster.py`.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import signal
import threading
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import replace
from multiprocessing import get_context, parent_process
from types import TracebackType
from typing import Protocol, Self

import cv2

from sproutlapse.errors import SproutlapseError
from sproutlapse.work.engine import Shared, Task, Told, measure_photo

AHEAD = 3  # photos in hand or waiting for each worker, so that memory does not grow with the folder
WORTH = 4  # photos that a worker must have to be worth its start, which loads libraries for about a second
KEPT = 2  # values to compare with that a worker keeps: a camera that was set up anew has two in turn

# A worker is one thread: libraries of linear algebra would each start as many as there are cores.
ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")


class Crew(Protocol):
    """Workers that measure photos. Use it as a context manager, or close it."""

    def measure(self, tasks: Sequence[Task], shared: Shared) -> Iterator[Told]:
        """What each photo told, in the order in which they are done.

        Parameters
        ----------
        tasks
            Photos to measure.
        shared
            What each is compared with.

        Raises
        ------
        PhotosError
            If a photo went or changed meanwhile.
        SproutlapseError
            If the workers fail; what came before is true and may be kept.
        """
        ...

    def get_ready(self, photos: int) -> None:
        """About so many photos are going to be measured: workers may start while others things are done."""
        ...

    @property
    def unlike(self) -> Sequence[str]:
        """In what workers that measured differ from this machine, where that may change the last digits of what they
        find: of the last call of `measure`, as far as it came."""
        ...

    def close(self) -> None:
        """Let the workers go. Photos not measured by then are given up."""
        ...

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()


class LocalCrew(Crew):
    """Processes of this machine. They start once, when they are first needed, and live over several calls.

    Parameters
    ----------
    workers
        Processes, or None for one per processor core. One measures in this process, as do a few photos only.
    """

    def __init__(self, workers: int | None = None) -> None:
        self.workers = workers or os.cpu_count() or 1
        self._lanes: list[_Lane] = []
        self._feared: set[str] = set()  # photos that a worker died of: never measured in this process again

    @property
    def unlike(self) -> Sequence[str]:
        """Nothing: workers are this machine."""
        return ()

    def get_ready(self, photos: int) -> None:
        """Start the processes that so many photos need; they load their libraries meanwhile."""
        wanted = min(self.workers, photos // WORTH)
        if wanted > 1:
            self._lanes += [_Lane() for _ in range(wanted - len(self._lanes))]

    def measure(self, tasks: Sequence[Task], shared: Shared) -> Iterator[Told]:
        """See `Crew.measure`. A photo whose worker died is measured once more before the run gives up."""
        self.get_ready(len(tasks))
        feared = self.workers > 1 and any(task.digest in self._feared for task in tasks)
        if feared and not self._lanes:
            self._lanes.append(_Lane())
        if not self._lanes or (len(tasks) == 1 and not feared):
            yield from _here(tasks, shared)
            return
        packed = _Packed(shared)
        todo, deadly = deque(tasks), set[str]()
        try:
            while todo or self._in_hand():
                self._hand_out(todo, packed)
                yield from self._finished(todo, deadly)
        finally:
            if self._in_hand():
                self.close()

    def close(self) -> None:
        """End the processes; each finishes the photo that it has in hand. Used again, the crew starts new ones."""
        lanes, self._lanes = self._lanes, []
        enders = [threading.Thread(target=lane.end) for lane in lanes]
        for ender in enders:
            ender.start()
        for ender in enders:
            ender.join()

    def _in_hand(self) -> int:
        return sum(len(lane.waiting) for lane in self._lanes)

    def _hand_out(self, todo: deque[Task], packed: _Packed) -> None:
        """Give each worker its next photos; towards the end no more than its share, so that all end together."""
        share = -(-(len(todo) + self._in_hand()) // len(self._lanes))
        while todo:
            lane = min(self._lanes, key=lambda lane: len(lane.waiting))
            if len(lane.waiting) >= min(AHEAD, share):
                return
            try:
                lane.give(todo[0], packed)
            except BrokenProcessPool:  # it died with nothing in hand, or its end is not noticed yet
                todo.extendleft(reversed(self._lost(lane)))
            else:
                todo.popleft()

    def _finished(self, todo: deque[Task], deadly: set[str]) -> Iterator[Told]:
        """What is done by now, at least one photo; those of a worker that died are put back to be done first."""
        wait([future for lane in self._lanes for future in lane.waiting], return_when=FIRST_COMPLETED)
        trouble: BaseException | None = None
        for lane in tuple(self._lanes):
            for future in [future for future in lane.waiting if future.done()]:
                error = future.exception()
                if isinstance(error, BrokenProcessPool):
                    lost = self._lost(lane)
                    self._feared.add(lost[0].digest)
                    trouble = trouble or _died(lost[0], deadly, error)
                    todo.extendleft(reversed(lost))
                    break
                del lane.waiting[future]
                if error is None:
                    yield future.result()
                trouble = trouble or error
        if trouble is not None:
            raise trouble

    def _lost(self, lane: _Lane) -> list[Task]:
        """A new worker in place of one that died; the photos that it had, the one in hand first."""
        self._lanes[self._lanes.index(lane)] = _Lane()
        lane.pool.shutdown(wait=False)
        return list(lane.waiting.values())


class _Packed:
    """What photos are compared with, as bytes, and a name for it that tells whether a worker holds it already."""

    def __init__(self, shared: Shared) -> None:
        self.data = pickle.dumps(replace(shared), protocol=5)  # without what was worked out of it on the way
        self.key = hashlib.sha256(self.data).hexdigest()


class _Lane:
    """One worker process with the photos that wait for it.

    Each has a pool of its own: a process that dies then takes no other's work along, and the first photo that it has
    not answered is the one that it died of.
    """

    def __init__(self) -> None:
        self.pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_start)
        self.waiting: dict[Future[Told], Task] = {}  # in the order in which they were given
        self._holds: list[str] = []
        with _quiet_start():
            self.pool.submit(_ready)

    def give(self, task: Task, packed: _Packed) -> None:
        """A further photo; what it is compared with goes along if the worker does not hold it."""
        new = packed.key not in self._holds
        future = self.pool.submit(_work, task, packed.key, packed.data if new else b"")
        if new:
            self._holds = [*self._holds, packed.key][-KEPT:]
        self.waiting[future] = task

    def end(self) -> None:
        """Wait for the photo in hand and end the process."""
        # Futures cancelled one by one can leave the pool waiting for ever for work that nobody will do (CPython
        # gh-94440, mended in later 3.11 only); the pool itself takes them back safely.
        self.pool.shutdown(wait=True, cancel_futures=True)


def _died(task: Task, deadly: set[str], error: BaseException) -> SproutlapseError | None:
    """What to say of a worker that died: nothing the first time."""
    if task.frame not in deadly:
        deadly.add(task.frame)
        return None
    told = SproutlapseError(
        "two workers, one after the other, stopped without a word while they measured this photo, most likely for want "
        "of memory.",
        where=str(task.path),
        remedy="Run again with --workers 1; what is measured already is kept. If it stops there again, move this photo "
        "out of the folder.",
    )
    told.__cause__ = error
    return told


def _here(tasks: Sequence[Task], shared: Shared) -> Iterator[Told]:
    """Measured in this process, with one thread as a worker has."""
    threads = cv2.getNumThreads()
    cv2.setNumThreads(1)
    try:
        for task in tasks:
            yield measure_photo(task, shared)
    finally:
        cv2.setNumThreads(threads)


@contextmanager
def _quiet_start() -> Iterator[None]:
    """A process that starts now has one thread, and is not stopped from the keyboard while it loads its libraries."""
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    masks = hasattr(signal, "pthread_sigmask")
    held = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT}) if masks else set()
    os.environ.update(ONE_THREAD)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
        if masks:
            signal.pthread_sigmask(signal.SIG_SETMASK, held)


# What follows runs in the worker.

_HOLDS: dict[str, Shared] = {}  # the last few, oldest first


def _start() -> None:
    cv2.setNumThreads(1)
    # Stopping from the keyboard is the main process's part; a worker would only print where it was.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=end_with_parent, daemon=True).start()


def end_with_parent() -> None:
    """A worker whose main process was killed would wait for photos for ever."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _ready() -> None:
    """The first work of a process: that it started."""


def _work(task: Task, key: str, data: bytes) -> Told:
    if data:
        _HOLDS[key] = pickle.loads(data)
        for old in list(_HOLDS)[:-KEPT]:
            del _HOLDS[old]
    return measure_photo(task, _HOLDS[key])
