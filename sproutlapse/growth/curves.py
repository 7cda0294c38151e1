"""Growth per day and relative growth rate of one plant, read between photos of the same hour of the day.

Leaves fold and lift with the lamp, so a plant can lose millimetres between night and noon without shrinking. Like
hours are therefore compared with like, and nothing is read across a cut or a fall.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtrit

from sproutlapse.growth.cuts import Drop
from sproutlapse.growth.tracks import Floats, Rows, Track
from sproutlapse.tray import Judge

MOST_ROWS = 240  # enough for a steady median; keeps the pairs of a long hourly record few
EFFICIENCY = (
    1.05  # a median of slopes is less sure than least squares; of all pairs by 1.023 (Sen 1968), of like hours more
)


@dataclass(frozen=True)
class Rate:
    """A change per day with its standard deviation, the number of pairs of photos that it stands on, and the first row
    of the span over which it was read."""

    per_day: float
    sd: float
    pairs: int
    since: int = 0


def last_break(found: Sequence[Drop]) -> int:
    """The row from which on growth may be read: the first after the last cut or fall, 0 without one.

    A fall from which the plant stood up again was wilt and breaks nothing.
    """
    risen = {d.row for d in found if d.event == "wilted"}
    return max((d.row for d in found if d.breaks_growth and d.row not in risen), default=0)


def recent_rows(track: Track, values: Floats, judge: Judge, *, first: int = 0, until: int | None = None) -> Rows:
    """Rows of the last `growth_days` with a positive value on a whole plant, at most `MOST_ROWS` evenly taken."""
    end = len(track.time) if until is None else until
    ok = np.isfinite(values[:end]) & (values[:end] > 0) & ~track.cut_off[:end]
    ok[:first] = False
    rows: Rows = np.flatnonzero(ok).astype(np.intp)
    if len(rows) == 0:
        return rows
    rows = rows[track.elapsed_h[rows] >= track.elapsed_h[rows[-1]] - 24 * judge.growth_days - judge.same_hour_h]
    if len(rows) > MOST_ROWS:
        rows = rows[np.linspace(0, len(rows) - 1, MOST_ROWS).round().astype(np.intp)]
    return rows.astype(np.intp)


def like_hours(hours: Floats, tolerance_h: float) -> tuple[Rows, Rows]:
    """Pairs (earlier, later) of frames a whole number of days apart, at least one, give or take `tolerance_h`."""
    gap = hours[None, :] - hours[:, None]
    days = np.round(gap / 24)
    early, late = np.nonzero((days >= 1) & (np.abs(gap - 24 * days) <= tolerance_h))
    return early, late


def like_hours_slope(hours: Floats, values: Floats, tolerance_h: float) -> Rate | None:
    """Median slope per day over all pairs of like hours (Theil-Sen on those pairs); None without a pair.

    Twice the standard deviation holds about 95 %: it is that of a straight line through photos of each hour of the day
    alone, so that the leaves' daily movement is not taken for doubt, with Student's t for few photos. It holds what is
    new in each frame and not the shared error of the scale.
    """
    early, late = like_hours(hours, tolerance_h)
    if len(early) == 0:
        return None
    slope = float(np.median((values[late] - values[early]) / (hours[late] - hours[early]))) * 24
    return Rate(slope, _slope_sd(hours, values - slope * hours / 24, tolerance_h), len(early))


def _slope_sd(hours: Floats, rest: Floats, tolerance_h: float) -> float:
    """Half of the 95 % interval's half-width of a slope per day; NaN where the photos are too few to tell."""
    # Each photo counts against the others of its hour of the day.
    parts = max(round(24 / max(tolerance_h, 0.25)), 1)
    of_day = np.floor(((hours - hours[0]) * parts / 24 + 0.5) % parts)
    _, group = np.unique(of_day, return_inverse=True)
    counts = np.bincount(group)
    free = len(hours) - len(counts) - 1
    reach = float(np.sqrt(((hours - (np.bincount(group, hours) / counts)[group]) ** 2).sum())) / 24
    if free < 1 or reach <= 0:
        return math.nan
    off = rest - (np.bincount(group, rest) / counts)[group]
    scatter = math.sqrt(float((off**2).sum()) / free)
    return EFFICIENCY * scatter / reach * float(stdtrit(free, 0.975)) / 2


def growth_per_day(track: Track, judge: Judge, *, first: int = 0, until: int | None = None) -> Rate | None:
    """Growth in mm a day over the last `growth_days`; None without a scale or without two photos of like hours.

    Parameters
    ----------
    first
        Row from which on growth may be read (see `last_break`).
    until
        Row before which to stop; the whole track if not given.
    """
    if not track.in_mm:
        return None
    rows = recent_rows(track, track.height, judge, first=first, until=until)
    rate = like_hours_slope(track.elapsed_h[rows], track.height[rows], judge.same_hour_h)
    return None if rate is None else replace(rate, since=int(rows[0]))


def relative_growth_rate(track: Track, judge: Judge, *, first: int = 0) -> float:
    """Relative growth rate of the canopy per day over the last `growth_days`; NaN without two photos of like hours.

    (mean(ln W2) - mean(ln W1)) / (t2 - t1), the unbiased mean of logarithms (Hoffmann & Poorter 2002), where W2 are
    the canopies of the last day and W1 those of the same hours as many whole days earlier as the window allows.
    """
    rows = recent_rows(track, track.canopy, judge, first=first)
    if len(rows) < 2:
        return math.nan
    hours, logs = track.elapsed_h[rows], np.log(track.canopy[rows])
    early, late = like_hours(hours, judge.same_hour_h)
    last_day = hours[late] > hours[-1] - 24
    early, late = early[last_day], late[last_day]
    if len(early) == 0:
        return math.nan
    days = np.round((hours[late] - hours[early]) / 24)
    far = days == days.max()
    return mean_of_logs_rate(
        np.exp(logs[early[far]]), np.exp(logs[late[far]]), float((hours[late] - hours[early])[far].mean()) / 24
    )


def mean_of_logs_rate(w1: Floats, w2: Floats, days: float) -> float:
    """Relative growth rate per day of a sample, (mean(ln W2) - mean(ln W1)) / days (Hoffmann & Poorter 2002).

    NaN if there is nothing to compare or no time between.
    """
    if len(w1) == 0 or len(w2) == 0 or days <= 0:
        return math.nan
    return float(np.log(w2).mean() - np.log(w1).mean()) / days


def doubling_days(rate_per_day: float) -> float:
    """Days to double at a relative growth rate, ln 2 / r; NaN if it does not grow."""
    return math.log(2) / rate_per_day if rate_per_day > 0 else math.nan
