"""Days to emergence and what else is known of crops before one is seen."""

import pytest

from sproutlapse.crops import (
    DAYS_TABLE,
    MEMORY_SOURCE,
    TABLE_SOURCE,
    TEMPERATURES_C,
    crop_name,
    days_to_emergence,
    is_allium,
    overdue_after_days,
    weeks_to_grow,
)


def days(crop, soil_c):
    found = days_to_emergence(crop, soil_c)
    return None if found is None else found.most


# Harrington & Minges 1954, as in Knott's handbook, 1997 (handbook 4.1): tomato at 41 to 95 F, in steps of 9 F = 5 C.
@pytest.mark.parametrize(("soil_c", "expected"), [(5, None), (10, 43), (15, 14), (20, 8), (25, 6), (30, 6), (35, 9)])
def test_tomato_by_soil_temperature(soil_c, expected):
    assert days("tomato", soil_c) == expected


@pytest.mark.parametrize(
    ("crop", "soil_c", "expected"),
    [
        ("onion", 0, 136),  # the same table
        ("pepper", 15, 25),
        ("pepper", 25, 8),
        ("lettuce", 20, 3),
        ("celery", 25, None),  # none came up
        ("eggplant", 20, 13),  # the later print has this row one column too far left (handbook 4.6)
        ("eggplant", 15, None),
        ("broccoli", 20, 6),  # added in a later print with the cauliflower row
    ],
)
def test_days_of_other_crops(crop, soil_c, expected):
    assert days(crop, soil_c) == expected


def test_between_two_temperatures_the_speed_is_taken_straight():
    # Thermal time: 1/days is straight in temperature (handbook 4.4): at 22.5 C the harmonic mean of 8 and 6 days.
    assert days("tomato", 22.5) == pytest.approx(2 / (1 / 8 + 1 / 6))


def test_between_none_and_some_nothing_is_made_up():
    assert days("tomato", 7.5) is None
    assert days("lettuce", 33) is None
    assert days("tomato", 60) is None


def test_an_unknown_temperature_gives_a_range():
    found = days_to_emergence("pepper")
    assert found is not None
    assert (found.fewest, found.most, found.source) == (8, 25, TABLE_SOURCE)


def test_a_crop_from_memory_says_so():
    found = days_to_emergence("basil", 22)
    assert found is not None
    assert found.source == MEMORY_SOURCE


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("Tomatoes", "tomato"),
        ("aubergine", "eggplant"),
        ("Swiss-Chard", "chard"),
        ("peas", "pea"),
        ("radishes", "radish"),
    ],
)
def test_crops_as_people_write_them(written, name):
    assert crop_name(written) == name


@pytest.mark.parametrize("written", [None, "", "moon flower", "s"])
def test_a_crop_that_no_table_knows_is_not_guessed(written):
    assert crop_name(written) is None
    assert days_to_emergence(written) is None
    assert overdue_after_days(written) is None


def test_nothing_is_overdue_before_twice_the_table():
    assert overdue_after_days("tomato", 20) == 16
    assert overdue_after_days("tomato", 20, times=1) == 16
    assert overdue_after_days("tomato", 20, times=3) == 24


def test_every_row_of_the_table_has_every_temperature():
    assert {len(row) for row in DAYS_TABLE.values()} == {len(TEMPERATURES_C)}


def test_alliums_are_known_by_their_names():
    assert is_allium("Leeks")
    assert is_allium("spring onions")
    assert not is_allium("tomato")


def test_weeks_to_grow():
    # Univ. Delaware, Table A-4 (handbook 6.2).
    assert weeks_to_grow("pepper") == (7, 9)
    assert weeks_to_grow("onions") == (9, 12)
    assert weeks_to_grow("moon flower") is None
