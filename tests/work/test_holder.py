"""Who holds results is told by name, and a note that a killed run left behind is not believed."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from sproutlapse.errors import ResultsError
from sproutlapse.work.holder import NAME, held_in_words
from sproutlapse.work.store import Store

HOLDS = """
import sys
from pathlib import Path
from sproutlapse.work.store import Store
with Store(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


@contextmanager
def held(folder: Path) -> Iterator[int]:
    """Another process that holds the results."""
    command = [sys.executable, "-c", HOLDS, str(folder)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stdout.readline().strip() == b"held"
        try:
            yield process.pid
        finally:
            process.kill()


def note(folder: Path, **values: object) -> None:
    told = json.loads((folder / NAME).read_text("utf-8")) | values
    (folder / NAME).write_text(json.dumps(told), "utf-8")


def test_the_process_that_holds_results_is_named_with_machine_and_time(tmp_path: Path):
    with held(tmp_path) as pid:
        since = json.loads((tmp_path / NAME).read_text("utf-8"))["since"]
        with pytest.raises(ResultsError, match=rf"in use by another run \(process {pid} on .*, since {since}\)"):
            Store(tmp_path)
    # It was killed: its note lies there still, and the lock is free.
    assert (tmp_path / NAME).exists()
    with Store(tmp_path):
        assert json.loads((tmp_path / NAME).read_text("utf-8"))["pid"] == os.getpid()
    assert not (tmp_path / NAME).exists()


@pytest.mark.skipif(not Path("/proc/self/stat").is_file(), reason="this system does not tell when a process began")
def test_a_later_process_of_the_same_number_is_not_taken_for_the_holder(tmp_path: Path):
    with held(tmp_path):
        note(tmp_path, born="another boot 17")
        with pytest.raises(ResultsError, match="the note there is of one that was broken off"):
            Store(tmp_path)


def test_of_another_machine_only_its_note_is_known(tmp_path: Path):
    with held(tmp_path):
        note(tmp_path, host="greenhouse")
        with pytest.raises(ResultsError, match=r"on greenhouse.*as its note says; only there"):
            Store(tmp_path)


@pytest.mark.parametrize("text", ["", "{", "[]", '{"pid": "x"}'])
def test_a_note_that_cannot_be_read_is_none(tmp_path: Path, text: str):
    (tmp_path / NAME).write_text(text, "utf-8")
    assert "which one cannot be told" in held_in_words(tmp_path)


def test_a_disk_without_locks_is_told_from_one_in_use(tmp_path: Path):
    """The kernel refuses every lock, as it does on network disks without a lock service."""
    here = Path(__file__).with_name("no_locks.py")
    command = [sys.executable, str(here), "report", str(tmp_path)]
    (tmp_path / "store.sqlite").touch()
    ended = subprocess.run(command, capture_output=True, text=True, check=False)
    if ended.returncode == 77:
        pytest.skip("this system lets no process give up its locks")
    assert ended.returncode == 5, ended.stderr
    assert "keeps no locks" in ended.stderr
    assert "on a disk of this machine" in ended.stderr
    assert "in use" not in ended.stderr
