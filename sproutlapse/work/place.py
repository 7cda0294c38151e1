"""The results folder: where it is, that it may be used, and whose photos its results are of."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from contextlib import suppress
from pathlib import Path

from sproutlapse.errors import ResultsError
from sproutlapse.frames.find import PhotoFile, path_of
from sproutlapse.frames.reel import is_film
from sproutlapse.work.store import NAME, Scanned, Store

ANOTHER = "Name another folder with --out."
# Desktops leave files of their own in every folder that they have shown; names with a point in front count as such too.
_OF_DESKTOPS = frozenset({"Thumbs.db", "desktop.ini"})


def results_folder(folder: Path, out: Path | None) -> Path:
    """The results folder, made if need be.

    Parameters
    ----------
    folder
        The photo folder, or a film; it exists.
    out
        The folder asked for, or None for FOLDER-results beside FOLDER (of a film, without its ending).

    Raises
    ------
    ResultsError
        If it is a file, the photo folder, inside or around it, holds something that is not ours, or cannot be made.
    """
    photos = folder.resolve()
    if out is None:
        out = results_beside(folder)
    place = out.resolve()
    if _within(photos, place) or _within(place, photos):
        raise ResultsError(
            "results cannot lie in the photo folder or around it.",
            where=str(out),
            remedy=f"{ANOTHER} Without --out they go beside it.",
        )
    if place.exists() and not place.is_dir():
        raise ResultsError("this is a file; results need a folder.", where=str(out), remedy=ANOTHER)
    try:
        place.mkdir(parents=True, exist_ok=True)
        names = {entry.name for entry in place.iterdir()}
    except OSError as error:
        raise ResultsError(
            f"the folder cannot be made or read ({error.strerror or error}).",
            where=str(out),
            remedy="Check the path and who may write there, or name another folder with --out.",
        ) from error
    foreign = sorted(name for name in names if not name.startswith(".") and name not in _OF_DESKTOPS)
    if foreign and NAME not in names:
        raise ResultsError(
            f"the folder holds something that is not ours ({', '.join(foreign[:3])}).",
            where=str(out),
            remedy="Name an empty or a new folder with --out.",
        )
    return out


def results_beside(folder: Path) -> Path:
    """Where results go unless a place is named: beside the photo folder or the film.

    Raises
    ------
    ResultsError
        If nothing can lie beside it.
    """
    photos = folder.resolve()
    if not photos.name:
        raise ResultsError("nothing lies beside the root of a disk.", where=str(folder), remedy=ANOTHER)
    return photos.with_name(own_name(photos) + "-results")


def own_name(folder: Path) -> str:
    """The name of a photo folder, or of a film without its ending."""
    return folder.stem if is_film(folder) else folder.name


def _within(outer: Path, inner: Path) -> bool:
    """Whether a folder is another one or lies in it, also where only the case of letters tells their paths apart."""
    if outer == inner or outer in inner.parents:
        return True
    return (
        any(place.exists() and place.samefile(outer) for place in (inner, *inner.parents)) if outer.exists() else False
    )


def must_be_of(store: Store, folder: Path, out: Path, scanned: Iterable[Scanned]) -> None:
    """Stop before results of other photos would be written over.

    A folder that grew, shrank, moved or was renamed shares photos with the last run; a wrong --out does not.

    Raises
    ------
    ResultsError
        If no photo of the folder was there at the last run.
    """
    before = {one.digest for one in store.scanned().values()}
    told = store.about("folder")
    if before and told not in (None, str(folder)) and before.isdisjoint(one.digest for one in scanned):
        raise ResultsError(f"these are the results of other photos, those of {told}.", where=str(out), remedy=ANOTHER)


def ways_to(folder: Path, out: Path) -> list[str]:
    """How to find the photos again from the results: the whole path, and the path from the results folder, which holds
    when both were moved together."""
    ways = [str(folder.resolve())]
    with suppress(ValueError):  # another drive
        ways.append(os.path.relpath(folder.resolve(), out.resolve()))
    return ways


def photos_of(ways: Sequence[str], out: Path, files: Iterable[Scanned]) -> tuple[Path, list[PhotoFile]]:
    """The photo folder as `ways_to` tells, and the files as they were at the last run; they need not be there now."""
    places = [out.resolve() / way for way in ways]
    folder = next((place for place in places if place.exists()), places[0])
    folder = Path(os.path.normpath(folder))
    return folder, [PhotoFile(one.frame, path_of(folder, one.frame), one.size, one.mtime_ns) for one in files]
