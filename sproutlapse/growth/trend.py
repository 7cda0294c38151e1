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
# A seedling's growth does not stay the same for days: leaves come in turn, and a stem that shoots up comes to rest.
# What the next days bring lies between what it gained a day of late and in all its life, and is rather less. The band
# is that rate times and over these factors, and the movement of its leaves comes on top. Own proposals, calibrated on
# simulated seedlings (scripts/simulated.py) so that it holds the truth in 95 of 100.
OF_LATE, OF_LIFE = 0.35, 0.45
FASTER, SLOWER = 2.0, 4.5
SWING_SHARE, SWING_MM = 0.25, 1.0
LOOK_BACK_DAYS = 2.0  # longer, a seedling that has stopped stretching still seems to
LEAST_LIFE_DAYS = 1.5  # a shorter life has no growth a day of its own
LEAST_PER_DAY_MM = 0.3  # less is no growth


@dataclass(frozen=True)
class Forecast:
    """When a height is reached: likely, not before, and not after (None: perhaps never)."""

    likely: datetime
    earliest: datetime
    latest: datetime | None


def forecast(
    track: Track, limit_mm: float, judge: Judge, *, first: int = 0, scale_sd_share: float = 0.0
) -> Forecast | None:
    """When a plant reaches `limit_mm`, from its growth carried on straight.

    None if it is there already, does not grow, would take more than two weeks, or cannot be measured in mm.

    Parameters
    ----------
    first
        Row from which on growth may be read (see `curves.last_break`).
    scale_sd_share
        Standard deviation of the scale as a share, where it is not part of the heights' own.
    """
    ahead = outlook(track, judge, first=first, scale_sd_share=scale_sd_share)
    if ahead is None:
        return None
    missing = limit_mm - ahead.level_mm
    if missing <= 0 or missing / ahead.per_day > MOST_DAYS:
        return None
    doubt = 2 * ahead.level_sd
    longest = (missing + doubt) / ahead.slowest
    return Forecast(
        likely=ahead.now + timedelta(days=missing / ahead.per_day),
        earliest=ahead.now + timedelta(days=max(missing - doubt, 0.0) / ahead.fastest),
        latest=ahead.now + timedelta(days=longest) if longest <= MOST_DAYS else None,
    )


@dataclass(frozen=True)
class Outlook:
    """A plant's height at `now` (the day's highest) in mm with its standard deviation, and what a day adds: likely, at
    least and at most."""

    now: datetime
    level_mm: float
    per_day: float
    level_sd: float
    slowest: float
    fastest: float


def outlook(track: Track, judge: Judge, *, first: int = 0, scale_sd_share: float = 0.0) -> Outlook | None:
    """What the next days are to bring a plant, or None without growth to tell it from (see `forecast`)."""
    judge = judge.model_copy(update={"growth_days": min(LOOK_BACK_DAYS, judge.growth_days)})
    rate = growth_per_day(track, judge, first=first)
    rows = recent_rows(track, track.height, judge, first=first)
    if rate is None or len(rows) < 4:
        return None
    hours = track.elapsed_h[rows]
    # Leaves lift and fold within a day: what counts is the day's highest, carried on to the last frame.
    day = rows[hours > hours[-1] - 24]
    carried = track.height[day] + rate.per_day * (hours[-1] - track.elapsed_h[day]) / 24
    level, swing = float(np.quantile(carried, 0.9)), float(np.ptp(np.quantile(carried, [0.1, 0.9])))
    seen = np.flatnonzero(np.isfinite(track.height) & (track.height > 0))
    start = seen[seen >= first][0]
    life = float(hours[-1] - track.elapsed_h[start]) / 24
    own = (level - float(track.height[start])) / life if life >= LEAST_LIFE_DAYS else rate.per_day
    per_day = OF_LATE * max(rate.per_day, 0.0) + OF_LIFE * own
    if per_day < LEAST_PER_DAY_MM:
        return None
    sd = math.hypot(float(np.nan_to_num(track.height_sd[rows[-1]])), scale_sd_share * level)
    return Outlook(
        now=track.clock(int(rows[-1])),
        level_mm=level,
        per_day=per_day,
        level_sd=math.hypot(sd, SWING_SHARE * swing + SWING_MM),
        slowest=per_day / SLOWER,
        fastest=per_day * FASTER,
    )


def in_words(when: Forecast) -> str:
    """A forecast as a person says it: "likely Thursday, between Wednesday and Saturday"."""
    likely, earliest = f"{when.likely:%A %d %B}", f"{when.earliest:%A %d %B}"
    if when.latest is None:
        return f"likely {likely}, not before {earliest}"
    latest = f"{when.latest:%A %d %B}"
    return f"likely {likely}" if earliest == latest else f"likely {likely}, between {earliest} and {latest}"
