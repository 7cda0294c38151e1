"""Care by hours of light: what the photos tell of the lamps goes before what is usual."""

from __future__ import annotations

import pandas as pd

# Utah State Univ. Ext. (transplant production) and Iowa State Univ. Ext. (lights for seedlings): 14 to 16 hours a day.
HOURS = (14.0, 16.0)
LAST_DAYS = 3
# A day's hours are known where least and most are no farther apart, as `growth.light_hours` tells them.
KNOWN_WITHIN_H = 4.0


def known_hours(light: pd.DataFrame) -> tuple[float, float] | None:
    """Least and most hours of light a day over the last days that photos tell; None where they tell none.

    Parameters
    ----------
    light
        The columns of light.csv.
    """
    if light.empty:
        return None
    told = light[light["light_most_h"] - light["light_least_h"] <= KNOWN_WITHIN_H].tail(LAST_DAYS)
    if told.empty:
        return None
    return float(told["light_least_h"].median()), float(told["light_most_h"].median())


def in_hours(hours: tuple[float, float]) -> str:
    """`10 to 12 hours`."""
    low, high = (f"{h:.0f}" for h in hours)
    return f"{low} hours" if low == high else f"{low} to {high} hours"


def too_short(hours: tuple[float, float] | None) -> bool:
    """Whether it is known that the light is on for too short a time."""
    return hours is not None and hours[1] < HOURS[0]


def long_enough(hours: tuple[float, float] | None) -> bool:
    """Whether it is known that the light is on for long enough, so that longer is no remedy."""
    return hours is not None and hours[0] >= HOURS[0] - 0.5


def hours_remedy(hours: tuple[float, float] | None) -> str:
    """What to do about the hours; nothing is asked for that is done already."""
    usual = f"{HOURS[0]:.0f} to {HOURS[1]:.0f} hours"
    if hours is None:
        return f"Give {usual} of light a day."
    if too_short(hours):
        return f"Leave the light on longer: {usual} a day instead of {in_hours(hours)}."
    if long_enough(hours):
        return f"The light is on for {in_hours(hours)} a day already: longer is not the remedy."
    return f"The light is on for {in_hours(hours)} a day; {usual} are right."
