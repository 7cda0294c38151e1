"""Photos measured by the workers of a Dask scheduler: the same unit of work as on this machine, only elsewhere.

Only plain values and the standard library's own functions pass through the scheduler, so that it needs nothing of ours.
Workers read a photo by its path where they see the same file, and get its bytes where they do not.
"""

from __future__ import annotations

import hashlib
import logging
import operator
import pickle
import queue
import time
import warnings
from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2

from sproutlapse.errors import ClusterError, SproutlapseError
from sproutlapse.frames.decode import read_bytes
from sproutlapse.vision.findings import Findings
from sproutlapse.work.crew import WORTH, Crew
from sproutlapse.work.engine import Shared, Task, Told, measure_photo
from sproutlapse.work.machine import Machine, this_machine

ANSWER_S = 20.0  # for the scheduler to answer
LOADING = 3  # times that, for workers that load their libraries first
WORKERS_S = 60.0  # for workers to come, where there are none: some clusters start them when there is work
LOOK_S = 5.0  # from one look at the cluster to the next
AHEAD = 2  # photos in hand or waiting for each thread of a worker
MOST_BYTES = 512 * 2**20  # of photos that are sent and not yet measured
TRIES = 3  # times that a photo may be lost with its workers

_KEPT = "What is measured is kept: run again, with or without --cluster, and it goes on where it stopped."


@dataclass(frozen=True)
class Answer:
    """What a worker says of a photo; `seen` is whether it found the file that was meant."""

    machine: Machine
    seen: bool = True
    damaged: str = ""
    look: dict[str, Any] | None = None
    found: Findings | None = None


@dataclass(frozen=True)
class Bench:
    """What a worker needs to measure: called with a photo, it answers. It travels once to each worker."""

    shared: Shared
    tool: str

    def __call__(self, frame: str, path: str, digest: str, data: bytes | None) -> Answer:
        """Measure a photo, by its bytes or else by its path."""
        machine = this_machine()
        if machine.tool != self.tool:
            return Answer(machine)
        if data is None and not _is_file(path, digest):
            return Answer(machine, seen=False)
        cv2.setNumThreads(1)  # a worker has as many threads of its own as it was told to
        told = measure_photo(Task(frame, Path(path), digest, data), self.shared)
        return Answer(machine, True, told.damaged, told.look, told.found)


def _is_file(path: str, digest: str) -> bool:
    """Whether the same file lies there as where it was entered."""
    try:
        return hashlib.sha256(Path(path).read_bytes()).hexdigest() == digest
    except OSError:
        return False


@dataclass(frozen=True)
class _Unit:
    """A photo on its way: its bytes if they are sent, and how often it was lost with a worker."""

    task: Task
    sent: bool = False
    size: int = 0
    lost: int = 0


