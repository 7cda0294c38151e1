"""What is known of crops before one is seen: days to emergence by soil temperature, weeks to grow, which are alliums.

Every figure names its source. A crop that no table knows is None, never guessed.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

TABLE_SOURCE = "Harrington & Minges 1954, as in Knott's handbook, 1997"
CHART_SOURCE = "a compiled seed-temperature chart, best temperature only"
MEMORY_SOURCE = "from memory, no source at hand"

# Soil temperatures of the table's columns, in degrees C.
TEMPERATURES_C = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)

NG = -1.0  # nothing came up at this temperature
__ = None  # not tested

# Days to emergence, seed half an inch deep, per column of TEMPERATURES_C (handbook 4.1).
DAYS_TABLE: dict[str, tuple[float | None, ...]] = {
    "asparagus": (NG, NG, 53, 24, 15, 10, 12, 20, 28),
    "lima bean": (__, __, NG, 31, 18, 7, 7, NG, __),
    "snap bean": (NG, NG, NG, 16, 11, 8, 6, 6, NG),
    "beet": (__, 42, 17, 10, 6, 5, 5, 5, __),
    "cabbage": (__, __, 15, 9, 6, 5, 4, __, __),
    "carrot": (NG, 51, 17, 10, 7, 6, 6, 9, NG),
    "cauliflower": (__, __, 20, 10, 6, 5, 5, __, __),
    "celery": (NG, 41, 16, 12, 7, NG, NG, NG, __),
    "sweet corn": (NG, NG, 22, 12, 7, 4, 4, 3, NG),
    "cucumber": (NG, NG, NG, 13, 6, 4, 3, 3, __),
    "eggplant": (__, __, __, __, 13, 8, 5, __, __),
    "lettuce": (49, 15, 7, 4, 3, 2, 3, NG, NG),
    "muskmelon": (__, __, __, __, 8, 4, 3, __, __),
    "okra": (NG, NG, NG, 27, 17, 13, 7, 6, 7),
    "onion": (136, 31, 13, 7, 5, 4, 4, 13, NG),
    "parsley": (__, __, 29, 17, 14, 13, 12, __, __),
    "parsnip": (172, 57, 27, 19, 14, 15, 32, NG, NG),
    "pea": (__, 36, 14, 9, 8, 6, 6, __, __),
    "pepper": (NG, NG, NG, 25, 13, 8, 8, 9, NG),
    "radish": (NG, 29, 11, 6, 4, 4, 3, __, __),
    "spinach": (63, 23, 12, 7, 6, 5, 6, NG, NG),
    "tomato": (NG, NG, 43, 14, 8, 6, 6, 9, NG),
    "turnip": (NG, NG, 5, 3, 2, 1, 1, 1, 3),
    "watermelon": (__, NG, __, __, 12, 5, 4, 3, __),
}
# The later print of the table adds broccoli with the cauliflower row.
DAYS_TABLE["broccoli"] = DAYS_TABLE["cauliflower"]

# Crops the table lacks: (fewest, most) days where the soil suits them, source.
DAYS_RANGE: dict[str, tuple[float, float, str]] = {
    "leek": (8, 16, CHART_SOURCE),
    "kale": (5, 7, CHART_SOURCE),
    "chard": (5, 10, MEMORY_SOURCE),
    "basil": (5, 10, MEMORY_SOURCE),
    "chive": (7, 14, MEMORY_SOURCE),
    "bunching onion": (6, 12, MEMORY_SOURCE),
}

# Weeks from sowing to planting out, (fewest, most): Univ. Delaware, Table A-4 (handbook 6.2).
WEEKS_TO_GROW: dict[str, tuple[float, float]] = {
    "broccoli": (4, 7),
    "cabbage": (6, 7),
    "cauliflower": (6, 8),
    "cucumber": (2, 4),
    "eggplant": (6, 9),
    "lettuce": (4, 6),
    "onion": (9, 12),
    "pepper": (7, 9),
    "tomato": (5, 6),
}

ALLIUMS = frozenset({"onion", "leek", "chive", "bunching onion"})

# What can still be done for a leggy seedling when it is potted on, from memory: these may be set deeper, up to the seed
# leaves; of these the heart must stay above the soil.
MAY_BE_SET_DEEPER = frozenset({"tomato", "cabbage", "cauliflower", "broccoli", "kale"})
NEVER_SET_DEEPER = frozenset({"lettuce", "celery"})

OTHER_NAMES = {
    "aubergine": "eggplant", "bean": "snap bean", "beetroot": "beet", "bell pepper": "pepper",
    "bush bean": "snap bean", "cantaloupe": "muskmelon", "celeriac": "celery", "cherry tomato": "tomato",
    "chile": "pepper", "chili": "pepper", "chili pepper": "pepper", "chilli": "pepper", "chilli pepper": "pepper",
    "corn": "sweet corn", "french bean": "snap bean", "garden pea": "pea", "hot pepper": "pepper",
    "maize": "sweet corn", "melon": "muskmelon", "purple basil": "basil", "red beet": "beet",
    "red cabbage": "cabbage", "red onion": "onion", "scallion": "bunching onion", "spring onion": "bunching onion",
    "sweet pepper": "pepper", "sweetcorn": "sweet corn", "swiss chard": "chard", "white cabbage": "cabbage",
}  # fmt: skip

# Where the soil temperature is not known, a heated or unheated room is taken: 15 to 25 degrees C.
ROOM_C = (15.0, 25.0)


@dataclass(frozen=True)
class DaysToEmergence:
    """Days from sowing to emergence, fewest and most, with the source in words."""

    fewest: float
    most: float
    source: str


def crop_name(crop: str | None) -> str | None:
    """The table's own name of a crop ("Tomatoes" is tomato, "aubergine" eggplant), or None if no table knows it."""
    if not crop:
        return None
    word = " ".join(crop.lower().replace("-", " ").replace("_", " ").split())
    for form in (word, word.removesuffix("s"), word.removesuffix("es")):
        name = OTHER_NAMES.get(form, form)
        if name in DAYS_TABLE or name in DAYS_RANGE:
            return name
    return None


