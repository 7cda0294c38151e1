"""Processes that measure: they start once, one that dies loses nothing, and none is left behind."""

import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from multiprocessing import active_children
from pathlib import Path

import cv2
import pytest
from few_tasks import by_frame, tasks_of
from shelf_photos import FEW

from sproutlapse.errors import SproutlapseError
from sproutlapse.work.crew import LocalCrew
from sproutlapse.work.engine import Told

posix = pytest.mark.skipif(os.name != "posix", reason="signals as on Unix")


@pytest.fixture(scope="module")
def crew() -> Iterator[LocalCrew]:
    with LocalCrew(2) as crew:
        yield crew
    assert not workers()


def workers() -> set[int]:
    return {child.pid for child in active_children() if child.pid}


def until(there: Callable[[], object]) -> None:
    end = time.monotonic() + 60
    while not there():
        assert time.monotonic() < end
        time.sleep(0.01)


def test_processes_start_once_and_serve_several_calls(few_photos, shared, alone, crew):
    crew.get_ready(len(FEW))
    first = workers()
    assert len(first) == 2
    third, second = (replace(shared, usual=replace(shared.usual, white=shared.usual.white + k)) for k in (0.5, 0.25))
    for compared in (shared, second, shared, third, second, shared):
        told = by_frame(list(crew.measure(tasks_of(few_photos, FEW[6:8]), compared)))
        assert told == {frame: alone[frame] for frame in FEW[6:8]}
    assert workers() == first


@posix
def test_a_worker_that_is_killed_loses_no_photo_and_counts_none_twice(few_photos, shared, alone, crew):
    told = []
    for one in crew.measure(tasks_of(few_photos), shared):
        told.append(one)
        if len(told) == 3:
            os.kill(min(workers()), signal.SIGKILL)
    assert by_frame(told) == alone


@posix
def test_a_worker_that_died_while_idle_is_replaced(few_photos, shared, alone, crew):
    crew.get_ready(len(FEW))
    os.kill(max(workers()), signal.SIGKILL)
    assert by_frame(list(crew.measure(tasks_of(few_photos, FEW[:4]), shared))) == {f: alone[f] for f in FEW[:4]}


def kill_who_reads(pipe: Path) -> None:
    """Kill the worker that waits in a pipe."""
    end = os.open(pipe, os.O_WRONLY)  # waits for a reader, which then waits for what is written
    found: list[int] = []

    def reader_found() -> bool:
        for pid in workers():
            with suppress(OSError):
                found.extend(pid for file in Path(f"/proc/{pid}/fd").iterdir() if file.readlink() == pipe)
        return bool(found)

    until(reader_found)
    os.kill(found[0], signal.SIGKILL)
    until(lambda: found[0] not in workers())
    os.close(end)


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="who reads a file is asked of Linux")
def test_a_photo_that_two_workers_die_of_is_named_and_the_others_are_told(shelf, shared, alone, crew):
    """The photo is a pipe: a worker waits in it until it is killed, as one is that wants too much memory."""
    crew.get_ready(len(FEW))
    tasks, pipe = tasks_of(shelf, FEW[:5]), (shelf / FEW[2]).resolve()
    pipe.unlink()
    os.mkfifo(pipe)
    killer = threading.Thread(target=lambda: [kill_who_reads(pipe) for _ in range(2)])
    killer.start()
    told: list[Told] = []
    with pytest.raises(SproutlapseError, match="stopped without a word") as caught:
        for one in crew.measure(tasks, shared):
            told.append(one)
    killer.join()
    assert FEW[2] in caught.value.where
    assert caught.value.remedy
    assert all(one == replace(alone[one.task.frame], task=one.task) for one in told)
    assert FEW[2] not in by_frame(told)

    # Asked for by itself, such a photo is not measured in this process either, which would die of it.
    crew.close()
    killer = threading.Thread(target=lambda: [kill_who_reads(pipe) for _ in range(2)], daemon=True)
    killer.start()
    with pytest.raises(SproutlapseError, match="stopped without a word"):
        list(crew.measure([tasks[2]], shared))
    killer.join()


@posix
def test_a_call_that_is_left_early_leaves_nothing_and_the_keyboard_stops_no_worker_that_starts(
    few_photos, shared, alone, crew
):
    for _ in crew.measure(tasks_of(few_photos), shared):
        break
    assert not workers()
    crew.get_ready(len(FEW))
    started = workers()
    for pid in started:
        os.kill(pid, signal.SIGINT)
    assert by_frame(list(crew.measure(tasks_of(few_photos, FEW[:2]), shared))) == {f: alone[f] for f in FEW[:2]}
    assert workers() == started


def test_one_worker_measures_here_with_one_thread_and_leaves_the_threads_as_they_were(few_photos, shared, alone):
    before, during, started = cv2.getNumThreads(), set(), workers()
    with LocalCrew(1) as crew:
        for told in crew.measure(tasks_of(few_photos, FEW[:2]), shared):
            during.add(cv2.getNumThreads())
            assert told == alone[told.task.frame]
    assert during == {1}
    assert workers() == started
    assert cv2.getNumThreads() == before
