"""A watch in a process of its own: how it begins, and how it ends by Ctrl-C, SIGTERM and kill."""

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from shelf_photos import FEW, written

from sproutlapse.work.store import Store

ROOT = Path(__file__).resolve().parents[1]


def started(folder: Path) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "sproutlapse", "watch", str(folder), "--no-film", "--no-report", "--masks"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"}
    return subprocess.Popen(
        [*command, "--workers", "1"], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment
    )


def wait_for(there: Callable[[], bool], seconds: float = 60.0) -> None:
    until = time.monotonic() + seconds
    while not there():
        assert time.monotonic() < until
        time.sleep(0.05)


@pytest.mark.skipif(sys.platform == "win32", reason="signals of other systems")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_it_waits_in_an_empty_folder_and_ends_when_told_to(number: signal.Signals, tmp_path: Path):
    (tmp_path / "photos").mkdir()
    process = started(tmp_path / "photos")
    assert process.stdout is not None
    assert process.stdout.readline().startswith(f"Watching {tmp_path / 'photos'} (no photo yet).")
    process.send_signal(number)
    assert process.wait(30) == 0
    assert process.stdout.read() == "Stopped.\n"


@pytest.mark.skipif(sys.platform == "win32", reason="signals of other systems")
def test_killed_while_photos_arrive_it_goes_on_and_ends_with_the_same_bytes(shelf_run: Path, few: Path, tmp_path: Path):
    out = shelf_run.with_name("photos-results")
    for name in FEW[8:]:
        shutil.move(shelf_run / name, tmp_path / name)
    process = started(shelf_run)
    wait_for(lambda: len((out / "frames.csv").read_text("utf-8").splitlines()) == 9)
    for name in FEW[8:]:
        shutil.move(tmp_path / name, shelf_run / name)
    time.sleep(0.3)
    process.kill()
    process.wait()
    process = started(shelf_run)
    wait_for(lambda: written(out) == written(few))
    process.send_signal(signal.SIGTERM)
    assert process.wait(30) == 0
    with Store(out) as store:
        assert len(store.scanned()) == len(FEW)
