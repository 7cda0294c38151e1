"""Kill real runs by SIGKILL at random moments, go on each time, and hold all that they write against a run left alone.

    python scripts/kill_runs.py FOLDER --out OUT [--kills 30] [--seed 7320] [--workers 2]

FOLDER holds photos. Each round begins with an empty results folder. Its run is killed at a random moment while it
starts and measures; those that go on are killed while tables, film and page are being written (the moment that an
unfinished file of theirs is seen, and a little more), and once more at any moment. Then one is let come to its end. Of
every second kill the workers are struck, too, as when the power fails. After each kill is told how many findings are
on disk, which must never become fewer, and what lay there unfinished. At the end of a round every file but the store is
compared by hash, nothing unfinished may be left, and no process.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

STORE = "store.sqlite"
# Told by what is seen unfinished in the results folder.
WRITING = {
    "tables": ("*.csv.*.part", "run.json.*.part", "masks/**/*.part"),
    "film": (".film*.part",),
    "page": ("charts/*.part", "report.html.*.part"),
}
LITTLE_MORE_S = 0.15
LOOK_EVERY_S = 0.001
ENDED_S = 20.0  # in which workers have to see that their run was killed
LONGEST_S = 1800.0
MOST_IDLE = 3  # rounds in a row of which every run ended before it was killed


@dataclass
class Killed:
    """One run that was killed."""

    after_s: float
    aimed: str
    findings: int
    unfinished: list[str]


@dataclass(frozen=True)
class Alone:
    """The run that nobody disturbed: seconds by the clock, the store's log at its largest, its files by hash."""

    seconds: float
    log_bytes: int
    files: dict[str, str]


class Leftover(Exception):  # noqa: N818 - what the script is there to find
    """Something that must not be: files that differ, findings that went, processes that stayed."""


def started(folder: Path, out: Path, workers: int) -> subprocess.Popen[bytes]:
    """A run as a person starts it, in a group of processes of its own."""
    command = [sys.executable, "-m", "sproutlapse", "run", str(folder), "--out", str(out), "--masks"]
    command += ["--workers", str(workers)]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, start_new_session=True)


def log_bytes(out: Path) -> int:
    """Size of the store's log, which grows with each photo's findings."""
    try:
        return (out / f"{STORE}-wal").stat().st_size
    except OSError:
        return 0


def largest_log(run: subprocess.Popen[bytes], out: Path) -> int:
    """How far the store's log grows in a run that nobody disturbs."""
    largest = 0
    while run.poll() is None:
        largest = max(largest, log_bytes(out))
        time.sleep(LOOK_EVERY_S * 10)
    ended(run)
    return largest


def ended(run: subprocess.Popen[bytes]) -> None:
    """Wait for a run that nobody disturbs."""
    _, errors = run.communicate(timeout=LONGEST_S)
    if run.returncode:
        raise Leftover(f"a run that nobody disturbed ended with {run.returncode}: {errors.decode(errors='replace')}")


