"""Findings on disk: what was kept is there again, and nothing is kept by halves."""

import hashlib
import math
import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from sproutlapse.errors import ResultsError
from sproutlapse.vision.findings import Findings, PlantFinding
from sproutlapse.work.store import NAME, Scanned, Store

FOUND = Findings(
    "", (1.0, 0.001, -2.5, -0.001, 1.0, 3.25), (1.01, 0.99, 1.1), 4.1, -0.06, True,
    (PlantFinding(120.5, 33.25, 20.0, 4.5, 18.0, -3.0, 2, True, 10.0, 11.0, 12.0), PlantFinding(0.0)), b"\x89PNG",
)  # fmt: skip


def files_of(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}


def test_findings_come_back_as_they_were_kept(tmp_path: Path):
    with Store(tmp_path) as store:
        store.keep("photo", "", {"width": 640}, "reference", FOUND)
    with Store(tmp_path) as store:
        found = store.measured("reference")["photo"]
        assert store.labels("photo", "reference") == FOUND.labels_png
        assert store.looks() == {"photo": ("", {"width": 640})}
    assert found.to_values() == FOUND.to_values()


def test_findings_under_another_reference_are_not_mixed_in(tmp_path: Path):
    with Store(tmp_path) as store:
        store.keep("photo", "", {}, "old", FOUND)
        store.keep("photo", "", {}, "new", Findings("camera moved"))
        assert store.measured("new")["photo"].fault == "camera moved"
        store.drop_other_references("new")
        assert store.measured("old") == {}
        assert store.labels("photo", "old") == b""


def test_a_damaged_photo_is_remembered_without_findings(tmp_path: Path):
    with Store(tmp_path) as store:
        store.keep("photo", "the file is empty", {}, "reference", None)
        assert store.looks() == {"photo": ("the file is empty", {})}
        assert store.measured("reference") == {}


def test_the_list_of_files_is_replaced_whole(tmp_path: Path):
    one, two = (Scanned(name, 10, 2**62, "d" + name, "[]") for name in "ab")
    with Store(tmp_path) as store:
        store.set_scanned([one, two])
        store.set_scanned([two])
        assert store.scanned() == {"b": two}


def test_a_number_that_is_none_does_not_get_into_the_store(tmp_path: Path):
    with Store(tmp_path) as store:
        with pytest.raises(ValueError, match="not JSON compliant"):
            store.keep("photo", "", {}, "reference", Findings("", plants=(PlantFinding(math.nan),)))
        assert store.looks() == {}


def test_a_writing_that_cannot_be_ended_leaves_the_store_as_it_was_and_usable(tmp_path: Path):
    with Store(tmp_path) as store:
        store.set_scanned([Scanned("a", 10, 1, "d", "[]")])
        with pytest.raises(OverflowError):  # a size that no data base holds, after the old list was deleted
            store.set_scanned([Scanned("b", 2**70, 1, "d", "[]")])
        assert set(store.scanned()) == {"a"}
        store.set_scanned([Scanned("c", 10, 1, "d", "[]")])
    with Store(tmp_path) as store:
        assert set(store.scanned()) == {"c"}


def test_one_process_at_a_time(tmp_path: Path):
    with Store(tmp_path), pytest.raises(ResultsError, match="in use by another run"):
        Store(tmp_path)
    Store(tmp_path).close()


def test_a_store_of_a_later_version_is_not_touched(tmp_path: Path):
    with Store(tmp_path) as store:
        store.set_about({"layout": 99})
    # As a later version may keep it: in one file, without a log.
    with closing(sqlite3.connect(tmp_path / NAME)) as db:
        assert db.execute("PRAGMA journal_mode=DELETE").fetchone() == ("delete",)
    before = files_of(tmp_path)
    with pytest.raises(ResultsError, match="another version"):
        Store(tmp_path)
    assert files_of(tmp_path) == before


@pytest.mark.parametrize("spoilt", [b"no data base at all" * 60, b"SQLite format 3\0" + b"\xff" * 8000])
def test_a_broken_store_is_named_with_a_remedy(tmp_path: Path, spoilt: bytes):
    (tmp_path / NAME).write_bytes(spoilt)
    with pytest.raises(ResultsError, match="What to do: Move this file away"):
        Store(tmp_path)


