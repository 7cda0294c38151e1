"""What lies in a folder that is watched, asked often and cheaply: names each time, sizes and times as seldom as a slow
disk demands."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path, PurePosixPath

from sproutlapse.frames.find import PICTURE_ENDINGS, NoPictureError, PhotoFile
from sproutlapse.frames.reel import is_film

# Asking for names, or for the sizes of all files, may take this share of the time at most.
NAMES_SHARE, SIZES_SHARE = 0.1, 0.05


class Glance:
    """A folder that is asked again and again.

    Parameters
    ----------
    folder
        The photo folder.
    find
        Lists its photos with their sizes; raises `NoPictureError` where there are none.
    clock
        Seconds that only ever rise.
    """

    def __init__(self, folder: Path, find: Callable[[Path], list[PhotoFile]], clock: Callable[[], float]) -> None:
        self._folder, self._find, self._clock = folder, find, clock
        self._names: frozenset[str] | None = None
        self._names_due = self._sizes_due = 0.0

    def look(self, *, eager: bool) -> list[PhotoFile] | None:
        """All photos with their sizes, or None where there is nothing new.

        Parameters
        ----------
        eager
            Ask for sizes in any case: some files are on their way.

        Raises
        ------
        PhotosError
            If the folder cannot be read.
        OSError
            If it is gone.
        """
        began = self._clock()
        if began < self._names_due:
            return None
        names = _names(self._folder)
        self._names_due = self._clock() + (self._clock() - began) / NAMES_SHARE
        if names == self._names and not eager and began < self._sizes_due:
            return None
        began = self._clock()
        try:
            files = self._find(self._folder)
        except NoPictureError:
            files = []
        self._sizes_due = self._clock() + (self._clock() - began) / SIZES_SHARE
        self._names = names
        return files


def _names(folder: Path) -> frozenset[str]:
    """The pictures in a folder and its subfolders, told from their endings alone; of a film its size and time."""
    if is_film(folder):
        told = folder.stat()
        return frozenset({f"{told.st_size} {told.st_mtime_ns}"})
    found: set[str] = set()
    seen: set[str] = set()
    waiting = [str(folder)]
    while waiting:
        here = waiting.pop()
        real = os.path.realpath(here)
        if real in seen:
            continue
        seen.add(real)
        with os.scandir(here) as entries:
            for entry in entries:
                if entry.name.startswith("."):
                    continue
                if PurePosixPath(entry.name).suffix.lower() in PICTURE_ENDINGS:
                    found.add(entry.path)
                elif entry.is_dir():
                    waiting.append(entry.path)
    return frozenset(found)
