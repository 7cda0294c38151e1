"""When one photo was taken, by the camera's own wall clock: from EXIF, else its name, else the file's own time.

A photo's bytes and file name go in, its time comes out; the zone of this machine is never used.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Literal

from PIL import ExifTags, Image

from sproutlapse.frames.decode import is_heic
from sproutlapse.frames.find import HEIC_ENDINGS

Source = Literal["exif", "name", "file", "film"]

# Exif 2.32, table 8: tags of date and time.
DATE_TIME_ORIGINAL, SUBSEC_ORIGINAL, OFFSET_ORIGINAL = 0x9003, 0x9291, 0x9011
EXIF_IFD = ExifTags.IFD.Exif

_DATE = r"(?<![0-9])(?P<y>19[7-9][0-9]|20[0-9]{2})(?P<s>[-_. ]?)(?P<m>[01][0-9])(?P=s)(?P<d>[0-3][0-9])"
_BETWEEN = r"(?:[ _-]at[ _-]|[ T_.-]{0,3})"
# Tried in this order: with seconds run together, with marks between, and hours and minutes alone.
_TIMES = (
    r"(?P<H>[0-2][0-9])(?P<M>[0-5][0-9])(?P<S>[0-5][0-9])(?P<f>[0-9]{3})?(?![0-9])",
    r"(?P<H>[0-2]?[0-9])(?P<t>[-_.:])(?P<M>[0-5][0-9])(?P=t)(?P<S>[0-5][0-9])(?![0-9])(?: ?(?P<half>[AaPp][Mm]))?",
    r"(?P<H>[0-2]?[0-9])[-_.:h](?P<M>[0-5][0-9])(?![0-9])(?: ?(?P<half>[AaPp][Mm]))?",
    # Not 0000 to 0059, which are more often a running number than the hour after midnight.
    r"(?P<H>0[1-9]|1[0-9]|2[0-3])(?P<M>[0-5][0-9])(?![0-9])",
)
_DATES_AND_TIMES = tuple(re.compile(_DATE + _BETWEEN + time) for time in _TIMES)
_DATE_ONLY = re.compile(_DATE + r"(?![0-9])")


@dataclass(frozen=True)
class Taken:
    """When one photo was taken.

    Attributes
    ----------
    when
        The camera's wall clock, without a zone.
    offset
        `+01:00` if the camera gave its offset from UTC, else empty.
    source
        exif: the camera wrote it into the photo; name: read from the file's name; file: the file's own time as UTC;
        film: by the number of a film's frame.
    """

    when: datetime
    offset: str
    source: Source

    @property
    def text(self) -> str:
        """As tables print it: `2026-03-01T09:00:00`, with the offset only if the camera gave it."""
        return self.when.replace(microsecond=0).isoformat() + self.offset


def taken(data: bytes, frame: str, mtime_ns: int) -> Taken:
    """When a photo was taken: from EXIF, else from the file's name, else from the file's own time read as UTC.

    Parameters
    ----------
    data
        The file's bytes; pixels are not decoded.
    frame
        Path relative to the photo folder.
    mtime_ns
        The file's own time in nanoseconds since 1970-01-01 UTC.
    """
    known = _from_exif(data, frame) or _from_name(frame)
    if known is not None:
        return known
    when, day = _from_file(mtime_ns), _day_in_name(frame)
    # A copy carries the time of copying: a day in the name then knows better. Zones reach 14 h from UTC.
    if day is not None and not day - timedelta(hours=14) <= when <= day + timedelta(hours=38):
        return Taken(day, "", "name")
    return Taken(when, "", "file")


def _from_file(mtime_ns: int) -> datetime:
    start = datetime(1970, 1, 1, tzinfo=UTC)
    try:
        return (start + timedelta(microseconds=mtime_ns // 1000)).replace(tzinfo=None)
    except OverflowError:
        return start.replace(tzinfo=None)


def _from_exif(data: bytes, frame: str) -> Taken | None:
    tags = _exif_times(data, frame)
    when = _exif_date(_text(tags.get(DATE_TIME_ORIGINAL)))
    if when is None:
        return None
    parts = re.match(r"\s*([0-9]{1,6})", _text(tags.get(SUBSEC_ORIGINAL)))
    if parts:
        when = when.replace(microsecond=int(parts.group(1).ljust(6, "0")))
    offset = _text(tags.get(OFFSET_ORIGINAL)).strip()
    return Taken(when, offset if re.fullmatch(r"[+-][01][0-9]:[0-5][0-9]", offset) else "", "exif")


def _exif_times(data: bytes, frame: str) -> dict[int, Any]:
    if is_heic(data) or frame.lower().endswith(HEIC_ENDINGS):
        _try_heic()
    try:
        with Image.open(io.BytesIO(data)) as picture:
            return dict(picture.getexif().get_ifd(EXIF_IFD))
    except Exception:  # a broken header means only that this source of the time is missing
        return {}


def _try_heic() -> None:
    try:
        import pillow_heif  # noqa: PLC0415 - an extra
    except ImportError:
        return
    pillow_heif.register_heif_opener()


def _text(value: object) -> str:
    if isinstance(value, bytes):
        value = value.decode("ascii", "replace")
    return value.replace("\x00", "") if isinstance(value, str) else ""


def _exif_date(text: str) -> datetime | None:
    found = re.match(r"\s*([0-9]{4})[:\-/.]([0-9]{2})[:\-/.]([0-9]{2})[ T]+([0-9]{2}):([0-9]{2}):([0-9]{2})", text)
    if not found:
        return None
    year, month, day, hour, minute, second = (int(part) for part in found.groups())
    return _date((year, month, day), (hour, minute, second))


def _date(day: tuple[int, int, int], clock: tuple[int, int, int] = (0, 0, 0)) -> datetime | None:
    """The date, or None where the calendar has no such day (cameras write 0000:00:00 while their clock is unset)."""
    try:
        return datetime(*day, *clock)
    except ValueError:
        return None


def _ymd(found: re.Match[str]) -> tuple[int, int, int]:
    return int(found["y"]), int(found["m"]), int(found["d"])


def _from_name(frame: str) -> Taken | None:
    """The time that a file's name spells out, if it has both a date and a time of day."""
    stem = _stem(frame)
    for pattern in _DATES_AND_TIMES:
        for found in pattern.finditer(stem):
            part = found.groupdict()
            hour, half = int(part["H"]), (part.get("half") or "").lower()
            if half:
                hour = hour % 12 + (12 if half == "pm" else 0)
            when = _date(_ymd(found), (hour, int(part["M"]), int(part.get("S") or 0)))
            if when is not None:
                return Taken(when.replace(microsecond=int(part.get("f") or 0) * 1000), "", "name")
    return None


def _day_in_name(frame: str) -> datetime | None:
    for found in _DATE_ONLY.finditer(_stem(frame)):
        day = _date(_ymd(found))
        if day is not None:
            return day
    return None


def _stem(frame: str) -> str:
    return frame.rsplit("/", 1)[-1].rsplit(".", 1)[0]
