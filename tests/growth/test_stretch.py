"""Legginess: called in time, on long enough a run, and on no sturdy plant."""

import numpy as np
import pytest
from seedling_tables import NAN, clock, every, plant_rows, tray_of, until, without_scale

from sproutlapse.growth.judge import judge

H = every(6, 20)
TALL = 30 + np.arange(20.0)


def rows(ratio, stem, height=TALL):
    return plant_rows("A", H, height, ratio=ratio, stem=stem)


def leggy_event(table, tray=None):
    events = judge(table, tray or tray_of("A")).events
    return events[events["event"] == "leggy"]


def test_tall_for_its_leaf_on_a_bare_stem_is_leggy_after_twelve_hours_and_three_photos():
    got = leggy_event(rows(7.0, 0.8 * TALL))
    assert list(got["time"]) == [clock(0)]
    assert list(got["known"]) == [clock(12)]


def test_hourly_photos_wait_for_twelve_hours():
    hours = every(1, 30)
    got = leggy_event(plant_rows("A", hours, [40] * 30, ratio=7, stem=35))
    assert list(got["known"]) == [clock(12)]


def test_daily_photos_wait_for_three_of_them():
    got = leggy_event(plant_rows("A", every(24, 5), [40] * 5, ratio=7, stem=35))
    assert list(got["known"]) == [clock(48)]


def test_a_passing_leaf_movement_makes_no_leggy_plant():
    ratio = np.where(np.arange(20) % 4 < 2, 7.0, 3.0)
    assert leggy_event(rows(ratio, 0.8 * TALL)).empty


def test_seed_leaves_edge_on_over_a_short_stem_are_not_leggy():
    assert leggy_event(rows(4.4, 0.8 * TALL)).empty
    assert leggy_event(rows(5.5, 0.5 * TALL)).empty


def test_a_short_bare_stem_that_was_measured_is_not_leggy_whatever_the_ratio():
    assert leggy_event(rows(6.5, 0.08 * TALL)).empty


def test_below_twenty_millimetres_nothing_is_judged():
    got = judge(rows(9.0, 15.0, height=np.full(20, 18.0)), tray_of("A"))
    assert got.events.empty
    assert got.plants.iloc[0]["grade"] == ""


def test_without_a_view_of_the_stem_only_the_stricter_ratio_counts():
    assert leggy_event(rows(5.5, NAN)).empty
    assert len(leggy_event(rows(6.5, NAN))) == 1


def test_a_photo_without_a_measured_ratio_does_not_break_the_run():
    ratio = np.full(20, 7.0)
    ratio[1] = NAN
    assert list(leggy_event(rows(ratio, 0.8 * TALL))["known"]) == [clock(18)]


@pytest.mark.parametrize("habit", ["grasslike", "climber", "feathery"])
def test_kinds_that_are_tall_by_nature_are_never_leggy(habit):
    got = judge(rows(20.0, 0.9 * TALL), tray_of("A", each={"habit": habit}))
    assert got.events.empty
    assert got.plants.iloc[0]["grade"] == ""


def test_a_rosette_is_held_to_a_lower_stand():
    tray = tray_of("A", each={"habit": "rosette"})
    assert len(leggy_event(rows(4.4, 0.8 * TALL), tray)) == 1


def test_a_plant_back_in_its_band_is_no_longer_leggy_but_the_event_stays():
    ratio = np.where(np.arange(20) < 8, 7.0, 3.0)
    got = judge(rows(ratio, 0.8 * TALL), tray_of("A"))
    assert list(got.events["event"]) == ["leggy"]
    assert not got.plants.iloc[0]["leggy"]
    assert got.plants.iloc[0]["leggy_since"] == ""


def test_a_leggy_plant_at_the_edge_of_the_band_stays_leggy():
    ratio = np.where(np.arange(20) < 4, 7.0, 4.8)
    assert judge(rows(ratio, 0.8 * TALL), tray_of("A")).plants.iloc[0]["leggy"]


def test_near_the_band_for_a_day_is_stretching():
    assert judge(rows(4.7, 0.8 * TALL), tray_of("A")).plants.iloc[0]["grade"] == "stretching"
    assert judge(rows(3.0, 0.4 * TALL), tray_of("A")).plants.iloc[0]["grade"] == "sturdy"


@pytest.mark.parametrize(("photos", "grade"), [(1, ""), (2, ""), (3, "stretching")])
def test_a_plant_that_has_just_reached_the_height_to_judge_is_not_yet_called_stretching(photos, grade):
    height = np.where(np.arange(20) < 20 - photos, 19.0, 22.0)
    assert judge(rows(4.7, 0.8 * height, height), tray_of("A")).plants.iloc[0]["grade"] == grade


def test_the_numbers_of_an_event_are_those_of_the_time_it_stands_beside():
    got = leggy_event(rows(7.0, 0.8 * TALL)).iloc[0]
    assert got["time"] == clock(0)
    assert got["detail"].startswith("30 mm tall, ")


def test_the_tray_file_can_overrule_a_threshold():
    assert leggy_event(rows(7.0, 0.8 * TALL), tray_of("A", judge={"leggy_ratio": 8, "leggy_ratio_alone": 9})).empty


def test_without_a_scale_the_pure_ratio_still_speaks():
    got = leggy_event(without_scale(rows(7.0, 0.8 * TALL)))
    assert len(got) == 1
    assert "mm" not in got.iloc[0]["detail"]


def test_a_sprout_of_a_few_pixels_is_not_judged():
    table = without_scale(rows(6.5, NAN, height=np.full(20, 2.0)))
    assert leggy_event(table).empty
    assert judge(table, tray_of("A")).plants.iloc[0]["grade"] == ""


def test_the_verdict_before_the_run_is_long_enough_is_none():
    assert leggy_event(until(rows(7.0, 0.8 * TALL), 6)).empty
