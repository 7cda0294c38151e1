"""The gap under a lamp in the days to come: which plant will govern it, and when the gap to keep is reached."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sproutlapse.growth.tracks import Track
from sproutlapse.growth.trend import Forecast, forecast, outlook
from sproutlapse.tray import Judge


@dataclass(frozen=True)
class Ahead:
    """The plant that is the first to reach a height, and when any of those under the lamp does."""

    track: Track
    when: Forecast


@dataclass(frozen=True)
class GapSoon:
    """The gap so many days after the last photo, in mm: likely, at least and at most; and the plant that makes it."""

    track: Track
    likely_mm: float
    least_mm: float
    most_mm: float


def first_to_reach(under: Sequence[tuple[Track, int]], limit_mm: float, judge: Judge) -> Ahead | None:
    """Which of the plants under a lamp is the first to be so tall, and when; None if none is expected to be.

    The tallest now need not be the first. The band is that of all of them: it begins with the earliest day of any, and
    ends with the first day by which one is sure to be there.

    Parameters
    ----------
    under
        The plants under the lamp with the row from which on each one's growth may be read (`curves.last_break`).
    limit_mm
        Height at which the gap to keep is reached.
    """
    found = [
        Ahead(track, when)
        for track, first in under
        if (when := forecast(track, limit_mm, judge, first=first)) is not None
    ]
    if not found:
        return None
    governs = min(found, key=lambda a: a.when.likely)
    latest: list[datetime] = [a.when.latest for a in found if a.when.latest is not None]
    when = Forecast(
        likely=governs.when.likely,
        earliest=min(a.when.earliest for a in found),
        latest=min(latest) if latest else None,
    )
    return Ahead(governs.track, when)


def gap_in(under: Sequence[tuple[Track, int]], above_soil_mm: float, days: float, judge: Judge) -> GapSoon | None:
    """The gap under a lamp so many days after the last photo; None where no growth is known.

    Parameters
    ----------
    under
        As in `first_to_reach`.
    above_soil_mm
        The lamp's lower edge above the soil.
    """
    made = []
    for track, first in under:
        ahead = outlook(track, judge, first=first)
        if ahead is None:
            continue
        doubt = 2 * ahead.level_sd
        likely = above_soil_mm - ahead.level_mm - ahead.per_day * days
        least = above_soil_mm - ahead.level_mm - ahead.fastest * days - doubt
        most = above_soil_mm - ahead.level_mm - ahead.slowest * days + doubt
        made.append(GapSoon(track, likely, least, most))
    if not made:
        return None
    governs = min(made, key=lambda g: g.likely_mm)
    return GapSoon(governs.track, governs.likely_mm, min(g.least_mm for g in made), min(g.most_mm for g in made))
