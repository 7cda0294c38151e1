"""Tables as bytes, and files that are old or new and never half."""

import errno
import os
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest

from sproutlapse.errors import ResultsError
from sproutlapse.work.files import csv_bytes, json_bytes, not_written, put


def test_lengths_have_three_decimals_ratios_four_and_nothing_is_made_up():
    table = pd.DataFrame({
        "plant": ["A", 'old "packet", 2'], "height_mm": [41.23456, np.nan], "height_to_leaf": [2.0, np.inf],
        "cut_off": [False, True], "seedlings": [1, 0], "lean_deg": [-0.0001, -12.5], "leggy": [np.True_, np.False_],
        "note": [None, pd.NaT],
    })  # fmt: skip
    assert csv_bytes(table).decode("utf-8").splitlines() == [
        "plant,height_mm,height_to_leaf,cut_off,seedlings,lean_deg,leggy,note",
        "A,41.235,2.0000,false,1,0.000,true,",
        '"old ""packet"", 2",,,true,0,-12.500,false,',
    ]


def test_numbers_of_numpy_are_written_as_any_other():
    table = pd.DataFrame({"a": [np.bool_(True), np.int64(7), np.float32(0.5)]}, dtype=object)
    assert csv_bytes(table) == b"a\ntrue\n7\n0.500\n"


def test_many_numbers_are_written_as_each_one_alone():
    chance = np.random.default_rng(3)
    values = np.concatenate([chance.normal(0, scale, 300) for scale in (1e-4, 1e-3, 1.0, 1e4)])
    values[::17], values[::19], values[::23] = np.nan, -0.0, -np.inf
    whole = csv_bytes(pd.DataFrame({"height_mm": values})).decode("ascii").splitlines()[1:]
    alone = [csv_bytes(pd.DataFrame({"height_mm": [value]})).decode("ascii").splitlines()[1] for value in values]
    assert whole == alone
    assert "-0.000" not in whole
    assert "0.000" in whole


def test_lines_end_with_a_line_feed_alone_and_text_is_utf_8():
    data = csv_bytes(pd.DataFrame({"plant": ["Kürbis\r\n2"]}))
    assert data == 'plant\n"Kürbis\r\n2"\n'.encode()


def test_an_empty_table_still_has_its_head():
    assert csv_bytes(pd.DataFrame(columns=["time", "event"])) == b"time,event\n"


def test_a_table_can_be_read_back(tmp_path):
    table = pd.DataFrame({"plant": ['a "b", c', "d"], "height_mm": [1.5, np.nan]})
    put(tmp_path / "t.csv", csv_bytes(table))
    assert pd.read_csv(tmp_path / "t.csv").equals(table)


def test_the_same_bytes_leave_the_file_untouched(tmp_path):
    path = tmp_path / "a.csv"
    put(path, b"one")
    before = path.stat()
    put(path, b"one")
    assert (path.stat().st_mtime_ns, path.stat().st_ino) == (before.st_mtime_ns, before.st_ino)


def test_other_bytes_replace_the_file_and_leave_nothing_beside(tmp_path):
    put(tmp_path / "in" / "here" / "a.csv", b"one")
    put(tmp_path / "in" / "here" / "a.csv", b"two")
    assert [(path.name, path.read_bytes()) for path in (tmp_path / "in" / "here").iterdir()] == [("a.csv", b"two")]


WRITES = """
import os, sys
from pathlib import Path
from sproutlapse.work.files import put
flush = os.fsync
def slowly(number):
    print("half", flush=True)
    input()
    flush(number)
os.fsync = slowly
put(Path(sys.argv[1]), b"theirs" * 1000)
"""


def test_two_processes_that_write_one_file_leave_one_of_the_two_whole(tmp_path):
    path = tmp_path / "a.csv"
    command = [sys.executable, "-c", WRITES, str(path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=os.environ) as other:
        assert other.stdout is not None
        other.stdout.readline()
        put(path, b"ours")
        assert path.read_bytes() == b"ours"
        other.communicate(b"\n")
    assert other.returncode == 0
    assert path.read_bytes() == b"theirs" * 1000
    assert [one.name for one in tmp_path.iterdir()] == ["a.csv"]


@pytest.mark.parametrize("name", ["a-file/a.csv", "a-folder"])
def test_a_place_that_cannot_be_written_is_named(tmp_path, name):
    (tmp_path / "a-file").write_bytes(b"")
    (tmp_path / "a-folder" / "inside").mkdir(parents=True)
    with pytest.raises(ResultsError, match=name.replace("/", ".")):
        put(tmp_path / name, b"x")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a-file", "a-folder"]


@pytest.mark.parametrize(("code", "words"), [("ENOSPC", "the disk is full"), ("EFBIG", "the disk is full"),
                                             ("EACCES", "cannot be written")])  # fmt: skip
def test_a_full_disk_is_told_from_a_locked_file(tmp_path, code, words):
    number = getattr(errno, code)
    assert words in str(not_written(tmp_path / "a.csv", OSError(number, "as the system says")))


def test_json_keeps_the_order_of_its_keys():
    assert json_bytes({"b": 1, "a": "ü"}) == '{\n "b": 1,\n "a": "ü"\n}\n'.encode()
