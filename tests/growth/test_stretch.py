"""Legginess: called in time, on long enough a run, and on no sturdy plant."""

import numpy as np
import pytest
from seedling_tables import NAN, clock, every, plant_rows, together, tray_of, until, without_scale

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
    height = np.where(np.arange(20) < 20 - photos, 19.0, 27.0)
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


def test_a_short_bare_stem_is_never_leggy_whichever_way_the_leaves_face():
    # Seed leaves seen edge-on, folded for a day: 9 and more on a sturdy stem of 17 mm.
    assert leggy_event(rows(9.0, 17.0, height=np.full(20, 23.0))).empty


def test_one_bad_photo_among_many_does_not_break_the_run():
    ratio = np.full(20, 7.0)
    ratio[6] = 2.0
    hours = every(2, 20)
    got = leggy_event(plant_rows("A", hours, [40] * 20, ratio=ratio, stem=35))
    assert list(got["time"]) == [clock(0)]
    assert list(got["known"]) == [clock(14)]


def test_one_bad_photo_makes_no_leggy_plant():
    ratio = np.where(np.arange(20) == 6, 20.0, 3.0)
    assert leggy_event(rows(ratio, np.where(np.arange(20) == 6, 30.0, 14.0))).empty


def test_a_stem_that_shoots_up_needs_no_third_photo():
    height = 22 + 12.0 * np.arange(5)
    got = leggy_event(plant_rows("A", every(12, 5), height, ratio=8, stem=0.85 * height))
    assert list(got["known"]) == [clock(12)]


def test_a_leaf_that_hangs_before_the_stem_makes_no_short_stem_of_it():
    # Two photos have shown 50 mm; a bare stem never gets shorter.
    stem = np.where(np.isin(np.arange(20), (4, 6)), 50.0, 2.0)
    assert list(leggy_event(rows(7.0, stem, height=np.full(20, 56.0)))["known"]) == [clock(48)]


def late(gain_a_day, days=8):
    """A sturdy plant whose stem rests at 16 mm for four days and then lengthens by so much a day."""
    hours = every(6, 4 * days)
    stem = 16 + np.clip(hours - 96, 0, None) / 24 * gain_a_day
    return hours, plant_rows("A", hours, stem + 10, ratio=3.8, stem=stem)


def test_a_stem_that_lengthens_again_is_told_of_before_the_plant_is_leggy():
    _, table = late(4.0)
    events = judge(table, tray_of("A")).events
    (event,) = events[events["event"] == "stretching"].itertuples()
    assert event.known <= clock(96 + 30)
    assert event.detail.startswith("the bare stem lengthens again, from 16 to 19 mm")
    assert judge(table, tray_of("A")).plants.iloc[0]["grade"] == "stretching"


def test_a_stem_at_rest_on_a_growing_plant_is_not_told_of():
    hours = every(6, 32)
    table = plant_rows("A", hours, 20 + 0.3 * hours, ratio=3.5, stem=16 + 0.5 * np.cos(hours / 24 * 6.283))
    assert judge(table, tray_of("A")).events.empty


def test_a_seed_leaf_that_withers_makes_no_stem_lengthen():
    hours = every(6, 32)
    stem = np.where(hours < 100, 16.0, 24.0)
    assert judge(plant_rows("A", hours, [40] * 32, ratio=3.5, stem=stem), tray_of("A")).events.empty


def test_each_grade_says_why_with_its_numbers():
    why = judge(rows(7.0, 0.8 * TALL), tray_of("A")).plants.iloc[0]["grade_why"]
    assert why.startswith(
        "too tall for the leaf it shows, on a long bare stem: height to leaf 7.0, bare stem 38 mm, 80 %"
    )
    assert "growing 4.0 mm a day" in why
    why = judge(rows(3.0, 0.4 * TALL), tray_of("A")).plants.iloc[0]["grade_why"]
    assert why.startswith("its height fits its leaf and stem: height to leaf 3.0, bare stem 19 mm")


@pytest.mark.parametrize("crop", ["beans", "Cucumber", "pea", "carrots", "sunflower"])
def test_a_kind_that_is_tall_by_nature_is_not_judged_whatever_its_look(crop):
    tray = tray_of("A", each={"sowing": "s"}, sowing=[{"name": "s", "crop": crop}])
    got = judge(rows(20.0, 0.9 * TALL), tray)
    assert got.events.empty
    assert got.plants.iloc[0]["grade"] == ""
    assert got.plants.iloc[0]["grade_why"].startswith("no stretch judgement for this kind")


def sown_together(count, stem=18.0):
    """One plant near the band with a stem of 18 mm among others with 12."""
    names = [f"P{k}" for k in range(count)]
    first = plant_rows("P0", H, [24] * 20, ratio=4.7, stem=stem)
    table = together(first, *(plant_rows(n, H, [24] * 20, ratio=3.0, stem=12) for n in names[1:]))
    tray = tray_of(*names, each={"sowing": "s"}, sowing=[{"name": "s", "crop": "tomato"}])
    return judge(table, tray).plants.iloc[0]


def test_six_of_a_sowing_are_a_measure_of_one_of_them_and_five_are_not():
    assert sown_together(6)["grade"] == "stretching"
    assert "1.5 times the middle of its sowing" in sown_together(6)["grade_why"]
    assert sown_together(5)["grade"] == "sturdy"


@pytest.mark.parametrize("frames", [1, 2, 3, 5])
def test_any_number_of_photos_for_a_run_is_taken(frames):
    _, table = late(4.0)
    events = judge(table, tray_of("A", judge={"leggy_frames": frames})).events
    assert list(events["event"]).count("stretching") == 1
    judge(rows(3.0, 14.0), tray_of("A", judge={"leggy_frames": frames}))


def test_a_sprout_under_its_hook_leaves_no_long_stem_behind():
    """Two early photos in which the whole sprout looks like stem; later the stem is seen to be shorter."""
    hours = every(6, 20)
    height = np.linspace(18, 55, 20)
    stem = np.where(np.arange(20) < 2, height, 14.0)
    why = judge(plant_rows("A", hours, height, ratio=2.5, stem=stem), tray_of("A")).plants.iloc[0]["grade_why"]
    assert "bare stem 14 mm" in why


def test_the_grade_reads_the_ratio_in_the_photos_that_show_most_leaf():
    """By day leaves stand out and show, by night they fold: the folded photos make no plant stretch."""
    hours = every(6, 20)
    ratio = np.where(hours % 24 < 12, 3.0, 4.8)
    got = judge(plant_rows("A", hours, 40 + 0.1 * hours, ratio=ratio, stem=0.7 * (40 + 0.1 * hours)), tray_of("A"))
    assert "height to leaf 3.0" in got.plants.iloc[0]["grade_why"]
    assert got.plants.iloc[0]["grade"] == "sturdy"
