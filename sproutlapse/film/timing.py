"""Which photo stands in each film picture, what its caption says, and how long the film is.

Frame records go in, a list of shots in film order comes out. No pictures are touched here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import PhotosError
from sproutlapse.film.options import FilmOptions
from sproutlapse.results import FrameRecord

# By name here, since the machine's own language must not change the film.
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
# A wall clock may differ from the running time by a change to summer time; more than this is a clock that was reset.
CLOCK_SLACK = timedelta(hours=1, minutes=5)


@dataclass(frozen=True)
class Shot:
    """One photo and its share of the film.

    Attributes
    ----------
    record
        The photo.
    repeats
        Film pictures that show it, at least 1.
    day
        Caption's day, "Day 12".
    moment
        Caption's date and time, "14 Mar 2025, 14:10".
    progress
        Where it lies between the first and the last photo of the film in true time, 0 to 1.
    """

    record: FrameRecord
    repeats: int
    day: str
    moment: str
    progress: float


def exact_rate(fps: float) -> Fraction:
    """The frame rate as a fraction of small whole numbers (23.976 becomes 24000/1001)."""
    broadcast = Fraction(round(fps) * 1000, 1001)
    if fps != round(fps) and abs(float(broadcast) - fps) < 0.005:
        return broadcast
    return Fraction(fps).limit_denominator(1001)


def film_seconds(frames: int, fps: float) -> float:
    """Length in seconds of so many pictures at a constant rate."""
    return float(frames / exact_rate(fps))


def shots(frames: Sequence[FrameRecord], options: FilmOptions) -> list[Shot]:
    """The photos of the film in order, each with its number of film pictures.

    Parameters
    ----------
    frames
        All photos in time order; only those used are shown.
    options
        Rate, length, gaps and day zero.

    Returns
    -------
    list of Shot
        Photos that the wanted length has no place for are left out.

    Raises
    ------
    PhotosError
        If no photo can be shown.
    """
    shown = [record for record in frames if record.used]
    if not shown:
        raise PhotosError(f"none of the {len(frames)} photos can be shown in a film", remedy=_why_none(frames))
    hours = np.array([record.elapsed_h for record in shown])
    repeats = held_pictures(hours) if options.gaps == "hold" else np.ones(len(shown), dtype=np.int64)
    if options.seconds is not None:
        repeats = stretched(repeats, max(1, round(options.seconds * exact_rate(options.fps))))
    clock = _captions(shown, options.day_zero)
    span = max(float(hours[-1] - hours[0]), 1e-9)
    return [
        Shot(record, int(times), *words, progress=float((record.elapsed_h - hours[0]) / span))
        for record, times, words in zip(shown, repeats, clock, strict=True)
        if times > 0
    ]


def held_pictures(hours: NDArray[np.float64]) -> NDArray[np.int64]:
    """How many film pictures each photo stands for when each picture stands for the same span of time.

    Parameters
    ----------
    hours
        (n,) times of the photos, hours, rising.

    Returns
    -------
    (n,) whole numbers
        1 for photos at the usual interval (the median), more before a gap.
    """
    steps = np.diff(hours)
    usual = float(np.median(steps)) if steps.size else 0.0
    if usual <= 0:
        return np.ones(len(hours), dtype=np.int64)
    slots = np.round((hours - hours[0]) / usual).astype(np.int64)
    return np.append(np.maximum(np.diff(slots), 0), 1)


def stretched(repeats: NDArray[np.int64], wanted: int) -> NDArray[np.int64]:
    """Shares of `wanted` film pictures in the proportions of `repeats`, each true to less than one picture."""
    edges = np.round(np.append(0, np.cumsum(repeats)) * (wanted / repeats.sum())).astype(np.int64)
    return np.asarray(np.diff(edges))


def _captions(shown: Sequence[FrameRecord], day_zero: date | None) -> list[tuple[str, str]]:
    start = _wall_clock(shown[0])
    zero = day_zero or start.date() - timedelta(days=1)
    words = []
    for record in shown:
        running = start + timedelta(hours=record.elapsed_h - shown[0].elapsed_h)
        written = _wall_clock(record)
        now = written if abs(written - running) <= CLOCK_SLACK else running
        day = (now.date() - zero).days
        words.append((f"Day {day}".replace("-", "−"), f"{now.day} {MONTHS[now.month - 1]} {now.year}, {now:%H:%M}"))
    return words


def _wall_clock(record: FrameRecord) -> datetime:
    return datetime.fromisoformat(record.time).replace(tzinfo=None)


def _why_none(frames: Sequence[FrameRecord]) -> str:
    reasons = sorted({record.reason for record in frames if record.reason})
    seen = f" (left out as: {', '.join(reasons)})" if reasons else ""
    return f"check with frames.csv why the photos were left out{seen}; take photos in enough light and run again"


def sentence(photos: int, shown: int, pictures: int, options: FilmOptions) -> str:
    """How long the film is and why: "336 photos, 224 by light: 9.3 s at 24 a second"."""
    start = f"{photos} photo{'s' if photos != 1 else ''}"
    if shown != photos:
        start += f", {shown} by light"
    why = f"{film_seconds(pictures, options.fps):.1f} s at {options.fps:g} a second"
    if options.seconds is not None:
        why += ", as asked"
    return f"{start}: {why}"