def hashes(out: Path) -> dict[str, str]:
    """Every file that a run leaves for people, by its path."""
    files = (path for path in out.rglob("*") if path.is_file() and not path.name.startswith(STORE))
    return {path.relative_to(out).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def findings(out: Path) -> int:
    """How many findings are on disk, told from a copy, so that the next run finds the store as the kill left it."""
    with tempfile.TemporaryDirectory() as folder:
        for path in out.glob(f"{STORE}*"):
            shutil.copy2(path, folder)
        with suppress(sqlite3.Error), closing(sqlite3.connect(Path(folder) / STORE)) as db:
            return int(db.execute("SELECT count(*) FROM findings WHERE reference != ''").fetchone()[0])
    return 0


def unfinished(out: Path) -> list[str]:
    """Files that were being written."""
    return sorted(path.relative_to(out).as_posix() for path in out.rglob("*") if ".part" in path.name)


def seen(out: Path, what: str) -> Callable[[], bool]:
    """Whether something of a kind is being written."""
    return lambda: any(next(out.glob(pattern), None) is not None for pattern in WRITING[what])


def killed(run: subprocess.Popen[bytes], ready: Callable[[], bool], more_s: float, *, all_of_it: bool) -> float | None:
    """Kill a run once it is ready for it, and a little later; the seconds it lived, or None if it ended before."""
    begun = time.monotonic()
    while run.poll() is None and not ready():
        time.sleep(LOOK_EVERY_S)
    time.sleep(more_s)
    if run.poll() is not None:
        return None
    lived = time.monotonic() - begun
    if all_of_it:
        os.killpg(run.pid, signal.SIGKILL)
    else:
        os.kill(run.pid, signal.SIGKILL)
    run.communicate()
    _nobody_left(run.pid)
    return lived


def _nobody_left(group: int) -> None:
    until = time.monotonic() + ENDED_S
    while time.monotonic() < until:
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return
        time.sleep(0.05)
    raise Leftover(f"processes of a killed run still live after {ENDED_S:g} s")


def _at_once() -> bool:
    return True


def _grown(out: Path, size: float) -> Callable[[], bool]:
    return lambda: log_bytes(out) > size


def one_round(
    start: Callable[[], subprocess.Popen[bytes]], out: Path, chance: random.Random, most: int, alone: Alone
) -> list[Killed]:
    """Runs on one results folder, killed at most so many times, until one comes to its end."""
    kills: list[Killed] = []
    for aim in ("start", "measuring", "measuring", *WRITING, "anywhere"):
        if len(kills) >= most:
            break
        if aim in WRITING:
            ready, more_s = seen(out, aim), chance.uniform(0, LITTLE_MORE_S)
        elif aim == "measuring":
            # What an earlier kill left of the log lies there from the start.
            ready, more_s = _grown(out, log_bytes(out) + alone.log_bytes * chance.uniform(0.02, 0.4)), 0.0
        else:
            ready, more_s = _at_once, alone.seconds * chance.uniform(0.02, 0.3 if aim == "start" else 1.0)
        lived = killed(start(), ready, more_s, all_of_it=len(kills) % 2 == 1)
        if lived is None:
            continue
        kills.append(Killed(lived, aim, findings(out), unfinished(out)))
        if len(kills) > 1 and kills[-1].findings < kills[-2].findings:
            raise Leftover(f"findings went: {kills[-2].findings} before, {kills[-1].findings} after")
        one = kills[-1]
        print(
            f"  killed after {one.after_s:6.2f} s, aimed at {one.aimed}: {one.findings} findings on disk, "
            f"unfinished: {', '.join(one.unfinished) or 'nothing'}",
            flush=True,
        )
    ended(start())
    now = hashes(out)
    if now != alone.files:
        odd = sorted(name for name in {*now, *alone.files} if now.get(name) != alone.files.get(name))
        raise Leftover(f"files differ from those of a run left alone: {', '.join(odd)}")
    return kills


def all_rounds(one: Callable[[int, int], list[Killed]], wanted: int) -> tuple[list[Killed], int]:
    """Rounds until there are so many kills, and their number; `one` is asked with its number and the kills wanted."""
    kills: list[Killed] = []
    number = idle = 0
    while len(kills) < wanted:
        number += 1
        new = one(number, wanted - len(kills))
        kills += new
        idle = 0 if new else idle + 1
        if idle == MOST_IDLE:
            raise Leftover(f"{idle} rounds in a row ended before any kill: take more or larger photos")
    return kills, number


def main() -> None:
    """Kill, go on, compare."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--kills", type=int, default=30)
    parser.add_argument("--seed", type=int, default=7320)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    chance = random.Random(given.seed)
    shutil.rmtree(given.out, ignore_errors=True)
    results = given.out / "alone" / "results"
    results.parent.mkdir(parents=True)
    begun = time.monotonic()
    log = largest_log(started(given.folder, results, given.workers), results)
    alone = Alone(time.monotonic() - begun, log, hashes(results))
    print(f"left alone: {alone.seconds:.1f} s by the clock, {len(alone.files)} files, {findings(results)} findings")

    def one(number: int, most: int) -> list[Killed]:
        print(f"round {number}", flush=True)
        out = given.out / f"round-{number}" / "results"
        out.parent.mkdir()
        told = one_round(partial(started, given.folder, out, given.workers), out, chance, most, alone)
        shutil.rmtree(out.parent)
        return told

    kills, number = all_rounds(one, given.kills)
    torn = sum(bool(one.unfinished) for one in kills)
    files = len(alone.files)
    print(
        f"{len(kills)} kills survived in {number} rounds, {torn} of them with a file half written; after each round "
        f"all {files} files equal, nothing unfinished, no process left."
    )


if __name__ == "__main__":
    try:
        main()
    except Leftover as trouble:
        raise SystemExit(f"NOT survived: {trouble}") from trouble
