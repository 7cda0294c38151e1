"""The tables of crops: days to emergence and normal seedlings by soil temperature, soils that suit, weeks to grow.

Every table names its source. Figures stand as they were printed, in the unit in which they were printed.
"""

from __future__ import annotations

from dataclasses import dataclass

from sproutlapse.tray import Need

TABLE_SOURCE = "Harrington & Minges 1954, as in Knott's handbook, 1997"
CHART_SOURCE = "a compiled seed-temperature chart, best temperature only"
FLOWER_SOURCE = "Iowa State Univ. Extension, germination requirements for annuals, 2023"
MEMORY_SOURCE = "from memory, no source at hand"

# Soil temperatures of the table's columns, in degrees C.
TEMPERATURES_C = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)

NG = -1.0  # nothing came up at this temperature
__ = None  # not tested

# Days to emergence, seed half an inch deep, per column of TEMPERATURES_C (the print of 1997).
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

MISSING = None  # printed as 0 together with a day count, which cannot both hold: no datum

# Normal seedlings in percent at the same temperatures: growers' prints of the same trials (headings of one, last column
# of the other).
NORMAL_PERCENT: dict[str, tuple[float | None, ...]] = {
    "onion": (90, 98, 98, 98, 99, 97, 91, 73, 2),
    "lettuce": (98, 98, 98, 99, 99, 99, 12, 0, 0),
    "celery": (0, 72, 70, 40, 97, 65, 0, 0, 0),
    "cabbage": (0, 27, 78, 93, MISSING, 99, MISSING, 0, 0),
    "cauliflower": (0, 0, 58, 60, MISSING, 63, 45, 0, 0),
    "spinach": (83, 96, 91, 82, 52, 28, 32, 0, 0),
    "tomato": (0, 0, 82, 98, 98, 97, 83, 46, 0),
    "pepper": (0, 0, 1, 70, 96, 98, 95, 70, 0),
    "cucumber": (0, 0, 0, 95, 99, 99, 99, 99, 49),
    "eggplant": (0, 0, 0, 0, 21, 53, 60, 0, 0),
}

# Soil temperatures in degrees F: least, from and to which it does well, best, most. Harrington, Oregon State Univ.
# Extension, 2013, reviewed 2024. Its row of days for eggplant stands one column too far left (13, 8, 5 days under 59,
# 68 and 77 F although its own least is 60 F); the table above has it under 68, 77 and 86 F, as the other prints do.
SOIL_F: dict[str, tuple[float, float, float, float, float]] = {
    "asparagus": (50, 60, 85, 75, 95),
    "snap bean": (60, 60, 85, 80, 95),
    "beet": (40, 50, 85, 85, 95),
    "cabbage": (40, 45, 95, 85, 100),
    "carrot": (40, 45, 85, 80, 95),
    "cauliflower": (40, 45, 85, 80, 100),
    "chard": (40, 50, 85, 85, 95),
    "sweet corn": (50, 60, 95, 95, 105),
    "cucumber": (60, 60, 95, 95, 105),
    "eggplant": (60, 75, 90, 85, 95),
    "lettuce": (35, 40, 80, 75, 95),
    "onion": (35, 50, 95, 75, 95),
    "parsley": (40, 50, 85, 75, 90),
    "parsnip": (35, 50, 70, 65, 85),
    "pea": (40, 40, 75, 75, 85),
    "pepper": (60, 65, 95, 85, 95),
    "radish": (40, 45, 90, 85, 95),
    "spinach": (35, 45, 75, 70, 85),
    "squash": (60, 70, 95, 95, 100),
    "tomato": (50, 60, 85, 85, 95),
    "turnip": (40, 60, 105, 85, 105),
    "watermelon": (60, 70, 95, 95, 105),
}

# Bases of thermal time, degrees C: 40 F for crops of the cool season, 50 F for the warm one. Convention, from memory.
COOL_BASE_C, WARM_BASE_C = 4.4, 10.0


