"""When to expect the sprouts of a sowing, what a soil too cold or too hot is told, and what seed needs."""

from datetime import date, datetime

import pytest

from sproutlapse.crops_window import (
    expected,
    needs_words,
    overdue_after,
    own_words,
    sow_again_by,
    unknown_words,
    warmth_words,
    window,
)
from sproutlapse.tray import Sowing


def sown(crop=None, **keys):
    return Sowing(name="s", crop=crop, **keys)


def test_pepper_in_a_cool_soil_is_told_what_a_warm_one_would_give():
    # Harrington & Minges 1954 and the percentages printed with it, as in test_outside_crop_tables.
    said = warmth_words(sown("pepper", soil_c=15))
    assert "at 15 °C about 25 days, 70 % normal seedlings; at 25 °C: 8 days, 98 %" in said
    assert said.endswith("Set it warmer.")


@pytest.mark.parametrize(
    ("crop", "soil_c", "word"),
    [
        ("tomato", 5, "Too cold for tomato: 5 °C is below the 10 °C"),
        ("eggplant", 15, "Too cold for eggplant"),
        ("lettuce", 28, "Hot for lettuce"),  # above 80 F: Oregon State has its range end there
        ("celery", 24, "Too hot for celery"),  # unreliable above 68 F
        ("cucumber", 45, "Too hot for cucumber: 45 °C is above the 41 °C"),
        ("cabbage", 5, "no table has days at 5 °C, though 27 % normal seedlings"),
        ("leek", 10, "Cold for leek"),
        ("basil", 11, "Too cold for basil"),
        ("petunia", 32, "Hot for petunia: no table tells of 32 °C"),
    ],
)
def test_too_cold_and_too_hot_are_said(crop, soil_c, word):
    assert word in warmth_words(sown(crop, soil_c=soil_c))


@pytest.mark.parametrize(
    ("crop", "soil_c"),
    [("pepper", 25), ("pepper", 24), ("tomato", 20), ("lettuce", 15), ("onion", 18), ("petunia", 22), ("kale", 18)],
)
def test_a_soil_that_suits_is_not_remarked_on(crop, soil_c):
    assert warmth_words(sown(crop, soil_c=soil_c)) == ""


def test_without_a_temperature_nothing_is_said_of_it_and_the_window_is_a_range():
    assert warmth_words(sown("pepper")) == ""
    days = window(sown("pepper"))
    assert (days.fewest, days.most) == (8, 25)
    assert "8 to 25 days" in expected(sown("pepper"))


def test_between_the_columns_it_goes_by_thermal_time():
    # Half way between 20 and 25 °C a tomato takes the harmonic mean of 8 and 6 days.
    assert window(sown("tomato", soil_c=22.5)).most == pytest.approx(2 / (1 / 8 + 1 / 6))
    # Below the coolest column of eggplant (13 days at 20 °C) its fit goes on: 104 degree days over 12 °C.
    assert window(sown("eggplant", soil_c=18)).most == pytest.approx(104 / 6)
    assert window(sown("eggplant", soil_c=13)) is None


def test_in_a_cool_soil_a_crop_with_one_best_temperature_is_waited_for_longer():
    warm, cool = window(sown("leek", soil_c=20)), window(sown("leek", soil_c=12))
    assert (warm.fewest, warm.most) == (8, 16)
    assert cool.most > 25
    assert "convention" in cool.source


@pytest.mark.parametrize("crop", ["tomato", "leek", "petunia"])
def test_nothing_is_overdue_before_twice_the_table_whoever_was_faster(crop):
    table = overdue_after(sown(crop, soil_c=22), times=2)
    assert table == 2 * window(sown(crop, soil_c=22)).most
    assert overdue_after(sown(crop, soil_c=22, own_days=(2, 3)), times=2) == table
    assert overdue_after(sown(crop, soil_c=22, own_days=(30, 40)), times=2) == 80


def test_own_records_go_before_the_table():
    last_year = sown("pepper", soil_c=25, sown=datetime(2026, 2, 1), own_days=(11, 16), own_year=2025)
    assert expected(last_year) == "yours took 11 to 16 days last year"
    assert (window(last_year).fewest, window(last_year).most, window(last_year).own) == (11, 16, True)
    assert own_words(sown(own_days=(5, 5), own_year=2021)) == "yours took 5 days in 2021"
    assert own_words(sown(own_days=(1, 1))) == "yours took 1 day"


