"""Whether the camera has stopped: no new photo for twice the interval at which they come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median

# So many times the interval without a photo.
TIMES = 2.0
# Steps that are remembered; the middle one is the interval.
STEPS = 7
DAY_S = 86400.0
# The interval where photos tell none: an hour is what is advised.
USUAL_S = 3600.0


def longest_silence_s(times_s: Sequence[float], arrivals_s: Sequence[float] = ()) -> float:
    """After how many seconds without a photo the camera is said to have stopped.

    Parameters
    ----------
    times_s
        When the photos were taken, in seconds of the camera's clock, in order.
    arrivals_s
        How much time of the camera the last arrivals covered, seconds: an hour each where photos come one by one, a day
        where somebody copies them in the evening.

    Returns
    -------
    Twice the interval, and never less than the pause that was made at the same hour of the day before: some cameras
    rest at night.
    """
    gaps = [later - one for one, later in pairwise(times_s) if later > one]
    interval = median(gaps[-STEPS:]) if gaps else USUAL_S
    if arrivals_s:
        interval = max(interval, median(arrivals_s[-STEPS:]))
    return max(TIMES * interval, _rest_yesterday(times_s, interval) + interval)


def _rest_yesterday(times_s: Sequence[float], interval: float) -> float:
    """How long the pause was that began at this hour a day ago; 0 where photos do not go back so far."""
    if not times_s:
        return 0.0
    then = times_s[-1] - DAY_S
    for one, later in pairwise(times_s):
        if abs(one - then) <= interval / 2 and later > one:
            return later - one
    return 0.0


@dataclass
class Silence:
    """How long ago the last photo came, by a clock that only ever rises.

    Attributes
    ----------
    since
        When the last photo came, or the watch began.
    told
        Whether it was said already.
    """

    since: float
    told: bool = False
    arrivals_s: list[float] = field(default_factory=list)
    last_s: float | None = None

    def came(self, newest_s: float, now: float) -> bool:
        """Photos came, the newest taken at this time of the camera; says whether a silence that was told has ended."""
        if self.last_s is not None and newest_s > self.last_s:
            self.arrivals_s = [*self.arrivals_s, newest_s - self.last_s][-STEPS:]
        self.last_s, self.since = newest_s, now
        ended, self.told = self.told, False
        return ended

    def stopped(self, times_s: Sequence[float], now: float) -> bool:
        """Whether it is to be said now that the camera has stopped."""
        if self.told or not times_s or now - self.since < longest_silence_s(times_s, self.arrivals_s):
            return False
        self.told = True
        return True
