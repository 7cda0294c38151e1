"""When the frames of a film were taken: by the number, from when it begins and how long from frame to frame.

What a film says of its own speed is how fast it is to be shown, so it tells nothing of that, also where it varies.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from sproutlapse.errors import PhotosError, SproutlapseError
from sproutlapse.frames import reel

_HOW = 'for example --begins "2026-03-01 09:00" --every 60'


@dataclass(frozen=True)
class FilmTimes:
    """What is known of a film's times; None where nothing was said.

    Attributes
    ----------
    begins
        When the first frame was taken, by the clock on the wall.
    offset
        `+01:00` if it was given with an offset from UTC, else empty.
    every_min
        Minutes from frame to frame.
    """

    begins: datetime | None = None
    offset: str = ""
    every_min: float | None = None

    def over(self, kept: FilmTimes | None) -> FilmTimes:
        """These, with what is missing taken from `kept`."""
        if kept is None:
            return self
        begins, offset = (self.begins, self.offset) if self.begins is not None else (kept.begins, kept.offset)
        return FilmTimes(begins, offset, kept.every_min if self.every_min is None else self.every_min)

    def at(self, number: int) -> datetime:
        """When a frame was taken, counted from 1."""
        assert self.begins is not None and self.every_min is not None
        return self.begins + timedelta(minutes=self.every_min) * (number - 1)


# Where times do not matter, as to the picture of a tray.
ANY_TIMES = FilmTimes(datetime(2000, 1, 1), "", 60.0)


def film_times(begins: str | None, every_min: float | None) -> FilmTimes:
    """The times as a person gave them.

    Parameters
    ----------
    begins
        `2026-03-01 09:00`, with T or seconds or an offset if they like; None if not said.
    every_min
        Minutes from frame to frame, over 0; None if not said.

    Raises
    ------
    SproutlapseError
        If `begins` is no time of a day.
    """
    if begins is None:
        return FilmTimes(None, "", every_min)
    word = begins.strip()
    try:
        when = datetime.fromisoformat(word)
    except ValueError:
        when = None
    if when is None or not re.search(r"[T ][0-9]{2}", word):
        raise SproutlapseError(
            f"“{begins}” is no day with its time.", where="--begins", remedy='Write --begins "2026-03-01 09:00".'
        )
    return FilmTimes(when.replace(tzinfo=None), when.isoformat()[-6:] if when.tzinfo else "", every_min)


def settled(film: Path, asked: FilmTimes | None) -> FilmTimes:
    """The times of a film, its beginning from the film's own date where nobody gave it.

    Parameters
    ----------
    film
        The film.
    asked
        What was said.

    Raises
    ------
    PhotosError
        If it is not known when it begins or how long it is from frame to frame, or if the calendar ends before the
        film does.
    """
    asked = asked or FilmTimes()
    found = reel.index(film)
    if asked.every_min is None:
        raise PhotosError(
            "this is a film, and a film does not tell how long it was from frame to frame.",
            where=str(film),
            remedy=f"Add --every with the camera's interval in minutes, {_HOW}.",
        )
    begins = found.created if asked.begins is None else asked.begins
    if begins is None:
        raise PhotosError(
            "this film does not tell when it begins.",
            where=str(film),
            remedy=f"Add --begins with day and time of its first frame, {_HOW}.",
        )
    times = FilmTimes(begins, asked.offset, asked.every_min)
    try:
        times.at(reel.count(film))
    except OverflowError as error:
        raise PhotosError(
            f"with {asked.every_min:g} minutes from frame to frame the film would go on beyond the year 9999.",
            where=str(film),
            remedy=f"Give --every in minutes, {_HOW}.",
        ) from error
    return times


def needs_folder(folder: Path) -> PhotosError:
    """What to say where times of a film were given for a folder of photos."""
    return PhotosError(
        "--begins and --every are for a film; photos carry their own times.",
        where=str(folder),
        remedy="Leave them out, or name the film itself.",
    )


def told_of_times(film: Path, asked: FilmTimes | None) -> list[str]:
    """What was taken for granted of a film's times."""
    found = reel.index(film)
    if found.created is None or (asked is not None and asked.begins not in {None, found.created}):
        return []
    zone = "which by the standard is UTC and not the clock on the wall" if found.created_utc else "by its own clock"
    return [
        f"{film.name}: the date that the film carries, {found.created.isoformat(' ', 'seconds')}, was taken for its "
        f"first frame, {zone}. Some cameras write when the film ended. What to do: where it is otherwise, name it with "
        "--begins."
    ]