class ClusterCrew(Crew):
    """Workers of a Dask scheduler that runs already.

    Parameters
    ----------
    address
        The scheduler's, as it tells it: `tcp://192.168.1.20:8786`.
    answer_s
        How long the scheduler may take to answer, in seconds.
    workers_s
        How long to wait for workers where there are none, in seconds.

    Raises
    ------
    ClusterError
        From each call but `close`: if the scheduler does not answer or went away, has no workers, or has some with
        another version of the tool.
    """

    def __init__(self, address: str, *, answer_s: float = ANSWER_S, workers_s: float = WORKERS_S) -> None:
        self.address, self.answer_s, self.workers_s = address, answer_s, workers_s
        self._client: Any = None
        self._unlike: dict[str, None] = {}

    @property
    def unlike(self) -> Sequence[str]:
        """In what workers that measured differ from this machine; of the last call of `measure`."""
        return tuple(self._unlike)

    def get_ready(self, photos: int) -> None:
        """Connect, and ask each worker what it measures with."""
        if photos and self._client is None:
            self._client = _connected(self.address, self.answer_s)
            self._ask_workers()

    def measure(self, tasks: Sequence[Task], shared: Shared) -> Iterator[Told]:
        """See `Crew.measure`."""
        if not tasks:
            return
        self.get_ready(len(tasks))
        self._unlike = {}
        round_ = _Round(self, tasks, pickle.dumps(Bench(replace(shared), this_machine().tool), protocol=5))
        while round_.todo or round_.flying:
            round_.send()
            for unit, answer in round_.answers():
                self.must_fit(answer.machine, "a worker")
                if unlike := answer.machine.unlike(this_machine()):
                    self._unlike.setdefault(unlike)
                yield Told(unit.task, answer.damaged, answer.look or {}, answer.found)

    def close(self) -> None:
        """Leave the cluster; what it still had to do is given up there."""
        client, self._client = self._client, None
        if client is not None:
            with suppress(Exception):
                client.close(timeout=LOOK_S)

    def threads(self) -> dict[str, int]:
        """How many photos each worker can measure at once, by its address."""
        return dict(self.ask(self._client.nthreads))

    def ask(self, way: Any, *values: Any, within: float | None = None, **more: Any) -> Any:
        """The scheduler's answer, within its time."""
        try:
            return self._client.sync(way, *values, callback_timeout=within or self.answer_s, **more)
        except SproutlapseError:
            raise
        except Exception as error:
            raise self.gone() from error

    def gone(self) -> ClusterError:
        """What to say of a scheduler that was there."""
        return ClusterError(
            "the scheduler of the cluster went away, or answers no more.", where=self.address, remedy=_KEPT
        )

    def must_fit(self, machine: Machine, who: str) -> None:
        """Refuse a worker with another version of the tool."""
        here = this_machine()
        if machine.tool != here.tool:
            raise ClusterError(
                f"{who} has sproutlapse {machine.tool}, this machine has {here.tool}.",
                where=self.address,
                remedy="Install the same version on all of them and start the workers again: what other versions "
                "measure cannot be put into one table.",
            )

    def _ask_workers(self) -> None:
        # A worker loads our libraries for this, which takes a small machine a while.
        answers = self.ask(self._client.run, this_machine, on_error="return", within=LOADING * self.answer_s)
        for address, answer in answers.items():
            if isinstance(answer, Machine):
                self.must_fit(answer, f"the worker {address}")
            elif isinstance(answer, ImportError):
                raise not_there(self.address, f"the worker {address}", answer)


def joined(address: str) -> ClusterCrew:
    """A crew on the cluster at this address, asked already: what is wrong is said before an hour of reading files.

    Raises
    ------
    ClusterError
        If the scheduler does not answer, or a worker cannot take part.
    """
    crew = ClusterCrew(address)
    try:
        crew.get_ready(1)
    except BaseException:
        crew.close()
        raise
    return crew


def not_there(address: str, who: str, error: BaseException) -> ClusterError:
    """What to say of a worker that lacks the tool or a library."""
    return ClusterError(
        f"{who} cannot measure ({error}).",
        where=address,
        remedy=f"Install sproutlapse {this_machine().tool.partition(' ')[0]} there, into the Python that runs "
        "`dask worker`, and start the worker again.",
    )


