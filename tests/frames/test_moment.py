"""When one photo was taken: from the photo, else from its name, else from the file."""

from __future__ import annotations

import io
import os
import time
from datetime import UTC, datetime

import numpy as np
import pytest
from PIL import Image

from sproutlapse.frames.clock import taken

NOON_NS = int(datetime(2026, 3, 1, 12, tzinfo=UTC).timestamp()) * 1_000_000_000


def photo(kind: str = "JPEG", **tags: str) -> bytes:
    numbers = {"original": 0x9003, "subsec": 0x9291, "offset": 0x9011}
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({numbers[name]: value for name, value in tags.items()})
    out = io.BytesIO()
    Image.fromarray(np.zeros((8, 8, 3), np.uint8)).save(out, kind, exif=exif.tobytes())
    return out.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_the_cameras_own_time_comes_first(kind: str) -> None:
    got = taken(photo(kind, original="2026:03:01 09:00:00"), "IMG_20200101_000000.jpg", 0)
    assert (got.text, got.source) == ("2026-03-01T09:00:00", "exif")


def test_parts_of_a_second_order_but_are_not_printed_and_the_offset_is() -> None:
    got = taken(photo(original="2026:03:01 09:00:00", subsec="25", offset="+01:00"), "a.jpg", 0)
    assert got.when.microsecond == 250_000
    assert got.text == "2026-03-01T09:00:00+01:00"


@pytest.mark.parametrize("offset", ["   :  ", "Z", ""])
def test_an_offset_that_says_nothing_is_left_out(offset: str) -> None:
    assert taken(photo(original="2026:03:01 09:00:00", offset=offset), "a.jpg", 0).offset == ""


@pytest.mark.parametrize("never", ["0000:00:00 00:00:00", "2026:02:30 10:00:00", "    :  :     :  :  ", "soon"])
def test_impossible_dates_are_passed_over(never: str) -> None:
    assert taken(photo(original=never), "a.jpg", NOON_NS).source == "file"


def test_a_clock_that_began_again_in_1970_still_counts() -> None:
    assert taken(photo(original="1970:01:01 00:10:00"), "a.jpg", 0).text == "1970-01-01T00:10:00"


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("20260301_090000.jpg", "2026-03-01T09:00:00"),
        ("2026-03-01 09.00.00.jpg", "2026-03-01T09:00:00"),
        ("IMG_20260301_090000_HDR.jpg", "2026-03-01T09:00:00"),
        ("PXL_20260301_090000123.jpg", "2026-03-01T09:00:00"),
        ("2026-03-01T09-00-00-0004.png", "2026-03-01T09:00:00"),
        ("20260301090000.jpg", "2026-03-01T09:00:00"),
        ("2026_03_01_09_00_00.jpg", "2026-03-01T09:00:00"),
        ("Image 2026-03-01 at 9.00.00 PM.jpg", "2026-03-01T21:00:00"),
        ("shelf/20260301_0930.jpg", "2026-03-01T09:30:00"),
        ("tray_2026-03-01_09h05.jpg", "2026-03-01T09:05:00"),
    ],
)
def test_a_time_in_the_name_is_read(name: str, text: str) -> None:
    got = taken(b"", name, 0)
    assert (got.text, got.source) == (text, "name")


@pytest.mark.parametrize(
    "name", ["IMG_0042.jpg", "DSC12345678_123456.jpg", "2026-13-01 10.00.00.jpg", "20260230_100000.jpg"]
)
def test_numbers_that_are_no_date_are_not_taken_for_one(name: str) -> None:
    assert taken(b"", name, NOON_NS).source == "file"


def test_a_day_alone_only_counts_where_the_file_says_another_day() -> None:
    assert taken(b"", "2026-03-01.jpg", NOON_NS).text == "2026-03-01T12:00:00"
    copied = taken(b"", "IMG-20260214-WA0007.jpg", NOON_NS)
    assert (copied.text, copied.source) == ("2026-02-14T00:00:00", "name")


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone cannot be changed here")
def test_the_files_time_is_read_as_utc_in_every_zone(monkeypatch: pytest.MonkeyPatch) -> None:
    for zone in ("UTC", "Asia/Tokyo", "America/Los_Angeles"):
        monkeypatch.setitem(os.environ, "TZ", zone)
        time.tzset()
        try:
            got = taken(b"", "a.jpg", NOON_NS)
        finally:
            monkeypatch.delitem(os.environ, "TZ")
            time.tzset()
        assert (got.text, got.source) == ("2026-03-01T12:00:00", "file")