@pytest.mark.parametrize(
    ("need", "word"),
    [
        ("light", "do not bury"),
        ("dark", "dark until"),
        ("cold", "cold spell"),
        ("soaking", "Soak"),
        ("warmth", "24 °C"),
    ],
)
def test_needs_change_the_advice(need, word):
    assert word in needs_words(sown("tomato", needs=(need,)))
    assert needs_words(sown("tomato")) == ""


def test_seed_that_waits_for_cold_is_never_overdue():
    lavender = sown("lavender", soil_c=20, needs=("cold",))
    assert window(lavender) is None
    assert overdue_after(lavender, times=2) is None
    assert "cold spell" in expected(lavender)


def test_what_is_usual_for_a_flower_is_said_until_needs_is_written():
    assert "usually needs light" in needs_words(sown("petunia"))
    assert "usually" not in needs_words(sown("petunia", needs=("light",)))


def test_peppers_are_commonly_set_on_a_mat():
    # Common practice, no source: a mat at 24 °C, while most else does well in a room of 16 °C.
    said = needs_words(sown("pepper"))
    assert "mat at 24 °C" in said
    assert "16 °C it takes about 21 days" in said
    assert needs_words(sown("pepper", soil_c=24)) == ""


def test_a_crop_that_no_table_knows_is_said_and_nothing_made_up():
    moon = sown("moon flower", soil_c=20)
    assert "No table knows “moon flower”" in unknown_words(moon)
    assert (window(moon), overdue_after(moon, times=2), warmth_words(moon)) == (None, None, "")
    assert unknown_words(sown("moon flower", own_days=(4, 9))) == ""
    assert window(sown("moon flower", own_days=(4, 9))).most == 9


def test_sow_again_by_leaves_the_fewest_weeks():
    # Univ. of Delaware, Table A-4: pepper 7 to 9 weeks, tomato 5 to 6.
    assert sow_again_by(sown("pepper"), date(2026, 5, 15)) == date(2026, 3, 27)
    assert sow_again_by(sown("tomato"), date(2026, 5, 15)) == date(2026, 4, 10)
    assert sow_again_by(sown("tomato"), None) is None
    assert sow_again_by(sown("moon flower"), date(2026, 5, 15)) is None


@pytest.mark.parametrize(
    ("crop", "soil_c", "good"),
    [
        # Degrees in which it does well: Harrington, Oregon State Univ. Extension, 2013.
        ("cabbage", 32, "from 7 to 35 °C"),
        ("cabbage", 35, "from 7 to 35 °C"),
        ("eggplant", 31, "from 24 to 32 °C"),
        ("eggplant", 32, "from 24 to 32 °C"),
        ("radish", 32, "from 7 to 32 °C"),
        ("celery", 22, "84 % normal seedlings"),
        ("cucumber", 36, "89 % normal seedlings"),
        ("muskmelon", 31, "at 30 °C: 3 days"),
    ],
)
def test_what_nobody_tested_is_not_called_too_hot(crop, soil_c, good):
    said = warmth_words(sown(crop, soil_c=soil_c))
    assert said.startswith(f"No table has days for {crop} at {soil_c} °C")
    assert good in said
    assert "hot" not in said.lower()
    assert "Set it" not in said


@pytest.mark.parametrize("crop", ["lavender", "basil", "pepper"])
def test_a_cold_spell_is_not_told_to_be_ended(crop):
    assert "cold for" in warmth_words(sown(crop, soil_c=4)).lower()
    assert warmth_words(sown(crop, soil_c=4, needs=["cold"])) == ""
    assert "ot for" in warmth_words(sown(crop, soil_c=40, needs=["cold"]))


def test_a_set_number_of_times_is_the_one_that_is_said():
    assert "up to twice that" in expected(sown("tomato", soil_c=25))
    assert "up to 3 times that is no alarm" in expected(sown("tomato", soil_c=25), times=3)


def test_a_temperature_written_in_fahrenheit_is_told_to_a_tenth():
    for crop in ("pepper", "eggplant", "cabbage", "leek"):
        said = warmth_words(sown(crop, soil_c=(50 - 32) / 1.8 + 0.3333))
        assert "10.3 °C" in said
        assert "10.33" not in said
