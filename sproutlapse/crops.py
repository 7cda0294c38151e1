"""What is known of crops before one is seen: days to emergence by soil temperature, weeks to grow, which are alliums.

The figures and their sources stand in `crops_tables.py`. A crop that no table knows is None, never guessed.
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from itertools import pairwise

import numpy as np

from sproutlapse.crops_tables import (
    CHART_SOURCE,
    DAYS_TABLE,
    FLOWER_SOURCE,
    MEMORY_SOURCE,
    NORMAL_PERCENT,
    OTHER_NAMES,
    SOIL_F,
    SUITED,
    TABLE_SOURCE,
    TEMPERATURES_C,
    WEEKS,
    Suited,
)

__all__ = [
    "ALLIUMS",
    "CHART_SOURCE",
    "DAYS_TABLE",
    "FLOWER_SOURCE",
    "MAY_BE_SET_DEEPER",
    "MEMORY_SOURCE",
    "NEVER_SET_DEEPER",
    "NORMAL_PERCENT",
    "SOIL_F",
    "SUITED",
    "TABLE_SOURCE",
    "TEMPERATURES_C",
    "WEEKS",
    "DaysToEmergence",
    "ThermalTime",
    "best_column",
    "celsius",
    "crop_name",
    "days_at",
    "days_to_emergence",
    "is_allium",
    "near_name",
    "overdue_after_days",
    "percent_at",
    "thermal_time",
    "weeks_to_grow",
]  # fmt: skip

ALLIUMS = frozenset({"onion", "leek", "chive", "bunching onion"})

# What can still be done for a leggy seedling when it is potted on, from memory: these may be set deeper, up to the seed
# leaves; of these the heart must stay above the soil.
MAY_BE_SET_DEEPER = frozenset({"tomato", "cabbage", "cauliflower", "broccoli", "kale"})
NEVER_SET_DEEPER = frozenset({"lettuce", "celery"})

# Where the soil temperature is not known, a heated or unheated room is taken: 15 to 25 degrees C.
ROOM_C = (15.0, 25.0)
# Thermal time is fitted within these degrees C, where 1/days is straight.
STRAIGHT_C = (5.0, 25.0)
# And not used nearer than this to its base, where a small error of it gives any number of days. Own proposal.
ABOVE_BASE_C = 2.0


@dataclass(frozen=True)
class DaysToEmergence:
    """Days from sowing to emergence, fewest and most, with the source in words."""

    fewest: float
    most: float
    source: str


@dataclass(frozen=True)
class ThermalTime:
    """Days = theta / (T - base): base in degrees C, theta in degree days, from `count` temperatures."""

    base_c: float
    theta_cd: float
    r2: float
    count: int


def celsius(fahrenheit: float) -> float:
    """Degrees C of degrees F."""
    return (fahrenheit - 32) / 1.8


def crop_name(crop: str | None) -> str | None:
    """The table's own name of a crop ("Tomatoes" is tomato, "aubergine" eggplant), or None if no table knows it."""
    if not crop:
        return None
    word = " ".join(crop.lower().replace("’", "'").replace("-", " ").replace("_", " ").split())
    forms = [word, word.removesuffix("s"), word.removesuffix("es")]
    forms += [word.removesuffix("ies") + "y"] if word.endswith("ies") else []
    for form in forms:
        name = OTHER_NAMES.get(form, form)
        if name in DAYS_TABLE or name in SUITED:
            return name
    return None


def near_name(crop: str) -> str | None:
    """The name of a table that a word that none knows is nearest to ("peper": pepper); None where none is near."""
    known = [*DAYS_TABLE, *SUITED, *OTHER_NAMES]
    near = get_close_matches(" ".join(crop.lower().split()), known, n=1, cutoff=0.75)
    return near[0] if near else None


def is_allium(crop: str | None) -> bool:
    """Whether a crop is an onion or one of its kin that gardeners cut back."""
    return crop_name(crop) in ALLIUMS


def thermal_time(crop: str) -> ThermalTime | None:
    """The straight line through 1/days of a crop of the table, 5 to 25 degrees C; None with fewer than two of them.

    Bierhuizen & Wagenvoort 1974 for the form; the figures are fitted here.
    """
    told = [
        (c, 1 / d)
        for c, d in zip(TEMPERATURES_C, DAYS_TABLE.get(crop, ()), strict=False)
        if d is not None and d > 0 and STRAIGHT_C[0] <= c <= STRAIGHT_C[1]
    ]
    if len(told) < 2:
        return None
    t, speed = np.asarray(told, dtype=np.float64).T
    slope, start = np.polyfit(t, speed, 1)
    off = float(((speed - (start + slope * t)) ** 2).sum() / ((speed - speed.mean()) ** 2).sum())
    return ThermalTime(float(-start / slope), float(1 / slope), 1 - off, len(told))


