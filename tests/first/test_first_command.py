"""`sproutlapse check --first` as a person meets it."""

import re
import sys
import time

import pytest
from first_recipe import PHOTOS

from sproutlapse.cli import main


@pytest.fixture
def check(capsys, monkeypatch):
    """Exit status, words and errors of `sproutlapse check` with these arguments."""

    def answer(*arguments: object) -> tuple[object, str, str]:
        monkeypatch.setattr(sys, "argv", ["sproutlapse", "check", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code or 0, *capsys.readouterr()

    return answer


def test_a_good_photo_ends_with_0_and_says_so_within_10_seconds(check):
    start = time.perf_counter()
    status, words, errors = check("--first", PHOTOS / "P3030001.JPG", "--row-mm", 296, "--every", 1, "--days", 21)
    assert time.perf_counter() - start < 10
    assert (status, errors) == (0, "")
    assert "MEND" not in words
    off = re.search(r"off by ([+-][\d.]+) % against the row of 296 mm", words)
    assert off is not None and abs(float(off[1])) < 1
    assert words.splitlines()[-1].startswith("The photo is good")


def test_a_fault_ends_with_1(check):
    status, words, _ = check("--first", PHOTOS / "P3030001.JPG", "--every", 12)
    assert status == 1
    assert "MEND Interval" in words
    assert words.splitlines()[-1].startswith("1 thing to mend")


def test_a_file_that_is_no_picture_ends_with_4(check, tmp_path):
    (tmp_path / "a.jpg").write_bytes(b"no picture")
    for name in ("a.jpg", "missing.jpg"):
        status, words, errors = check("--first", tmp_path / name)
        assert (status, words) == (4, "")
        assert "What to do" in errors


@pytest.mark.parametrize("arguments", [[], ["x", "--first", "y"], ["x", "--days", "3"]])
def test_a_folder_and_a_photo_at_once_or_neither_is_not_understood(arguments, check):
    status, words, errors = check(*arguments)
    assert (status, words) == (2, "")
    assert "--first" in errors


def test_a_folder_is_asked_for_one_of_its_photos(check):
    status, _, errors = check("--first", PHOTOS)
    assert status == 4
    assert "this is a folder" in errors and "one photo of it" in errors
