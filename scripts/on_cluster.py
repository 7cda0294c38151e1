"""What measuring on other machines costs and survives: a real scheduler and real workers on this one.

    .venv/bin/python scripts/on_cluster.py FOLDER --out OUT [--kills 30]

FOLDER holds photos with their tray.toml. Printed are: whether tables and masks are the same bytes, by hash, on this
machine and over one and two workers, by path and by bytes; workers killed at random moments; seconds of clock and of
processor for each photo; heights by other vector instructions; and how soon a frozen scheduler is told.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import resource
import shutil
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import psutil
from own_cluster import OwnCluster

from sproutlapse.errors import ClusterError
from sproutlapse.job import run_job
from sproutlapse.progress import Silent
from sproutlapse.work.cluster import ClusterCrew
from sproutlapse.work.crew import Crew, LocalCrew
from sproutlapse.work.engine import Shared, Task, Told

# Vector instructions that a machine of another age lacks.
OLDER = {"OPENCV_CPU_DISABLE": "AVX512-SKX,AVX2,FP16,AVX", "NPY_DISABLE_CPU_FEATURES": "X86_V3 X86_V4"}


@dataclass
class Timed(Crew):
    """A crew whose time is taken; `each` is called after each photo."""

    crew: Crew
    each: Callable[[], None] = lambda: None
    seconds: float = 0.0
    here: float = 0.0  # seconds of this process's own processor time
    photos: int = 0

    def measure(self, tasks: Sequence[Task], shared: Shared) -> Iterator[Told]:
        """As the crew does."""
        answers = self.crew.measure(tasks, shared)
        while True:
            clock, own = time.monotonic(), time.process_time()
            told = next(answers, None)
            self.seconds += time.monotonic() - clock
            self.here += time.process_time() - own
            if told is None:
                return
            self.photos += 1
            self.each()
            yield told

    def get_ready(self, photos: int) -> None:
        """As the crew does."""
        self.crew.get_ready(photos)

    @property
    def unlike(self) -> Sequence[str]:
        """As the crew says."""
        return self.crew.unlike

    def close(self) -> None:
        """As the crew does."""
        self.crew.close()


def hashed(out: Path) -> str:
    """One hash over tables and masks."""
    told = hashlib.sha256()
    for path in [*sorted(out.glob("*.csv")), *sorted((out / "masks").rglob("*.png"))]:
        told.update(path.relative_to(out).as_posix().encode() + path.read_bytes())
    return told.hexdigest()[:16]


def run(folder: Path, out: Path, crew: Crew) -> list[str]:
    """A run of the whole folder by a crew; what it says at the end."""
    shutil.rmtree(out, ignore_errors=True)
    return run_job(
        folder, tray_path=None, out=out, masks=True, film=False, report=False, workers=1, progress=Silent(), crew=crew
    ).lines


def line(name: str, out: Path, crew: Timed, workers: float) -> None:
    """One line of figures, seconds for each photo."""
    each = max(crew.photos, 1)
    print(
        f"{name:34s} {hashed(out)} {crew.photos:4d} photos  {crew.seconds / each:6.3f} s by the clock; of processor "
        f"{crew.here / each:6.3f} s here, {workers / each:6.3f} s by workers",
        flush=True,
    )


def local(folder: Path, out: Path, workers: int) -> None:
    """On this machine. Workers' time holds their start, which a cluster's does not."""

    def used() -> float:
        return resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime

    with Timed(LocalCrew(workers)) as crew:
        begun = used()
        run(folder, out, crew)
        crew.close()
        line(f"this machine, {workers} at once", out, crew, used() - begun)


def spread(cluster: OwnCluster, folder: Path, out: Path, name: str, each: Callable[[], None] = lambda: None) -> Timed:
    """On the cluster as it is; the processor time is that of workers that live to its end."""

    def used() -> float:
        alive = [process.pid for process in cluster.workers if process.poll() is None]
        return sum(psutil.Process(pid).cpu_times().user for pid in alive)

    with Timed(ClusterCrew(cluster.address), each) as crew:
        crew.get_ready(1)
        begun = used()
        said = run(folder, out, crew)
        line(name, out, crew, max(used() - begun, 0.0))
        for words in said:
            if "not like the one" in words:
                print(f"    says: {words}")
        return crew


def blind(folder: Path) -> list[str]:
    """A command under which nothing lies in the folder, where the system allows that; else nothing."""
    hide = ["unshare", "-m", "sh", "-c", f"mount -t tmpfs none '{folder}' && exec \"$@\"", "sh"]
    with suppress(OSError):
        seen = subprocess.run([*hide, "ls", str(folder)], capture_output=True, text=True, check=False)
        if seen.returncode == 0 and not seen.stdout.strip():
            return hide
    return []


class Killer:
    """Kills a worker at random moments and starts another."""

    def __init__(self, cluster: OwnCluster, most: int, seed: int) -> None:
        self.cluster, self.most, self.killed = cluster, most, 0
        self.over = threading.Event()
        self._random = random.Random(seed)
        self._thread = threading.Thread(target=self._kill)

    def __enter__(self) -> Killer:
        self._thread.start()
        return self

    def __exit__(self, *_exc: object) -> None:
        self.over.set()
        self._thread.join()

    def _kill(self) -> None:
        while self.killed < self.most and not self.over.wait(self._random.uniform(0.0, 2.0)):
            alive = [process for process in self.cluster.workers if process.poll() is None]
            self.cluster.kill(self._random.choice(alive))
            self.killed += 1
            self.cluster.worker()


def frozen(cluster: OwnCluster, folder: Path, out: Path) -> None:
    """A scheduler that stands still, as a machine does whose cable was pulled."""
    at: list[float] = []

    def freeze() -> None:
        if not at:
            at.append(time.monotonic())
            cluster.scheduler.send_signal(signal.SIGSTOP)

    try:
        spread(cluster, folder, out, "a scheduler that freezes", freeze)
    except ClusterError as error:
        print(f"a frozen scheduler: told after {time.monotonic() - at[0]:.0f} s: {error}")


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--kills", type=int, default=30)
    parser.add_argument("--seed", type=int, default=1)
    told = parser.parse_args()
    folder, out = told.folder.resolve(), told.out.resolve()
    for name in ("by-path", "by-bytes", "other"):
        shutil.rmtree(out / name, ignore_errors=True)
        (out / name).mkdir(parents=True)
    local(folder, out / "one", 1)
    local(folder, out / "two", 2)
    with OwnCluster(out / "by-path") as cluster:
        cluster.worker()
        spread(cluster, folder, out / "cluster-one", "cluster, 1 worker, by path")
        cluster.worker()
        spread(cluster, folder, out / "cluster-two", "cluster, 2 workers, by path")
        done = 0
        while done < told.kills:
            with Killer(cluster, told.kills - done, told.seed + done) as killer:
                spread(cluster, folder, out / "killed", "cluster, workers killed at random")
            done += killer.killed
            print(f"    {killer.killed} killed, {done} in all")
        frozen(cluster, folder, out / "frozen")
        os.kill(cluster.scheduler.pid, signal.SIGCONT)
    hide = blind(folder)
    if hide:
        with OwnCluster(out / "by-bytes") as cluster:
            for _ in range(2):
                cluster.worker(inside=hide)
            spread(cluster, folder, out / "bytes", "cluster, 2 workers, by bytes")
    else:
        print("by bytes: not tried, this system lets nobody hide a folder from a process")
    with OwnCluster(out / "other") as cluster:
        cluster.worker(**OLDER)
        spread(cluster, folder, out / "older", "cluster, other vector instructions")
    here, there = (pd.read_csv(out / name / "measurements.csv") for name in ("one", "older"))
    apart = (here["height_mm"] - there["height_mm"]).abs()
    print(f"heights by other vector instructions: at most {apart.max():.4f} mm apart, of {apart.notna().sum()}")


if __name__ == "__main__":
    main()
