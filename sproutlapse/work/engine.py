"""Many photos measured side by side: workers that start once, each photo decoded once, findings in as they come."""

from __future__ import annotations

import hashlib
import os
import signal
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import asdict, dataclass, field, replace
from multiprocessing import get_context, parent_process
from pathlib import Path
from typing import Any

import cv2

from sproutlapse.errors import PhotosError, SproutlapseError
from sproutlapse.frames import audit, decode
from sproutlapse.frames.exposure import brightness_value
from sproutlapse.spent import Parts, noting, part
from sproutlapse.tray import Tray
from sproutlapse.vision.cover import covered_plants, something_clear
from sproutlapse.vision.findings import Findings
from sproutlapse.vision.measure import measure
from sproutlapse.vision.reference import Reference

# Faults that a cover with fog on it looks like, where the rest of the picture is clear.
LIKE_FOG = ("hazy", "blurred")
AHEAD = 3  # photos waiting for each worker, so that memory does not grow with the folder


@dataclass(frozen=True)
class Task:
    """One photo to measure."""

    frame: str
    path: Path
    digest: str


@dataclass(frozen=True)
class Told:
    """What one photo told: `damaged` is why it cannot be decoded; `look` its numbers; `found` its findings; `spent` the
    seconds that it took, by part, where that was asked."""

    task: Task
    damaged: str = ""
    look: dict[str, Any] = field(default_factory=dict)
    found: Findings | None = None
    spent: Parts = field(default_factory=dict)


@dataclass(frozen=True)
class Shared:
    """What all photos of a run are compared with; `timed`: whether to note where the time goes."""

    reference: Reference
    usual: audit.Usual
    tray: Tray
    timed: bool = False


def look_at(task: Task) -> tuple[Told, decode.Rgb | None]:
    """Decode a photo and take its numbers; the picture is None where it cannot be decoded.

    Raises
    ------
    PhotosError
        If the file is gone or no longer holds the bytes that it was entered with.
    """
    with part("reading"):
        data = decode.read_bytes(task.path)
        digest = hashlib.sha256(data).hexdigest()
    if digest != task.digest:
        raise PhotosError(
            "the photo changed while it was looked at.",
            where=str(task.path),
            remedy="Let the copying of photos come to its end, then run again: what is measured is kept.",
        )
    try:
        with part("decoding"):
            picture = decode.decode(data, task.frame)
    except decode.Damaged as error:
        return Told(task, damaged=str(error)), None
    with part("numbers of the photo"):
        look = asdict(audit.look(picture)) | {"brightness_value": brightness_value(data)}
    return Told(task, look=look), picture


def measure_photo(task: Task, shared: Shared) -> Told:
    """Everything about one photo that needs its pixels."""
    with noting(shared.timed) as noted:
        told = _measured(task, shared)
    return replace(told, spent=noted.parts)


def _measured(task: Task, shared: Shared) -> Told:
    told, picture = look_at(task)
    if picture is None:
        return told
    with part("measuring"):
        fault = audit.fault(audit.Look(**told.look), shared.usual)
        if fault.startswith(LIKE_FOG) and something_clear(picture) and any(covered_plants(picture, shared.tray)):
            fault = ""
        found = Findings(fault) if fault else measure(picture, shared.reference, shared.tray)
    return Told(task, look=told.look, found=found)


_HERE: list[Shared] = []  # what a worker got when it started


def _start(shared: Shared) -> None:
    cv2.setNumThreads(1)
    # Stopping from the keyboard is the main process's part; a worker would only print where it was.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _HERE[:] = [shared]


def _end_with_parent() -> None:
    """A worker whose main process was killed would wait for photos for ever."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _work(task: Task) -> Told:
    return measure_photo(task, _HERE[0])


def measure_all(tasks: Sequence[Task], shared: Shared, *, workers: int) -> Iterator[Told]:
    """What each photo told, in the order in which they are done.

    Parameters
    ----------
    tasks
        Photos to measure.
    shared
        What each is compared with.
    workers
        Processes; 1 measures in this one.

    Raises
    ------
    PhotosError
        If a photo went or changed meanwhile.
    SproutlapseError
        If a worker process died.
    """
    workers = min(workers, len(tasks))
    if workers <= 1:
        yield from (measure_photo(task, shared) for task in tasks)
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=_start, initargs=(shared,)) as pool:
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
            raise SproutlapseError(
                "a worker stopped without a word, most likely for want of memory.",
                remedy="Run again with --workers 1; what is measured already is kept.",
            ) from error
        finally:
            # Futures cancelled one by one can leave the pool waiting for ever for work that nobody will do (CPython
            # gh-94440, mended in later 3.11 only); the pool itself takes them back safely.
            pool.shutdown(wait=True, cancel_futures=True)