def is_allium(crop: str | None) -> bool:
    """Whether a crop is an onion or one of its kin that gardeners cut back."""
    return crop_name(crop) in ALLIUMS


def days_at(crop: str, soil_c: float) -> float | None:
    """Days to emergence at a soil temperature, between the table's columns straight in days^-1 (thermal time).

    None outside of what was tested, where nothing came up, and between such a column and the next.
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
            return None
        share = (soil_c - c0) / (c1 - c0)
        return 1 / ((1 - share) / d0 + share / d1)
    return None


def days_to_emergence(crop: str | None, soil_c: float | None = None) -> DaysToEmergence | None:
    """Days to emergence of a crop as a person writes it; a range where the soil temperature is not known.

    None for an unknown crop, or where the table says that nothing comes up or was tested at that temperature.
    """
    name = crop_name(crop)
    if name is None:
        return None
    if name in DAYS_RANGE:
        fewest, most, source = DAYS_RANGE[name]
        return DaysToEmergence(fewest, most, source)
    if soil_c is not None:
        days = days_at(name, soil_c)
        return None if days is None else DaysToEmergence(days, days, TABLE_SOURCE)
    room = [d for c in TEMPERATURES_C if ROOM_C[0] <= c <= ROOM_C[1] and (d := days_at(name, c)) is not None]
    return DaysToEmergence(min(room), max(room), TABLE_SOURCE) if room else None


def overdue_after_days(crop: str | None, soil_c: float | None = None, *, times: float = 2.0) -> float | None:
    """Days after sowing before which nothing is overdue: `times` the table's longest (handbook 4.6: at least 2)."""
    days = days_to_emergence(crop, soil_c)
    return None if days is None else max(times, 2.0) * days.most


def weeks_to_grow(crop: str | None) -> tuple[float, float] | None:
    """Weeks from sowing to planting out, fewest and most, or None if not in the table."""
    return WEEKS_TO_GROW.get(crop_name(crop) or "")
