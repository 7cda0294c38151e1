"""The grower's own words on disk: added at the end, never lost, never mended by the tool."""

from pathlib import Path

import pytest

from sproutlapse.errors import ResultsError
from sproutlapse.results import DiaryEntry
from sproutlapse.work.diary import NAME, add_entries, read_diary

FAN = DiaryEntry("2026-03-05T09:00:00", "note", "", 'fan on, "low", 2 h a day')
DONE = DiaryEntry("2026-03-04T09:00:00", "done", "leggy:Pot: 1, left", "Leggy: Pot 1")


def test_what_is_written_is_read_again_in_order_of_time(tmp_path: Path) -> None:
    assert read_diary(tmp_path) == ()
    add_entries(tmp_path, [FAN])
    add_entries(tmp_path, [DONE])
    assert read_diary(tmp_path) == (DONE, FAN)
    assert (tmp_path / NAME).read_text("utf-8").startswith("time,kind,about,text\n")


def test_lines_of_a_hand_keep_their_bytes(tmp_path: Path) -> None:
    head, blank = b"\xef\xbb\xbftime,kind,about,text,mine\r\n", b"\r\n"
    own = head + b"2026-03-01 07:30,note,,sowed,more\r\n" + blank + b"2026-03-02,note,,l\xc3\xbcften"
    (tmp_path / NAME).write_bytes(own)
    add_entries(tmp_path, [FAN])
    assert (tmp_path / NAME).read_bytes().startswith(own + b"\n2026-03-05")
    assert [entry.text for entry in read_diary(tmp_path)] == ["sowed", "lüften", FAN.text]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("when,what\n", "first line"),
        ("", "first line"),
        ("time,kind,about,text\nyesterday,note,,x\n", "line 2 does not begin with a time"),
        ("time,kind,about,text\n2026-03-05,thought,,x\n", 'line 2 is neither "note" nor "done"'),
    ],
)
def test_a_file_that_is_not_ours_is_named_and_left_alone(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / NAME
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ResultsError, match=words):
        add_entries(tmp_path, [FAN])
    assert path.read_text("utf-8") == text


def test_a_diary_in_another_encoding_is_named(tmp_path: Path) -> None:
    (tmp_path / NAME).write_bytes(b"time,kind,about,text\n2026-03-05,note,,l\xfcften\n")
    with pytest.raises(ResultsError, match="UTF-8"):
        read_diary(tmp_path)


def test_an_open_quotation_mark_swallows_no_new_note(tmp_path: Path) -> None:
    text = 'time,kind,about,text\n2026-03-05,note,,"the 10 inch pot\n'
    (tmp_path / NAME).write_text(text, encoding="utf-8")
    with pytest.raises(ResultsError, match="line"):
        add_entries(tmp_path, [FAN])
    assert (tmp_path / NAME).read_text("utf-8") == text


def test_lines_ended_as_on_an_old_mac_are_read(tmp_path: Path) -> None:
    (tmp_path / NAME).write_bytes(b"time,kind,about,text\r2026-03-05,note,,fan on\r")
    assert [entry.text for entry in read_diary(tmp_path)] == ["fan on"]