def days_at(crop: str, soil_c: float) -> float | None:
    """Days to emergence at a soil temperature, between the table's columns straight in days^-1 (thermal time).

    Below the coolest column with an entry the fitted thermal time goes on, down to `ABOVE_BASE_C` above its base. None
    outside of what was tested else, where nothing came up, and between such a column and the next.
    """
    row = DAYS_TABLE.get(crop)
    if row is None:
        return None
    for (c0, d0), (c1, d1) in pairwise(zip(TEMPERATURES_C, row, strict=True)):
        if not c0 <= soil_c <= c1:
            continue
        if soil_c == c0 and d0 is not None and d0 > 0:
            return float(d0)
        if soil_c == c1 and d1 is not None and d1 > 0:
            return float(d1)
        if soil_c in (c0, c1):
            continue
        if d0 is None or d1 is None or d0 < 0 or d1 < 0:
            return _below_the_table(crop, row, soil_c)
        share = (soil_c - c0) / (c1 - c0)
        return 1 / ((1 - share) / d0 + share / d1)
    return None


def _below_the_table(crop: str, row: tuple[float | None, ...], soil_c: float) -> float | None:
    """By thermal time between the coolest column with an entry and the one before it; else None."""
    first = next(n for n, d in enumerate(row) if d is not None and d > 0)
    fit = thermal_time(crop)
    below = first > 0 and TEMPERATURES_C[first - 1] < soil_c < TEMPERATURES_C[first]
    if fit is None or not below or soil_c < fit.base_c + ABOVE_BASE_C:
        return None
    return fit.theta_cd / (soil_c - fit.base_c)


def percent_at(crop: str, soil_c: float) -> float | None:
    """Normal seedlings in percent at a soil temperature, straight between two columns; None where none is known."""
    row = NORMAL_PERCENT.get(crop)
    if row is None:
        return None
    for (c0, p0), (c1, p1) in pairwise(zip(TEMPERATURES_C, row, strict=True)):
        if soil_c in (c0, c1):
            return p0 if soil_c == c0 else p1
        if c0 < soil_c < c1:
            return None if p0 is None or p1 is None else p0 + (p1 - p0) * (soil_c - c0) / (c1 - c0)
    return None


def best_column(crop: str) -> float | None:
    """The table's temperature that gives most normal seedlings a day, the cooler one of equals; None if not in it."""
    row = DAYS_TABLE.get(crop)
    if row is None:
        return None
    told = [(c, d) for c, d in zip(TEMPERATURES_C, row, strict=True) if d is not None and d > 0]
    known = crop in NORMAL_PERCENT
    return max(
        told, key=lambda column: ((percent_at(crop, column[0]) or 0.0 if known else 100.0) / column[1], -column[0])
    )[0]


def days_to_emergence(crop: str | None, soil_c: float | None = None) -> DaysToEmergence | None:
    """Days to emergence of a crop as a person writes it; a range where the soil temperature is not known.

    None for an unknown crop, or where the table says that nothing comes up or was tested at that temperature.
    """
    name = crop_name(crop)
    if name is None:
        return None
    if name in SUITED:
        return _suited_days(SUITED[name], soil_c)
    if soil_c is not None:
        days = days_at(name, soil_c)
        return None if days is None else DaysToEmergence(days, days, TABLE_SOURCE)
    room = [d for c in TEMPERATURES_C if ROOM_C[0] <= c <= ROOM_C[1] and (d := days_at(name, c)) is not None]
    return DaysToEmergence(min(room), max(room), TABLE_SOURCE) if room else None


def _suited_days(crop: Suited, soil_c: float | None) -> DaysToEmergence | None:
    """The days that hold where it is warm enough, more by thermal time where it is cooler."""
    low = celsius(crop.low_f)
    if soil_c is None or soil_c >= low:
        return DaysToEmergence(crop.fewest, crop.most, crop.source)
    if soil_c < crop.base_c + ABOVE_BASE_C:
        return None
    slower = (low - crop.base_c) / (soil_c - crop.base_c)
    source = f"{crop.source}; slower in the cool by thermal time over {crop.base_c:g} °C (convention)"
    return DaysToEmergence(crop.fewest * slower, crop.most * slower, source)


def overdue_after_days(crop: str | None, soil_c: float | None = None, *, times: float = 2.0) -> float | None:
    """Days after sowing before which nothing is overdue: `times` the table's longest, and at least twice.

    Prints differ: onion has 5 days at 20 C in the table and 7 to 8 on a growers' page.
    """
    days = days_to_emergence(crop, soil_c)
    return None if days is None else max(times, 2.0) * days.most


def weeks_to_grow(crop: str | None) -> tuple[float, float] | None:
    """Weeks from sowing to planting out, fewest and most, or None if not in the table."""
    found = WEEKS.get(crop_name(crop) or "")
    return None if found is None else found[:2]
