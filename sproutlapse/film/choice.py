"""Which photos of a season belong into the film: the part asked for, without or with the nights, or one hour a day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import ResultsError
from sproutlapse.film.options import FilmOptions, moment_of
from sproutlapse.frames.night import NIGHT
from sproutlapse.results import FrameRecord

# Where the film starts at emergence, it shows so many hours before it: bare soil first, then the loop.
BEFORE_EMERGENCE_H = 12.0
# A gap without any photo is a night too if its like comes again: this long, and on most days. A camera that is switched
# off with the lamps. Own proposal.
NIGHT_H = (4.0, 18.0)
OF_DAYS = 0.6
# One hour of the day: photos within so many hours of it count as that day's.
SAME_HOUR_H = 1.5
NOON = 12.5


def wall_clock(record: FrameRecord) -> datetime:
    """What the camera's clock showed, without its zone."""
    return datetime.fromisoformat(record.time).replace(tzinfo=None)


def of_the_night(record: FrameRecord) -> bool:
    """Whether a photo was left out because the lamps were off."""
    return not record.used and (record.reason.startswith("dark") or record.reason.startswith(NIGHT))


def chosen_photos(
    frames: Sequence[FrameRecord], options: FilmOptions, emerged_h: float | None = None
) -> list[FrameRecord]:
    """The photos of the part that is asked for.

    Parameters
    ----------
    frames
        All photos in time order.
    options
        `since`, `until`, `start_at` and `night`.
    emerged_h
        When the first plant came up, hours as in the tables.

    Raises
    ------
    ResultsError
        If there are photos but none in that part, or nothing came up to start at.
    """
    able = [r for r in frames if r.used or (options.night == "show" and of_the_night(r) and r.size is not None)]
    if not any(record.used for record in able):
        return []
    first = next(record for record in able if record.used)
    zero = options.day_zero or wall_clock(first).date() - timedelta(days=1)
    low, high = -np.inf, np.inf
    if options.since is not None:
        low = _hours(options.since, first, zero, end=False)
    if options.until is not None:
        high = _hours(options.until, first, zero, end=True)
    if options.start_at == "emergence":
        if emerged_h is None:
            raise ResultsError(
                "no plant has come up yet, so the film cannot start there", remedy="leave out --start-at"
            )
        low = emerged_h - BEFORE_EMERGENCE_H
    part = [record for record in able if low - 1e-9 <= record.elapsed_h < high]
    if not any(record.used for record in part):
        last = next(record for record in reversed(able) if record.used)
        raise ResultsError(
            "no usable photo was taken in the part that you asked for",
            remedy=f"there are photos from {first.time.replace('T', ' ')} to {last.time.replace('T', ' ')}; choose "
            "--from and --to within",
        )
    return part


def _hours(text: str, first: FrameRecord, zero: date, *, end: bool) -> float:
    told = moment_of(text, end=end)
    if isinstance(told, int):
        told = datetime.combine(zero, datetime.min.time()) + timedelta(days=told + (1 if end else 0))
    return first.elapsed_h + (told - wall_clock(first)).total_seconds() / 3600


def nights_between(records: Sequence[FrameRecord], frames: Sequence[FrameRecord], usual: float) -> NDArray[np.bool_]:
    """For each step from one shown photo to the next, whether it goes over a night.

    Parameters
    ----------
    records
        The photos that are shown.
    frames
        All photos.
    usual
        Usual time between two photos, hours.

    Returns
    -------
    (len(records) - 1,) bool
        True where photos between were dark, or where a gap of a night's length comes again on most days.
    """
    hours = np.array([record.elapsed_h for record in records])
    steps = np.diff(hours)
    dark = np.array([record.elapsed_h for record in frames if of_the_night(record)])
    within = np.searchsorted(dark, hours[1:]) - np.searchsorted(dark, hours[:-1], side="right")
    night = (within > 0) & (steps > usual)
    like = (steps > 1.6 * usual) & (steps > NIGHT_H[0]) & (steps < NIGHT_H[1])
    days = (hours[-1] - hours[0]) / 24
    if days >= 2 and like.sum() >= max(2, OF_DAYS * np.floor(days)):
        night |= like
    return np.asarray(night, dtype=np.bool_)


def calm_photos(records: Sequence[FrameRecord]) -> list[FrameRecord]:
    """One photo a day, at the hour of the day that most days have one of; of such hours the one nearest to midday."""
    light = [record for record in records if record.used]
    clock = [_hour_of_day(record) for record in light]
    days = [wall_clock(record).date() for record in light]
    count: Counter[int] = Counter()
    for hour in range(24):
        count[hour] = len({day for day, at in zip(days, clock, strict=True) if abs(at - hour) <= SAME_HOUR_H})
    most = max(count.values())
    best = min((hour for hour in count if count[hour] == most), key=lambda hour: abs(hour - NOON))
    nearest: dict[date, FrameRecord] = {}
    for record, at, day in zip(light, clock, days, strict=True):
        if abs(at - best) > SAME_HOUR_H:
            continue
        known = nearest.get(day)
        if known is None or abs(at - best) < abs(_hour_of_day(known) - best):
            nearest[day] = record
    return [nearest[day] for day in sorted(nearest)]


def _hour_of_day(record: FrameRecord) -> float:
    now = wall_clock(record)
    return now.hour + now.minute / 60
