"""Which files in a folder are interval photos: a folder goes in, picture files in natural order come out."""

from __future__ import annotations

import errno
import os
import re
import stat
from collections import Counter
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from pathlib import Path

from natsort import natsort_keygen, ns

from sproutlapse.errors import PhotosError
from sproutlapse.frames import reel, reel_times

JPEG_ENDINGS = (".jpg", ".jpeg", ".jpe")
PLAIN_ENDINGS = (".png", ".tif", ".tiff", ".webp")
HEIC_ENDINGS = (".heic", ".heif")
RAW_ENDINGS = (".dng", ".cr2", ".cr3", ".nef", ".arw", ".orf", ".rw2", ".raf")
PICTURE_ENDINGS = JPEG_ENDINGS + PLAIN_ENDINGS + HEIC_ENDINGS + RAW_ENDINGS

# Folders that systems keep on every disk, mostly not to be read by others: fsck(8), and Windows.
OF_SYSTEMS = frozenset({"lost+found", "System Volume Information", "$RECYCLE.BIN"})

# A folder that holds this file is one of results, so its pictures are ours and no photos.
RESULTS_MARK = "store.sqlite"
# What stands in view of a tray: a subfolder that holds one is another tray's, where the folder has one of its own.
TRAY_MARK = "tray.toml"

natural_key = natsort_keygen(alg=ns.PATH | ns.IGNORECASE)


class NoPictureError(PhotosError):
    """A folder that is there and holds no picture yet."""


@dataclass(frozen=True)
class PhotoFile:
    """One file with a picture's ending, or one frame of a film.

    Attributes
    ----------
    frame
        Path relative to the photo folder, with forward slashes on every system; see `frame_of`.
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


@lru_cache(maxsize=50_000)  # a folder that is watched is put in order after each photo
def natural_order(frame: str) -> tuple[object, ...]:
    """Sort key of a frame's path: IMG_2 before IMG_10, folders before what follows them, upper and lower case alike."""
    return (natural_key(frame), frame)


def frame_of(name: str) -> str:
    r"""A file's path as text that can be written anywhere.

    Bytes that are no UTF-8, as old cameras and disks leave them in names, are shown as `\xe4`.
    """
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")


def path_of(folder: Path, frame: str) -> Path:
    """The file that `frame_of` named; it need not be there."""
    plain = folder / frame
    if "\\x" not in frame or plain.exists():
        return plain
    raw = re.sub(rb"\\x([89a-f][0-9a-f])", lambda found: bytes.fromhex(found[1].decode()), frame.encode("utf-8"))
    return folder / os.fsdecode(raw)


def number_of(frame: str) -> int | None:
    """The number at the end of the file's name, before its ending: `100A/IMG_0042.JPG` -> 42; None if there is none."""
    stem = frame.rsplit("/", 1)[-1].rsplit(".", 1)[0]
    found = re.search(r"[0-9]+$", stem)
    return int(found.group()) if found else None


