"""Many photos measured side by side: workers that start once, each photo decoded once, findings in as they come."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import asdict, dataclass, field
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import cv2

from sproutlapse.errors import SproutlapseError
from sproutlapse.frames import audit, decode
from sproutlapse.tray import Tray
from sproutlapse.vision.findings import Findings
from sproutlapse.vision.measure import measure
from sproutlapse.vision.reference import Reference

AHEAD = 3  # photos waiting for each worker, so that memory does not grow with the folder


@dataclass(frozen=True)
class Task:
    """One photo to measure."""

    frame: str
    path: Path
    digest: str


@dataclass(frozen=True)
class Told:
    """What one photo told: `damaged` is why it cannot be decoded; `look` its numbers; `found` its findings."""

    task: Task
    damaged: str = ""
    look: dict[str, Any] = field(default_factory=dict)
    found: Findings | None = None


def look_at(task: Task) -> tuple[Told, Any]:
    """Decode a photo and take its numbers; the picture is None where it cannot be decoded."""
    try:
        picture = decode.decode(decode.read_bytes(task.path), task.frame)
    except decode.Damaged as error:
        return Told(task, damaged=str(error)), None
    return Told(task, look=asdict(audit.look(picture))), picture


def measure_photo(task: Task, reference: Reference, usual: audit.Usual, tray: Tray) -> Told:
    """Everything about one photo that needs its pixels."""
    told, picture = look_at(task)
    if picture is None:
        return told
    fault = audit.fault(audit.Look(**told.look), usual)
    found = Findings(fault) if fault else measure(picture, reference, tray)
    return Told(task, look=told.look, found=found)


_HERE: tuple[Reference, audit.Usual, Tray] | None = None


def _start(reference: Reference, usual: audit.Usual, tray: Tray) -> None:
    cv2.setNumThreads(1)
    global _HERE  # noqa: PLW0603 - a worker keeps what all its photos share, sent once
    _HERE = (reference, usual, tray)


def _work(task: Task) -> Told:
    if _HERE is None:
        raise RuntimeError("the worker was not started")
    return measure_photo(task, *_HERE)


def measure_all(tasks: Sequence[Task], reference: Reference, usual: audit.Usual, tray: Tray,
                workers: int) -> Iterator[Told]:
    """What each photo told, in the order in which they are done.

    Parameters
    ----------
    tasks
        Photos to measure.
    reference, usual, tray
        What each is compared with.
    workers
        Processes; 1 measures in this one.

    Raises
    ------
    SproutlapseError
        If a worker process died.
    """
    workers = min(workers, len(tasks))
    if workers <= 1:
        yield from (measure_photo(task, reference, usual, tray) for task in tasks)
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=_start,
                             initargs=(reference, usual, tray)) as pool:
        waiting: set[Future[Told]] = set()
        queue = iter(tasks)
        try:
            for task in queue:
                waiting.add(pool.submit(_work, task))
                if len(waiting) >= workers * AHEAD:
                    done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                    yield from (future.result() for future in done)
            while waiting:
                done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                yield from (future.result() for future in done)
        except BrokenProcessPool as error:
            raise SproutlapseError("a worker stopped without a word, most likely for want of memory.",
                                   remedy="Run again with --workers 1; what is measured already is kept.") from error
        finally:
            for future in waiting:
                future.cancel()
