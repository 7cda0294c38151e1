"""When a plant came up, from its rows."""

import math

import pytest
from seedling_tables import clock, every, plant_rows, together, tray_of, until

from sproutlapse.growth.emergence import mean_emergence_time, synchrony, t50, time_variance
from sproutlapse.growth.judge import judge

H = every(6, 8)
UP_AT_THIRD = [0, 0, 3, 4, 5, 6, 7, 8]


def test_a_plant_came_up_between_its_last_empty_and_its_first_green_photo():
    row = judge(plant_rows("A", H, UP_AT_THIRD), tray_of("A")).plants.iloc[0]
    assert (row["emerged_after"], row["emerged_by"]) == (clock(6), clock(12))


def test_emergence_is_known_with_the_third_photo_of_the_plant():
    event = judge(plant_rows("A", H, UP_AT_THIRD), tray_of("A")).events.iloc[0]
    assert (event["event"], event["time"], event["known"]) == ("emerged", clock(12), clock(24))


def test_two_photos_of_a_sprout_are_not_yet_an_emergence():
    got = judge(until(plant_rows("A", H, UP_AT_THIRD), 18), tray_of("A"))
    assert got.events.empty
    assert got.plants.iloc[0]["emerged_by"] == ""


def test_a_plant_in_the_first_photo_has_no_event_and_no_earlier_bound():
    got = judge(plant_rows("A", H, [20] * 8), tray_of("A"))
    assert "emerged" not in set(got.events["event"])
    assert (got.plants.iloc[0]["emerged_after"], got.plants.iloc[0]["emerged_by"]) == ("", clock(0))


def test_a_pot_in_which_nothing_came_up_keeps_its_row():
    got = judge(together(plant_rows("A", H, UP_AT_THIRD), plant_rows("B", H, [0] * 8)), tray_of("A", "B"))
    assert list(got.plants["plant"]) == ["A", "B"]
    assert got.plants.iloc[1]["emerged_by"] == ""
    assert math.isnan(got.plants.iloc[1]["final_height_mm"])


def test_an_empty_table_gives_tables_with_every_pot_and_no_event():
    got = judge(plant_rows("A", [], []), tray_of("A", "B"))
    assert list(got.plants["plant"]) == ["A", "B"]
    assert got.events.empty
    assert list(got.events.columns) == ["time", "known", "plant", "event", "detail"]


def test_statistics_of_a_sowing_of_which_nothing_came_up_are_not_made_up():
    for statistic in (mean_emergence_time, time_variance, synchrony, t50):
        assert math.isnan(statistic([1, 2, 3], [0, 0, 0]))


def test_a_single_seedling_has_a_time_but_no_spread():
    assert mean_emergence_time([5], [1]) == 5
    assert math.isnan(time_variance([5], [1]))
    assert math.isnan(synchrony([5], [1]))


def test_a_count_that_falls_is_no_new_emergence():
    assert mean_emergence_time([4, 5, 6], [2, -1, 2]) == 5


def test_times_and_counts_of_different_length_are_refused():
    with pytest.raises(ValueError, match="one length"):
        mean_emergence_time([1, 2], [1])
