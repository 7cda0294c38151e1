"""A real Dask scheduler with real worker processes on this machine, for tests and for `on_cluster.py`."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType

ROOT = Path(__file__).resolve().parents[1]
STARTS_S = 120.0  # on a machine that has much else to do


class OwnCluster:
    """A scheduler on 127.0.0.1; use it as a context manager.

    Parameters
    ----------
    folder
        For what scheduler and workers write; it exists.
    settings
        Of Dask, as environment variables.
    """

    def __init__(self, folder: Path, **settings: str) -> None:
        self.folder, self.settings = folder, settings
        self.workers: list[subprocess.Popen[bytes]] = []
        told = folder / "scheduler.json"
        words = ["distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"]
        self.scheduler = self._start("scheduler", [*words, "--scheduler-file", str(told)], (), {})
        _until(told.is_file, "the scheduler does not start")
        self.address: str = json.loads(told.read_text("utf-8"))["address"]

    def __enter__(self) -> OwnCluster:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        for process in [*self.workers, self.scheduler]:
            self.kill(process)

    def worker(
        self, *, threads: int = 1, inside: Sequence[str] = (), package: Path = ROOT, **environment: str
    ) -> subprocess.Popen[bytes]:
        """Start a worker and wait until it is there.

        Parameters
        ----------
        threads
            How many photos it measures at once.
        inside
            A command that starts it, such as one with another view of the disk.
        package
            Where its sproutlapse lies.
        """
        name = f"worker-{len(self.workers)}"
        words = ["distributed.cli.dask_worker", self.address, "--nthreads", str(threads), "--no-nanny"]
        words += ["--no-dashboard", "--local-directory", str(self.folder / name)]
        process = self._start(name, words, inside, {"PYTHONPATH": str(package), **environment})
        self.workers.append(process)
        log = self.folder / f"{name}.log"
        _until(lambda: "Registered to" in log.read_text("utf-8", "replace"), f"{name} does not start")
        return process

    def kill(self, process: subprocess.Popen[bytes]) -> None:
        """End a process at once, as a failure of power would."""
        if process.poll() is None:
            process.send_signal(getattr(signal, "SIGKILL", signal.SIGTERM))
        process.wait()

    def _start(
        self, name: str, words: Sequence[str], inside: Sequence[str], environment: dict[str, str]
    ) -> subprocess.Popen[bytes]:
        surroundings = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
        with (self.folder / f"{name}.log").open("wb") as log:
            return subprocess.Popen(
                [*inside, sys.executable, "-m", *words],
                stdout=log, stderr=log, cwd=self.folder, env={**surroundings, **self.settings, **environment},
            )  # fmt: skip


def _until(there: Callable[[], bool], otherwise: str) -> None:
    end = time.monotonic() + STARTS_S
    while not there():
        if time.monotonic() > end:
            raise TimeoutError(otherwise)
        time.sleep(0.05)
