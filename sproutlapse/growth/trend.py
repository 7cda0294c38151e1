"""A few days ahead: when a plant will have grown to a limit, with the earliest and the latest day to be expected."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from sproutlapse.growth.curves import growth_per_day, recent_rows
from sproutlapse.growth.tracks import Track
from sproutlapse.tray import Judge

MOST_DAYS = 14  # further ahead a straight line says nothing
# Growth does not stay the same for days: so much of it, and so many mm a day, may be added or lost (one standard
# deviation). Own proposals, calibrated on rendered seedlings.
CHANGE_SHARE = 0.35
CHANGE_MM = 1.5
LOOK_BACK_DAYS = 2.0  # longer, a seedling that has stopped stretching still seems to


@dataclass(frozen=True)
class Forecast:
    """When a height is reached: likely, not before, and not after (None: perhaps never)."""

    likely: datetime
    earliest: datetime
    latest: datetime | None


def forecast(track: Track, limit_mm: float, judge: Judge, *, first: int = 0) -> Forecast | None:
    """When a plant reaches `limit_mm`, from its growth of the last days carried on straight.

    None if it is there already, does not grow for certain, would take more than two weeks, or cannot be measured in mm.

    Parameters
    ----------
    first
        Row from which on growth may be read (see `curves.last_break`).
    """
    judge = judge.model_copy(update={"growth_days": min(LOOK_BACK_DAYS, judge.growth_days)})
    rate = growth_per_day(track, judge, first=first)
    rows = recent_rows(track, track.height, judge, first=first)
    if rate is None or not rate.per_day > 0 or len(rows) < 4:
        return None
    hours = track.elapsed_h[rows]
    # Leaves lift and fold within a day: what counts is the day's highest, carried on to the last frame.
    day = rows[hours > hours[-1] - 24]
    level = float(np.quantile(track.height[day] + rate.per_day * (hours[-1] - track.elapsed_h[day]) / 24, 0.9))
    sd = float(np.nan_to_num(track.height_sd[rows[-1]]))
    spread = 2 * math.hypot(float(np.nan_to_num(rate.sd)), CHANGE_SHARE * rate.per_day, CHANGE_MM)
    missing = limit_mm - level
    if missing <= 0 or missing / rate.per_day > MOST_DAYS:
        return None
    soonest = max(missing - 2 * sd, 0) / (rate.per_day + spread)
    slowest = rate.per_day - spread
    longest = (missing + 2 * sd) / slowest if slowest > 0 else math.inf
    now = track.clock(int(rows[-1]))
    return Forecast(
        likely=now + timedelta(days=missing / rate.per_day),
        earliest=now + timedelta(days=soonest),
        latest=now + timedelta(days=longest) if longest <= MOST_DAYS else None,
    )


def in_words(when: Forecast) -> str:
    """A forecast as a person says it: "likely Thursday, between Wednesday and Saturday"."""
    likely, earliest = f"{when.likely:%A %d %B}", f"{when.earliest:%A %d %B}"
    if when.latest is None:
        return f"likely {likely}, not before {earliest}"
    latest = f"{when.latest:%A %d %B}"
    return f"likely {likely}" if earliest == latest else f"likely {likely}, between {earliest} and {latest}"