def test_a_store_cut_off_in_the_middle_is_named_with_a_remedy(tmp_path: Path):
    with Store(tmp_path) as store:
        for k in range(40):
            store.keep(f"photo {k}", "", {"grid": [k] * 3000}, "reference", FOUND)
    whole = (tmp_path / NAME).read_bytes()
    (tmp_path / NAME).write_bytes(whole[: len(whole) // 2 // 4096 * 4096])
    with pytest.raises(ResultsError, match="What to do"), Store(tmp_path) as store:
        store.looks()


def test_a_folder_that_is_not_there_is_named(tmp_path: Path):
    with pytest.raises(ResultsError, match="Check that the folder is there"):
        Store(tmp_path / "nowhere")


def test_what_is_kept_outlasts_a_power_failure(tmp_path: Path):
    """FULL (2): the log is flushed at each commit; NORMAL leaves that to the next checkpoint."""
    with Store(tmp_path) as store:
        assert store._read("PRAGMA synchronous") == [(2,)]
        assert store._read("PRAGMA journal_mode") == [("wal",)]


def test_another_programs_data_base_is_not_taken_for_ours(tmp_path: Path):
    with closing(sqlite3.connect(tmp_path / NAME)) as db, db:
        db.execute("CREATE TABLE letters (text TEXT)")
    before = files_of(tmp_path)
    with pytest.raises(ResultsError, match="another program's"):
        Store(tmp_path)
    assert files_of(tmp_path) == before


@pytest.mark.parametrize("spoilt", [
    "UPDATE findings SET found = '{\"fault\": \"\", \"roots_px\": 3, \"plants\": []}'",
    "UPDATE looks SET look = 'none'", "UPDATE about SET value = '{'",
])  # fmt: skip
def test_what_is_not_understood_is_said(tmp_path: Path, spoilt: str):
    with Store(tmp_path) as store:
        store.keep("photo", "", {}, "reference", FOUND)
        store.set_about({"folder": "f"})
    with closing(sqlite3.connect(tmp_path / NAME)) as db, db:
        db.execute(spoilt)
    with pytest.raises(ResultsError, match="not understood by this version"), Store(tmp_path) as store:
        store.measured("reference")
        store.looks()


needs_mount = pytest.mark.skipif(
    sys.platform != "linux" or os.geteuid() != 0 or shutil.which("mount") is None, reason="disks cannot be put up here"
)


def mount(place: Path, options: str) -> None:
    if subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)], check=False).returncode:
        pytest.skip("disks cannot be put up here")


@needs_mount
def test_a_real_disk_filled_to_the_brim_and_then_given_room(tmp_path: Path):
    mount(tmp_path, "size=128k")
    try:
        with pytest.raises(ResultsError, match=r"the disk is full(.|\n)*Make room"), Store(tmp_path) as store:
            for k in range(100):
                store.keep(f"photo {k}", "", {"grid": [k] * 3000}, "reference", FOUND)
        mount(tmp_path, "remount,size=8m")
        with Store(tmp_path) as store:
            kept = store.digests("reference")
            assert kept == {f"photo {k}" for k in range(len(kept))}
            assert set(store.measured("reference")) == kept
            store.keep("one more", "", {}, "reference", FOUND)
    finally:
        subprocess.run(["umount", str(tmp_path)], check=False)


@needs_mount
def test_results_on_a_disk_that_may_only_be_read_are_read(tmp_path: Path):
    mount(tmp_path, "size=1m")
    try:
        with Store(tmp_path) as store:
            store.keep("photo", "", {}, "reference", FOUND)
        mount(tmp_path, "remount,ro")
        with pytest.raises(ResultsError, match="may only be read"):
            Store(tmp_path)
        with Store.to_read(tmp_path) as store:
            assert set(store.measured("reference")) == {"photo"}
        mount(tmp_path, "remount,rw")
        (tmp_path / (NAME + "-wal")).write_bytes(b"what a killed run left")
        mount(tmp_path, "remount,ro")
        with pytest.raises(ResultsError, match=r"broken off or still runs(.|\n)*Copy the folder"):
            Store.to_read(tmp_path)
    finally:
        subprocess.run(["umount", str(tmp_path)], check=False)
