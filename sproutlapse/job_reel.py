"""A film in place of the photo folder: its times as told now or at the last run, and what to say of it."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from sproutlapse.frames import reel, reel_times
from sproutlapse.frames.reel_times import FilmTimes
from sproutlapse.work.place import results_beside
from sproutlapse.work.store import NAME, Store

KEY = "film_times"


def times_of(folder: Path, out: Path | None, asked: FilmTimes | None) -> FilmTimes | None:
    """A film's times: as asked, what is missing as at the last run, its beginning else by the film's own date.

    Parameters
    ----------
    folder
        The film, or a photo folder.
    out
        The results folder, or None for the one beside it; it need not be there.
    asked
        What was said on the command line.

    Returns
    -------
    `asked` as it is for a photo folder, which has no such times.

    Raises
    ------
    PhotosError
        If a film's times are not known.
    """
    if not reel.is_film(folder):
        return asked
    place = out if out is not None else results_beside(folder)
    kept = None
    if (place / NAME).is_file():
        with Store(place) as store:
            kept = _read(store.about(KEY))
    return reel_times.settled(folder, (asked or FilmTimes()).over(kept))


def notes_of(folder: Path, times: FilmTimes | None) -> list[str]:
    """What a person should know of a film and its times; nothing of a photo folder."""
    if not reel.is_film(folder):
        return []
    return [*reel.told(folder), *reel_times.told_of_times(folder, times)]


def keep_times(store: Store, folder: Path, times: FilmTimes | None) -> list[str]:
    """Keep the times for the next run. Says what was changed of them since the last one, else nothing."""
    now = _values(times) if reel.is_film(folder) and times is not None else None
    before = store.about(KEY)
    if now == before:
        return []
    store.set_about({KEY: now})
    old = _read(before)
    if old is None or times is None:
        return []
    return [
        f"The film's times were told otherwise than at the last run: {_words(times)}; before, {_words(old)}. Nothing "
        "had to be measured again, but all that is told of days and hours is new; what stands in diary.csv keeps its "
        "times."
    ]


def _values(times: FilmTimes) -> dict[str, Any]:
    begins = None if times.begins is None else times.begins.isoformat()
    return {"begins": begins, "offset": times.offset, "every_min": times.every_min}


def _read(values: dict[str, Any] | None) -> FilmTimes | None:
    if values is None:
        return None
    return FilmTimes(datetime.fromisoformat(values["begins"]), str(values["offset"]), float(values["every_min"]))


def _words(times: FilmTimes) -> str:
    begins = "" if times.begins is None else times.begins.isoformat(" ", "seconds")
    return f"from {begins}{times.offset}, every {times.every_min:g} min"