@dataclass(frozen=True)
class Suited:
    """Days to emergence of a crop where it is as warm as it likes, and how warm that is.

    Attributes
    ----------
    fewest, most
        Days from sowing.
    low_f, high_f
        Degrees F within which they hold.
    source
        Where the figures stand.
    base_c
        Below it nothing moves; between it and `low_f` days grow by thermal time.
    needs
        What such seed usually needs.
    """

    fewest: float
    most: float
    low_f: float
    high_f: float
    source: str
    base_c: float = COOL_BASE_C
    needs: tuple[Need, ...] = ()


def _annual(days: tuple[float, float], f: tuple[float, float], *needs: Need, base_c: float = WARM_BASE_C) -> Suited:
    return Suited(*days, *f, FLOWER_SOURCE, base_c, needs)


def _memory(days: tuple[float, float], f: tuple[float, float], *needs: Need, base_c: float = COOL_BASE_C) -> Suited:
    return Suited(*days, *f, MEMORY_SOURCE, base_c, needs)


# Crops that the table of days lacks. In the Iowa table "L" is seed that needs light and "D" seed to be covered, which
# is no call for darkness; the degrees are those of the air.
SUITED: dict[str, Suited] = {
    "leek": Suited(8, 16, 65, 85, CHART_SOURCE),
    "kale": Suited(5, 7, 60, 85, CHART_SOURCE),
    "chard": _memory((5, 10), (50, 85)),  # the degrees: Harrington, as above
    "squash": _memory((5, 10), (70, 95), base_c=WARM_BASE_C),  # the degrees: Harrington, as above
    "basil": _memory((5, 10), (65, 85), base_c=WARM_BASE_C),
    "chive": _memory((7, 14), (60, 75)),
    "bunching onion": _memory((6, 12), (60, 80)),
    # Flowers.
    "ageratum": _annual((7, 10), (70, 75), "light"),
    "alyssum": _memory((5, 14), (60, 70), "light"),
    "aster": _annual((7, 10), (70, 70)),
    "begonia": _annual((14, 14), (70, 75), "light"),
    "calendula": _memory((7, 14), (60, 70), "dark"),
    "celosia": _annual((7, 10), (70, 75)),
    "coleus": _annual((10, 14), (70, 75), "light"),
    "cornflower": _annual((7, 14), (65, 70), base_c=COOL_BASE_C),
    "cosmos": _annual((5, 7), (70, 70)),
    "dahlia": _memory((5, 14), (65, 75), base_c=WARM_BASE_C),
    "flowering tobacco": _annual((10, 14), (70, 75), "light"),
    "impatiens": _annual((10, 14), (70, 75), "light"),
    "lavender": _memory((14, 28), (65, 70), "light", "cold"),
    "lobelia": _memory((14, 21), (65, 75), "light"),
    "marigold": _memory((4, 10), (65, 80), base_c=WARM_BASE_C),
    "morning glory": _memory((5, 14), (65, 80), "soaking", base_c=WARM_BASE_C),
    "nasturtium": _annual((10, 14), (65, 70), base_c=COOL_BASE_C),
    "pansy": _memory((7, 21), (60, 70), "dark"),
    "pelargonium": _annual((7, 21), (70, 75)),
    "petunia": _annual((7, 10), (75, 75), "light"),
    "salvia": _annual((10, 14), (70, 75), "light"),
    "snapdragon": _annual((7, 14), (70, 70), "light", base_c=COOL_BASE_C),
    "sunflower": _annual((5, 7), (70, 70)),
    "sweet pea": _memory((7, 21), (55, 65), "soaking"),
    "zinnia": _annual((5, 7), (70, 70)),
}

