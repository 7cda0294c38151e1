"""Which files in a folder are interval photos: a folder goes in, picture files in natural order come out."""

from __future__ import annotations

import os
import re
from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from natsort import natsort_keygen, ns

from sproutlapse.errors import PhotosError
from sproutlapse.frames import reel, reel_times

JPEG_ENDINGS = (".jpg", ".jpeg", ".jpe")
PLAIN_ENDINGS = (".png", ".tif", ".tiff", ".webp")
HEIC_ENDINGS = (".heic", ".heif")
RAW_ENDINGS = (".dng", ".cr2", ".cr3", ".nef", ".arw", ".orf", ".rw2", ".raf")
PICTURE_ENDINGS = JPEG_ENDINGS + PLAIN_ENDINGS + HEIC_ENDINGS + RAW_ENDINGS

# A folder that holds this file is one of results, so its pictures are ours and no photos.
RESULTS_MARK = "store.sqlite"

natural_key = natsort_keygen(alg=ns.PATH | ns.IGNORECASE)


@dataclass(frozen=True)
class PhotoFile:
    """One file with a picture's ending, or one frame of a film.

    Attributes
    ----------
    frame
        Path relative to the photo folder, with forward slashes on every system.
    path
        Where it is on this machine; of a film's frame, a path below the film's own.
    size_bytes
        Size of the file in bytes; of a film's frame, that of the film.
    mtime_ns
        The file's own time in nanoseconds since 1970-01-01 UTC.
    when, offset
        Of a film's frame: when it was taken, and `+01:00` if an offset from UTC was given. None and empty of a photo,
        which carries its own time.
    """

    frame: str
    path: Path
    size_bytes: int
    mtime_ns: int
    when: datetime | None = None
    offset: str = ""


def natural_order(frame: str) -> tuple[object, ...]:
    """Sort key of a frame's path: IMG_2 before IMG_10, folders before what follows them, upper and lower case alike."""
    return (natural_key(frame), frame)


def number_of(frame: str) -> int | None:
    """The number at the end of the file's name, before its ending: `100A/IMG_0042.JPG` -> 42; None if there is none."""
    stem = frame.rsplit("/", 1)[-1].rsplit(".", 1)[0]
    found = re.search(r"[0-9]+$", stem)
    return int(found.group()) if found else None


def photos(folder: Path, times: reel_times.FilmTimes | None = None) -> list[PhotoFile]:
    """All files with a picture's ending in a folder and its subfolders, in natural order of their relative path; or all
    frames of a film.

    Hidden files and folders, and folders of results, are passed over. Nothing is opened: that a file is a picture is
    told from its ending alone.

    Parameters
    ----------
    folder
        The photo folder, or a film.
    times
        What was said of a film's times.

    Raises
    ------
    PhotosError
        The folder is missing, is a file but no film, must not be read, is a folder of results, or holds no picture; or
        a film's times are not known, or were given for photos.
    """
    folder = Path(folder)
    if reel.is_film(folder):
        return _frames(folder, reel_times.settled(folder, times))
    if times not in (None, reel_times.FilmTimes(), reel_times.ANY_TIMES):
        raise reel_times.needs_folder(folder)
    _must_be_photo_folder(folder)
    found: list[PhotoFile] = []
    others: Counter[str] = Counter()
    seen = {_identity(folder)}
    waiting = [(folder, "")]
    while waiting:
        here, prefix = waiting.pop()
        for entry in _entries(here):
            if entry.name.startswith("."):
                continue
            if _is_folder(entry):
                inner = Path(entry.path)
                if (inner / RESULTS_MARK).exists() or _identity(inner) in seen:
                    continue
                seen.add(_identity(inner))
                waiting.append((inner, f"{prefix}{entry.name}/"))
            elif Path(entry.name).suffix.lower() in PICTURE_ENDINGS:
                photo = _photo(entry, prefix)
                if photo is not None:
                    found.append(photo)
            else:
                others[Path(entry.name).suffix.lower() or "no ending"] += 1
    if not found:
        raise _no_picture(folder, others)
    return sorted(found, key=lambda photo: natural_order(photo.frame))


def _frames(film: Path, times: reel_times.FilmTimes) -> list[PhotoFile]:
    count, stat = reel.count(film), film.stat()
    names = [reel.frame_name(number) for number in range(1, count + 1)]
    return [
        PhotoFile(name, film / name, stat.st_size, stat.st_mtime_ns, times.at(number), times.offset)
        for number, name in enumerate(names, start=1)
    ]


def _must_be_photo_folder(folder: Path) -> None:
    where = str(folder)
    try:
        exists, is_dir = folder.exists(), folder.is_dir()
    except OSError as err:
        raise _unreadable(folder, err) from err
    if not exists:
        raise PhotosError("there is no such folder", where=where, remedy=f"check the spelling{_nearby(folder)}")
    if not is_dir:
        raise PhotosError(
            f"this is a file, but a folder of photos or a film ({', '.join(reel.FILM_ENDINGS)}) is needed",
            where=where,
            remedy=f"give the folder that holds it: {folder.parent}",
        )
    if (folder / RESULTS_MARK).exists():
        raise PhotosError(
            f"this folder holds results ({RESULTS_MARK}), not photos",
            where=where,
            remedy="give the folder with the photos instead",
        )


def _nearby(folder: Path) -> str:
    """Names beside the missing folder, as a help against a slip of the finger."""
    try:
        beside = sorted(p.name for p in folder.parent.iterdir() if p.is_dir() and not p.name.startswith("."))
    except OSError:
        return ""
    return f"; folders there: {', '.join(beside[:8])}" if beside else ""


def _entries(folder: Path) -> list[os.DirEntry[str]]:
    try:
        with os.scandir(folder) as entries:
            return sorted(entries, key=lambda entry: entry.name)
    except OSError as err:
        raise _unreadable(folder, err) from err


def _unreadable(folder: Path, err: OSError) -> PhotosError:
    return PhotosError(
        f"the folder cannot be read ({err.strerror or err})",
        where=str(folder),
        remedy="give yourself permission to read it, or copy the photos to a folder of your own",
    )


def _is_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir()
    except OSError:
        return False


def _identity(folder: Path) -> str:
    # The real path tells a linked folder from itself on every system; inode numbers are 0 on some file systems.
    return os.path.normcase(os.path.realpath(folder))


def _photo(entry: os.DirEntry[str], prefix: str) -> PhotoFile | None:
    try:
        # entry.stat() gives no valid size for links on Windows, so the path is asked.
        stat = Path(entry.path).stat()
    except FileNotFoundError:
        # A link to nothing, or a file that a sync program took away meanwhile.
        return None
    except OSError as err:
        raise _unreadable(Path(entry.path), err) from err
    return PhotoFile(prefix + entry.name, Path(entry.path), stat.st_size, stat.st_mtime_ns)


def _no_picture(folder: Path, others: Counter[str]) -> PhotosError:
    looked_for = ", ".join(ending.lstrip(".") for ending in PICTURE_ENDINGS)
    if others:
        listed = ", ".join(f"{ending} ({count})" for ending, count in others.most_common(8))
        what = f"no picture in it or its subfolders; endings found instead: {listed}"
    else:
        what = "no picture in it or its subfolders; there are no other files either"
    return PhotosError(what, where=str(folder), remedy=f"put photos there with one of these endings: {looked_for}")
