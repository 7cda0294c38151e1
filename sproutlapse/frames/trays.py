"""Which folders below a root are trays of one season: those that hold photos and a tray.toml."""

from __future__ import annotations

import os
from collections import Counter, deque
from dataclasses import dataclass
from pathlib import Path

from sproutlapse.errors import PhotosError
from sproutlapse.frames.find import (
    OF_SYSTEMS,
    PICTURE_ENDINGS,
    RESULTS_MARK,
    TRAY_MARK,
    entries,
    frame_of,
    identity,
    is_folder,
    must_be_photo_folder,
    natural_order,
)

SIGHT = "tray.png"  # what the command `tray` draws beside a tray.toml: no photo
MOST_NAMED = 8


@dataclass(frozen=True)
class TrayFolder:
    """One tray of a season.

    Attributes
    ----------
    name
        Its folder's path below the root, with forward slashes; the root's own name where the root is a tray.
    folder
        Its photos, below the root as that was named.
    photos
        How many files with a picture's ending count as its own.
    """

    name: str
    folder: Path
    photos: int


@dataclass(frozen=True)
class Found:
    """What lies below a root.

    Attributes
    ----------
    trays
        In natural order of their names.
    untold
        Folders with photos and no tray.toml in them or above, each with how many.
    bare
        Folders with a tray.toml and no photo so far.
    closed
        Folders that could not be read, each with why.
    """

    trays: tuple[TrayFolder, ...]
    untold: tuple[tuple[str, int], ...]
    bare: tuple[str, ...]
    closed: tuple[tuple[str, str], ...]


def trays_below(root: Path, *, but: Path | None = None) -> Found:
    """The trays of a season.

    A photo counts for the nearest folder upwards that holds a tray.toml, never beyond the root. Hidden folders, folders
    of results and what `sproutlapse tray` drew are passed over. A folder that several links lead to counts once, under
    its own path where that lies below the root.

    Parameters
    ----------
    root
        Where to search.
    but
        A folder that is not searched: the one that all results go to.

    Raises
    ------
    PhotosError
        The root is missing, is a file, must not be read, or is a folder of results.
    """
    root = Path(root)
    must_be_photo_folder(root)
    walk = _Walk({identity(root)} | ({identity(but)} if but is not None else set()))
    walk.look(root, "", None)
    # Links last, so that a folder goes by its own path wherever it has one here.
    while walk.plain or walk.linked:
        inner, name, tray = walk.plain.pop() if walk.plain else walk.linked.popleft()
        if identity(inner) not in walk.seen:
            walk.seen.add(identity(inner))
            walk.look(inner, name, tray)
    return walk.found(root)


class _Walk:
    def __init__(self, seen: set[str]) -> None:
        self.seen = seen
        self.plain: list[tuple[Path, str, str | None]] = []
        self.linked: deque[tuple[Path, str, str | None]] = deque()
        self._trays: dict[str, Path] = {}
        self._photos: Counter[str] = Counter()
        self._untold: Counter[str] = Counter()
        self._closed: list[tuple[str, str]] = []

    def look(self, here: Path, name: str, tray: str | None) -> None:
        """Enter what one folder holds; `tray` names the nearest tray above it."""
        try:
            found = entries(here)
        except PhotosError as error:
            if not name:
                raise
            self._closed.append((frame_of(name), error.what))
            return
        names = {entry.name for entry in found}
        if RESULTS_MARK in names:
            return
        if TRAY_MARK in names and (here / TRAY_MARK).is_file():
            tray = name
            self._trays[name] = here
        pictures = 0
        for entry in found:
            if entry.name.startswith(".") or entry.name in OF_SYSTEMS:
                continue
            if is_folder(entry):
                inner = (Path(entry.path), f"{name}/{entry.name}".lstrip("/"), tray)
                (self.linked if entry.is_symlink() else self.plain).append(inner)
            elif Path(entry.name).suffix.lower() in PICTURE_ENDINGS and not (entry.name == SIGHT and tray == name):
                pictures += 1
        if pictures and tray is None:
            self._untold[name] = pictures
        elif tray is not None:
            self._photos[tray] += pictures

    def found(self, root: Path) -> Found:
        own = frame_of(root.resolve().name) or str(root)
        told = {name: frame_of(name) or (own if own not in self._trays else f"{own} itself") for name in self._trays}
        trays = [TrayFolder(told[n], here, self._photos[n]) for n, here in self._trays.items() if self._photos[n]]
        return Found(
            tuple(sorted(trays, key=lambda tray: natural_order(tray.name))),
            tuple((frame_of(name) or own, count) for name, count in sorted(self._untold.items())),
            tuple(sorted(told[name] for name in self._trays if not self._photos[name] and not self._drawn(name))),
            tuple(sorted(self._closed)),
        )

    def _drawn(self, name: str) -> bool:
        """Whether a folder is what `sproutlapse tray` made."""
        return (self._trays[name] / SIGHT).is_file()


def none_found(root: Path, found: Found) -> PhotosError:
    """What to say of a root without any tray."""
    where = str(root)
    if found.untold:
        listed = ", ".join(f"{name} ({count})" for name, count in found.untold[:MOST_NAMED])
        more = f" and {len(found.untold) - MOST_NAMED} more" if len(found.untold) > MOST_NAMED else ""
        first = root if found.untold[0][0] == root.resolve().name else root / found.untold[0][0]
        return PhotosError(
            f"no folder here holds photos and a tray.toml; photos without one: {listed}{more}",
            where=where,
            remedy=f"write a tray.toml into each folder of photos: sproutlapse tray {os.fspath(first)} makes one to "
            "begin with",
        )
    if found.bare:
        listed = ", ".join(found.bare[:MOST_NAMED])
        return PhotosError(
            f"no photo yet in any folder with a tray.toml: {listed}", where=where, remedy="put the photos there"
        )
    if found.closed:
        listed = "; ".join(f"{name}: {why}" for name, why in found.closed[:MOST_NAMED])
        return PhotosError(
            f"no tray found, and not all could be read: {listed}",
            where=where,
            remedy="give yourself permission to read these folders",
        )
    return PhotosError(
        "no folder here holds photos and a tray.toml",
        where=where,
        remedy="name the folder above those of your trays; each has its photos and a tray.toml in it",
    )
