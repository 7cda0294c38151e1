"""Dates that cannot be: photos from before the sowing, long after it, or from years in which unset clocks begin."""

from __future__ import annotations

from datetime import datetime

from sproutlapse.tray import Tray

# Clocks that nobody set begin in years like 1970, 1980, 2000 and 2008.
UNSET_BEFORE = 2010
# Nobody photographs a sowing for the first time so long after it. Own proposal.
LONG_AFTER_DAYS = 300
REMEDY = "What to do: set the camera's date, or correct `sown`. Growth and hours are right in any case."


def dates_in_words(first: datetime, last: datetime, tray: Tray) -> list[str]:
    """What to say of the dates of the photos that are measured; nothing where they can be.

    Parameters
    ----------
    first, last
        When the first and the last of them were taken, by the camera's own clock.
    tray
        With the days of sowing, if they are known.
    """
    sown = [(one.sown.replace(tzinfo=None), one.name) for one in tray.sowings if one.sown is not None]
    if sown:
        day, name = min(sown)
        if last < day:
            early = f"{(day - first).days} days before" if (day - first).days > 1 else "before"
            return [
                f"The first photo is dated {first:%Y-%m-%d}, {early} {name} was sown ({day:%Y-%m-%d}), and all others "
                f"too: the camera shows a wrong year or day, and days since sowing mean nothing. {REMEDY}"
            ]
        if (first - day).days > LONG_AFTER_DAYS:
            return [
                f"The first photo is dated {first:%Y-%m-%d}, {(first - day).days} days after {name} was sown "
                f"({day:%Y-%m-%d}): the camera seems to show a wrong year, and days since sowing mean nothing. {REMEDY}"
            ]
    if first.year < UNSET_BEFORE:
        return [
            f"The first photo is dated {first:%Y-%m-%d}: the camera's clock was never set, it seems. Growth and hours "
            "are right, days of the calendar are not. What to do: set the camera's date."
        ]
    return []