# Weeks from sowing to planting out, fewest and most.
DELAWARE_SOURCE = "Univ. of Delaware, vegetable transplants, Table A-4"
PURDUE_SOURCE = "Purdue Vegetable Crops Hotline, transplant production"
WEEKS: dict[str, tuple[float, float, str]] = {
    "broccoli": (4, 7, DELAWARE_SOURCE),
    "cabbage": (6, 7, DELAWARE_SOURCE),
    "cauliflower": (6, 8, DELAWARE_SOURCE),
    "cucumber": (2, 4, DELAWARE_SOURCE),
    "eggplant": (6, 9, DELAWARE_SOURCE),
    "lettuce": (4, 6, DELAWARE_SOURCE),
    "onion": (9, 12, DELAWARE_SOURCE),
    "pepper": (7, 9, DELAWARE_SOURCE),
    "tomato": (5, 6, DELAWARE_SOURCE),
    "kale": (5, 7, PURDUE_SOURCE),  # as a cole crop
    "muskmelon": (4, 5, PURDUE_SOURCE),
    "squash": (3, 4, PURDUE_SOURCE),
    "watermelon": (3, 4, PURDUE_SOURCE),
    "leek": (8, 12, MEMORY_SOURCE),
    "celery": (10, 12, MEMORY_SOURCE),
    "chard": (4, 6, MEMORY_SOURCE),
    "basil": (5, 6, "Iowa State Univ. Extension, seed germination guide, 2017"),
    "ageratum": (8, 8, FLOWER_SOURCE),
    "aster": (6, 8, FLOWER_SOURCE),
    "begonia": (10, 12, FLOWER_SOURCE),
    "celosia": (6, 7, FLOWER_SOURCE),
    "coleus": (8, 10, FLOWER_SOURCE),
    "cornflower": (8, 8, FLOWER_SOURCE),
    "cosmos": (4, 6, FLOWER_SOURCE),
    "flowering tobacco": (8, 8, FLOWER_SOURCE),
    "impatiens": (8, 10, FLOWER_SOURCE),
    "nasturtium": (5, 6, FLOWER_SOURCE),
    "pelargonium": (12, 12, FLOWER_SOURCE),
    "petunia": (8, 10, FLOWER_SOURCE),
    "salvia": (8, 8, FLOWER_SOURCE),
    "snapdragon": (8, 10, FLOWER_SOURCE),
    "sunflower": (3, 4, FLOWER_SOURCE),
    "zinnia": (5, 5, FLOWER_SOURCE),
    "marigold": (6, 8, "Iowa State Univ. Extension, seed germination guide, 2017"),
    "pansy": (8, 10, "Iowa State Univ. Extension, seed germination guide, 2017"),
}

OTHER_NAMES = {
    "aubergine": "eggplant", "bachelor's button": "cornflower", "bean": "snap bean", "beetroot": "beet",
    "bell pepper": "pepper", "bush bean": "snap bean", "cantaloupe": "muskmelon", "capsicum": "pepper",
    "celeriac": "celery", "cherry tomato": "tomato", "chile": "pepper", "chili": "pepper", "chili pepper": "pepper",
    "chilli": "pepper", "chilli pepper": "pepper", "china aster": "aster", "corn": "sweet corn",
    "courgette": "squash", "french bean": "snap bean", "french marigold": "marigold", "garden pea": "pea",
    "geranium": "pelargonium", "hot pepper": "pepper", "maize": "sweet corn", "melon": "muskmelon",
    "nicotiana": "flowering tobacco", "pot marigold": "calendula", "pumpkin": "squash", "purple basil": "basil",
    "red beet": "beet", "red cabbage": "cabbage", "red onion": "onion", "scallion": "bunching onion",
    "spring onion": "bunching onion", "sweet alyssum": "alyssum", "sweet pepper": "pepper", "sweetcorn": "sweet corn",
    "swiss chard": "chard", "viola": "pansy", "wax begonia": "begonia", "white cabbage": "cabbage",
    "zucchini": "squash",
}  # fmt: skip