def _connected(address: str, answer_s: float) -> Any:
    """A client of the scheduler at this address."""
    try:
        import distributed  # noqa: PLC0415 - an extra, and a second of loading
    except ImportError as error:
        raise ClusterError(
            "a cluster needs one more library, which is not installed.",
            remedy='Run: pip install "sproutlapse[cluster]"',
        ) from error
    # What it would say of lost connections is said by us; versions are compared by us.
    for name in ("distributed", "distributed.client"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            kind: Any = distributed.Client
            client = kind.__new__(kind)
            try:
                client.__init__(address, timeout=answer_s, set_as_default=False)
            except BaseException:
                # Else it is closed when it is cleared away: if that is while another starts, both wait for ever.
                with suppress(Exception):
                    client.close(timeout=LOOK_S)
                raise
            return client
    except Exception as error:  # addresses that cannot be, names that are not known, nobody there, other protocols
        raise ClusterError(
            f"no Dask scheduler answers there ({str(error).partition(chr(10))[0] or type(error).__name__}).",
            where=address,
            remedy="Check the address (as `dask scheduler` prints it: tcp://HOST:8786), that it runs, and that no "
            "firewall stands between; or run without --cluster.",
        ) from error


class _Round:
    """One call of `measure`: photos to send, photos on their way, answers that came."""

    def __init__(self, crew: ClusterCrew, tasks: Sequence[Task], bench: bytes) -> None:
        self.crew, self._client = crew, crew._client
        self.todo = deque(_Unit(task) for task in tasks)
        self.flying: dict[str, tuple[Any, _Unit]] = {}
        self._data = bench
        self._bench: Any = None
        self._ended: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._by_bytes = False
        self._workers: dict[str, int] = {}
        self._with_workers = time.monotonic()
        self._look_around()

    def send(self) -> None:
        """Send photos until each thread has enough."""
        if time.monotonic() - self._looked > LOOK_S:
            self._look_around()
        most = max(AHEAD * sum(self._workers.values()), 1)
        while self.todo and len(self.flying) < most:
            under_way = sum(unit.size for _future, unit in self.flying.values())
            if self.flying and under_way > MOST_BYTES:
                return
            self._send(self.todo.popleft())

    def answers(self) -> Iterator[tuple[_Unit, Answer]]:
        """What came since, at least one answer unless a worker was lost or there is time to look around."""
        lost = []
        for future, unit, answer in self._gathered(self._came()):
            if answer is None:
                lost.append((future, unit))
            elif not answer.seen:
                self._by_bytes = True
                self.todo.appendleft(replace(unit, sent=True))
            else:
                yield unit, answer
        for future, unit in lost:
            self._looked = -LOOK_S  # who is still there is asked before any more is sent
            self._again(future, unit)

    def _send(self, unit: _Unit) -> None:
        task, data = unit.task, None
        if unit.sent or self._by_bytes:
            data = read_bytes(task.path)
            unit = replace(unit, sent=True, size=len(data))
        path = str(task.path.absolute())
        try:
            future = self._client.submit(operator.call, self._held(), task.frame, path, task.digest, data, pure=False)
        except Exception as error:  # a client that lost its scheduler takes nothing more
            raise self.crew.gone() from error
        self.flying[future.key] = future, unit
        future.add_done_callback(self._ended.put)

    def _held(self) -> Any:
        """The bench, held by the workers. It is a task and no data: if all that hold it die, others make it again."""
        if self._bench is None or self._bench.status not in ("pending", "finished"):
            import dask  # noqa: PLC0415 - an extra

            with dask.config.set({"distributed.admin.large-graph-warning-threshold": "1GiB"}):
                self._bench = self._client.submit(pickle.loads, self._data, pure=False)
        return self._bench

    def _look_around(self) -> None:
        """See which workers there are, and give the bench to new ones."""
        workers = self.crew.threads()
        now = self._looked = time.monotonic()
        if workers:
            self._with_workers = now
        elif now - self._with_workers > self.crew.workers_s:
            raise ClusterError(
                f"the scheduler has had no workers for {self.crew.workers_s:.0f} s.",
                where=self.crew.address,
                remedy=f"Start some: dask worker {self.crew.address}. {_KEPT}",
            )
        if set(workers) - set(self._workers) and len(self.todo) > WORTH * len(workers) > WORTH:
            with suppress(Exception):  # those that have none get it with their first photo
                self._client.replicate([self._held()], callback_timeout=self.crew.answer_s)
        self._workers = workers

    def _came(self) -> list[tuple[Any, _Unit]]:
        """Photos that are done or lost; waits for the first, but not longer than to the next look around."""
        keys: list[str] = []
        with suppress(queue.Empty):
            keys.append(self._ended.get(timeout=LOOK_S).key)
            while True:
                keys.append(self._ended.get_nowait().key)
        return [self.flying.pop(key) for key in keys if key in self.flying]

    def _gathered(self, came: list[tuple[Any, _Unit]]) -> Iterator[tuple[Any, _Unit, Answer | None]]:
        """Their answers, fetched together; None for one that was lost."""
        done = [future for future, _unit in came if future.status == "finished"]
        told: dict[str, Answer | None] = {}
        if done:
            # What a worker took along when it died is made again by others, if there are any; else it is lost.
            with suppress(ClusterError):
                told = self.crew.ask(self._client.gather, {future.key: future for future in done}, errors="skip")
        for future, unit in came:
            yield future, unit, told.get(future.key)

    def _again(self, future: Any, unit: _Unit) -> None:
        """Send a lost photo again, or say why that makes no sense."""
        error = future.exception(timeout=self.crew.answer_s) if future.status == "error" else None
        if isinstance(error, SproutlapseError):
            raise error
        if isinstance(error, ImportError):
            raise not_there(self.crew.address, "a worker", error)
        killed = type(error).__name__ == "KilledWorker"
        if error is not None and not killed:
            raise error
        if unit.lost + 1 >= TRIES:
            raise ClusterError(
                "workers died again and again while this photo was with them, most likely for want of memory.",
                where=str(unit.task.path),
                remedy=f"Give them more, or fewer threads (dask worker --nthreads 1). {_KEPT}",
            )
        self.todo.appendleft(replace(unit, lost=unit.lost + 1))
