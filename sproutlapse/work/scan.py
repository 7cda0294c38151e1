"""The photo folder as it stands: each file hashed and dated once, all in camera order."""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from sproutlapse.frames.clock import Dated, in_order
from sproutlapse.frames.decode import Damaged, read_bytes
from sproutlapse.frames.find import PhotoFile
from sproutlapse.frames.moment import Taken, taken
from sproutlapse.work.store import Scanned

# A file that was written to so shortly before it was read may have been written to again since, with the same size and
# time: disks keep time in steps of up to 2 s (FAT), and a network disk's clock is not this machine's.
JUST_WRITTEN_S = 4.0
_NEVER = -1  # a time that no file has, so that it is read again


@dataclass(frozen=True)
class Photo:
    """One file in camera order; `copy_of` names the first file with the same bytes, or is empty."""

    file: PhotoFile
    digest: str
    dated: Dated
    copy_of: str


@dataclass(frozen=True)
class Scan:
    """The folder: photos in camera order, what was read of each file, and what to tell of their times."""

    photos: tuple[Photo, ...]
    scanned: tuple[Scanned, ...]
    messages: tuple[str, ...]


def scan(files: Sequence[PhotoFile], known: Mapping[str, Scanned], step: Callable[[], None]) -> Scan:
    """Read the files that are new or changed, and put all in camera order.

    Parameters
    ----------
    files
        What lies in the folder.
    known
        Files as last read, by frame; one of the same size and time is not read again.
    step
        Called after each file.

    Raises
    ------
    PhotosError
        If a file cannot be read.
    """
    scanned = []
    for file in files:
        scanned.append(_read(file, known.get(file.frame)))
        step()
    by_frame = {one.frame: one for one in scanned}
    dated, messages = in_order([(one.frame, _moment(one.moment)) for one in scanned])
    files_by_frame = {file.frame: file for file in files}
    first: dict[str, str] = {}
    photos = []
    for one in dated:
        digest = by_frame[one.frame].digest
        photos.append(Photo(files_by_frame[one.frame], digest, one, first.get(digest, "")))
        first.setdefault(digest, one.frame)
    return Scan(tuple(photos), tuple(scanned), tuple(messages))


def _read(file: PhotoFile, known: Scanned | None) -> Scanned:
    if known is not None and (known.size, known.mtime_ns) == (file.size_bytes, file.mtime_ns):
        # A film's frames may be told to begin otherwise than before; their pictures are the same.
        return known if file.when is None else replace(known, moment=_told(_of_film(file.when, file.offset)))
    try:
        data = read_bytes(file.path)
        digest = hashlib.sha256(data).hexdigest()
    except Damaged:  # larger than any photo; why, is told when it is looked at
        data = b""
        digest = hashlib.sha256(f"{file.frame} {file.size_bytes} {file.mtime_ns}".encode()).hexdigest()
    when = taken(data, file.frame, file.mtime_ns) if file.when is None else _of_film(file.when, file.offset)
    settled = abs(time.time() - file.mtime_ns / 1e9) > JUST_WRITTEN_S
    return Scanned(file.frame, file.size_bytes, file.mtime_ns if settled else _NEVER, digest, _told(when))


def _of_film(when: datetime, offset: str) -> Taken:
    return Taken(when, offset, "film")


def _told(when: Taken) -> str:
    return json.dumps([when.when.isoformat(), when.offset, when.source])


def _moment(text: str) -> Taken:
    when, offset, source = json.loads(text)
    return Taken(datetime.fromisoformat(when), offset, source)
