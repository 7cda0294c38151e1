"""Findings that stay in memory between two openings, as long as nobody else wrote."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from sproutlapse.errors import ResultsError
from sproutlapse.vision.findings import Findings
from sproutlapse.work.remember import Memory, RememberingStore
from sproutlapse.work.store import NAME, Store

# What the other one keeps stands in the log alone when it is killed.
OTHER = """
import os, signal, sys
from pathlib import Path
from sproutlapse.vision.findings import Findings
from sproutlapse.work.store import Store
store = Store(Path(sys.argv[1]))
store.keep("theirs", "", {}, "reference", Findings("camera moved"))
os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))
"""


def kept(folder: Path) -> Memory:
    memory = Memory()
    with RememberingStore(folder, memory) as store:
        store.keep("ours", "", {}, "reference", Findings("too dark"))
        assert set(store.measured("reference")) == set(store.looks()) == {"ours"}
    return memory


def test_what_nobody_else_changed_is_not_read_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    memory = kept(tmp_path)
    monkeypatch.setattr(Store, "measured", lambda *_: pytest.fail("read again"))
    for _ in range(2):
        with RememberingStore(tmp_path, memory) as store:
            assert set(store.measured("reference")) == {"ours"}


def test_what_a_run_kept_that_was_killed_since_is_seen(tmp_path: Path):
    memory = kept(tmp_path)
    before = (tmp_path / NAME).stat()
    subprocess.run([sys.executable, "-c", OTHER, str(tmp_path)], check=False, env=os.environ)
    after = (tmp_path / NAME).stat()
    assert (before.st_size, before.st_mtime_ns) == (after.st_size, after.st_mtime_ns)
    with RememberingStore(tmp_path, memory) as store:
        assert set(store.measured("reference")) == set(store.looks()) == {"ours", "theirs"}


def test_what_was_kept_while_it_could_not_be_opened_is_seen(tmp_path: Path):
    memory = kept(tmp_path)
    with Store(tmp_path) as other:
        other.keep("theirs", "", {}, "reference", Findings("camera moved"))
        with pytest.raises(ResultsError, match="in use"):
            RememberingStore(tmp_path, memory)
    with RememberingStore(tmp_path, memory) as store:
        assert set(store.measured("reference")) == set(store.looks()) == {"ours", "theirs"}