def photos(folder: Path, times: reel_times.FilmTimes | None = None) -> list[PhotoFile]:
    """All files with a picture's ending in a folder and its subfolders, in natural order of their relative path; or all
    frames of a film.

    Hidden files and folders, and folders of results, are passed over; where the folder holds a tray.toml, subfolders
    with one of their own as well. Nothing is opened: that a file is a picture is told from its ending alone.

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
    must_be_photo_folder(folder)
    found, others = _below(folder)
    if not found:
        raise _no_picture(folder, others)
    return _told_apart(sorted(found, key=lambda photo: natural_order(photo.frame)))


def _below(folder: Path) -> tuple[list[PhotoFile], Counter[str]]:
    """Its photos, subfolders included; and the endings of what else there is, with how often."""
    own = (folder / TRAY_MARK).exists()
    found: list[PhotoFile] = []
    others: Counter[str] = Counter()
    seen = {identity(folder)}
    waiting = [(folder, "")]
    while waiting:
        here, prefix = waiting.pop()
        for entry in entries(here):
            if entry.name.startswith(".") or entry.name in OF_SYSTEMS:
                continue
            if is_folder(entry):
                inner = Path(entry.path)
                if (inner / RESULTS_MARK).exists() or (own and (inner / TRAY_MARK).exists()) or identity(inner) in seen:
                    continue
                seen.add(identity(inner))
                waiting.append((inner, f"{prefix}{entry.name}/"))
            elif Path(entry.name).suffix.lower() in PICTURE_ENDINGS:
                photo = _photo(entry, prefix)
                if photo is not None:
                    found.append(photo)
            else:
                others[Path(entry.name).suffix.lower() or "no ending"] += 1
    return found, others


def _frames(film: Path, times: reel_times.FilmTimes) -> list[PhotoFile]:
    count, stat = reel.count(film), film.stat()
    names = [reel.frame_name(number) for number in range(1, count + 1)]
    return [
        PhotoFile(name, film / name, stat.st_size, stat.st_mtime_ns, times.at(number), times.offset)
        for number, name in enumerate(names, start=1)
    ]


def _told_apart(found: list[PhotoFile]) -> list[PhotoFile]:
    """Each file under a name of its own: one that was written out may be spelt as another one truly is."""
    taken = {photo.frame for photo in found if photo.path.name == photo.frame.rsplit("/", 1)[-1]}
    for k, photo in enumerate(found):
        if photo.path.name != photo.frame.rsplit("/", 1)[-1] and photo.frame in taken:
            found[k] = replace(photo, frame=f"{photo.frame}{photo.path.suffix}")
    return found


def must_be_photo_folder(folder: Path) -> None:
    """Raise PhotosError where a folder is missing, is a file, must not be read, or holds results."""
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


def entries(folder: Path) -> list[os.DirEntry[str]]:
    """What a folder holds, by name; PhotosError where it cannot be read."""
    try:
        with os.scandir(folder) as found:
            return sorted(found, key=lambda entry: entry.name)
    except OSError as err:
        raise _unreadable(folder, err) from err


def _unreadable(folder: Path, err: OSError) -> PhotosError:
    return PhotosError(
        f"the folder cannot be read ({err.strerror or err})",
        where=str(folder),
        remedy="give yourself permission to read it, or copy the photos to a folder of your own",
    )


def is_folder(entry: os.DirEntry[str]) -> bool:
    """Whether it is a folder or a link to one; not for a link in a circle."""
    try:
        return entry.is_dir()
    except OSError:
        return False


def identity(folder: Path) -> str:
    """What tells a folder from all others, however it was reached."""
    # The real path tells a linked folder from itself on every system; inode numbers are 0 on some file systems.
    return os.path.normcase(os.path.realpath(folder))


def _photo(entry: os.DirEntry[str], prefix: str) -> PhotoFile | None:
    try:
        # entry.stat() gives no valid size for links on Windows, so the path is asked.
        told = Path(entry.path).stat()
    except FileNotFoundError:
        # A link to nothing, or a file that a sync program took away meanwhile.
        return None
    except OSError as err:
        if err.errno == errno.ELOOP:  # a link to itself
            return None
        raise _unreadable(Path(entry.path), err) from err
    if not stat.S_ISREG(told.st_mode):
        return None  # a pipe or a device of that name: reading it might never end
    return PhotoFile(frame_of(prefix + entry.name), Path(entry.path), told.st_size, told.st_mtime_ns)


def _no_picture(folder: Path, others: Counter[str]) -> NoPictureError:
    looked_for = ", ".join(ending.lstrip(".") for ending in PICTURE_ENDINGS)
    if others:
        listed = ", ".join(f"{ending} ({count})" for ending, count in others.most_common(8))
        what = f"no picture in it or its subfolders; endings found instead: {listed}"
    else:
        what = "no picture in it or its subfolders; there are no other files either"
    return NoPictureError(what, where=str(folder), remedy=f"put photos there with one of these endings: {looked_for}")
