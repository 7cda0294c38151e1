"""A few days ahead: when a plant will have grown to a limit, with the earliest and the latest day to be expected."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from sproutlapse.growth.curves import growth_per_day, recent_rows
from sproutlapse.growth.tracks import Track
from sproutlapse.tray import Judge

MOST_DAYS = 14  # further ahead a straight line says nothing
# Growth does not stay the same for days; this share of it is added to its uncertainty. Own proposal, calibrated on
# rendered seedlings.
CHANGE_SHARE = 0.25


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
    rate = growth_per_day(track, judge, first=first)
    rows = recent_rows(track, track.height, judge, first=first)
    if rate is None or not rate.per_day > 0 or len(rows) < 4:
        return None
    hours = track.elapsed_h[rows]
    # The level now is the line's, not the last frame's: that one stands where the leaves happen to be.
    day = rows[hours > hours[-1] - 24]
    level = float(np.median(track.height[day] + rate.per_day * (hours[-1] - track.elapsed_h[day]) / 24))
    sd = float(np.nan_to_num(track.height_sd[rows[-1]]))
    spread = 2 * float(np.hypot(np.nan_to_num(rate.sd), CHANGE_SHARE * rate.per_day))
    missing = limit_mm - level
    if missing <= 0 or missing / rate.per_day > MOST_DAYS:
        return None
    soonest = max(missing - 2 * sd, 0) / (rate.per_day + spread)
    slowest = rate.per_day - spread
    now = track.clock(int(rows[-1]))
    return Forecast(
        likely=now + timedelta(days=missing / rate.per_day),
        earliest=now + timedelta(days=soonest),
        latest=now + timedelta(days=(missing + 2 * sd) / slowest) if slowest > 0 else None,
    )


def in_words(when: Forecast) -> str:
    """A forecast as a person says it: "likely Thursday, between Wednesday and Saturday"."""
    likely, earliest = f"{when.likely:%A %d %B}", f"{when.earliest:%A %d %B}"
    if when.latest is None:
        return f"likely {likely}, not before {earliest}"
    latest = f"{when.latest:%A %d %B}"
    return f"likely {likely}" if earliest == latest else f"likely {likely}, between {earliest} and {latest}"
