"""One watch at a time on one results folder, and what else may keep a watch from it."""

from pathlib import Path

import pytest

from sproutlapse.errors import ResultsError
from sproutlapse.watch.alone import NAME, alone


def test_a_second_watch_is_kept_out_and_comes_in_after_the_first(tmp_path: Path):
    with alone(tmp_path), pytest.raises(ResultsError, match="watched already"), alone(tmp_path):
        pass
    with alone(tmp_path):
        pass


def test_a_folder_that_is_not_there_is_not_called_watched(tmp_path: Path):
    with pytest.raises(ResultsError, match="is not there"), alone(tmp_path / "gone"):
        pass


def test_a_place_that_cannot_be_opened_is_not_called_watched(tmp_path: Path):
    (tmp_path / NAME).mkdir()
    with pytest.raises(ResultsError, match="cannot be opened"), alone(tmp_path):
        pass


def test_a_broken_file_there_is_not_called_watched(tmp_path: Path):
    (tmp_path / NAME).write_bytes(b"no data base at all" * 300)
    with pytest.raises(ResultsError, match="no store of ours"), alone(tmp_path):
        pass
