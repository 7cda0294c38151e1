"""Growth per day and relative growth rate."""

import math

import numpy as np
import pytest
from seedling_tables import clock, every, plant_rows, tray_of, without_scale

from sproutlapse.growth.curves import last_break, like_hours, like_hours_slope
from sproutlapse.growth.judge import judge, stories

H = every(6, 25)


def plant(height, canopy=100.0, hours=H):
    return judge(plant_rows("A", hours, height, canopy=canopy), tray_of("A")).plants.iloc[0]


def test_growth_is_read_in_millimetres_a_day():
    assert plant(10 + 2.5 * H / 24)["growth_mm_per_day"] == pytest.approx(2.5)


def test_the_daily_movement_of_leaves_is_not_growth():
    swing = 3 * np.cos(2 * np.pi * H / 24)
    assert plant(30 + 2 * H / 24 + swing)["growth_mm_per_day"] == pytest.approx(2.0)
    assert plant(np.full(25, 30.0) + swing)["growth_mm_per_day"] == pytest.approx(0.0, abs=1e-9)


def test_one_bad_photo_hardly_moves_the_growth():
    height = 10 + 2.5 * H / 24
    height[20] = 90
    assert plant(height)["growth_mm_per_day"] == pytest.approx(2.5, abs=0.05)


def test_wilt_from_which_a_plant_stood_up_again_leaves_the_growth_whole():
    tall = 60 + 2.5 * H / 24
    wilted = np.where((np.arange(25) >= 19) & (np.arange(25) < 22), 0.5, 1.0)
    table = plant_rows("A", H, tall * wilted, canopy=300.0)
    assert "wilted" in set(judge(table, tray_of("A")).events["event"])
    (story,) = stories(table, tray_of("A"))
    assert last_break(story.drops) == 0
    assert judge(table, tray_of("A")).plants.iloc[0]["growth_mm_per_day"] == pytest.approx(2.5, abs=0.05)


def test_less_than_a_day_of_photos_gives_no_growth():
    assert math.isnan(plant(10 + H[:4], hours=H[:4])["growth_mm_per_day"])


def test_canopy_that_doubles_every_two_days_grows_at_the_logarithm_of_two_over_two():
    assert plant(np.full(25, 30.0), 50 * 2 ** (H / 48))["rgr_per_day"] == pytest.approx(math.log(2) / 2)


def test_without_a_scale_there_is_a_relative_rate_and_no_growth_in_millimetres():
    table = without_scale(plant_rows("A", H, np.full(25, 30.0), canopy=50 * 2 ** (H / 48)))
    row = judge(table, tray_of("A")).plants.iloc[0]
    assert math.isnan(row["growth_mm_per_day"])
    assert math.isnan(row["final_height_mm"])
    assert row["rgr_per_day"] == pytest.approx(math.log(2) / 2)


def test_like_hours_are_whole_days_apart():
    early, late = like_hours(np.array([0.0, 6, 25, 48]), 1.5)
    assert list(zip(early.tolist(), late.tolist(), strict=True)) == [(0, 2), (0, 3), (2, 3)]


def test_a_noisier_series_has_a_wider_growth():
    noise = np.random.default_rng(1).normal(0, 1, 25)
    quiet = like_hours_slope(H, H / 24 + 0.1 * noise, 1.5)
    loud = like_hours_slope(H, H / 24 + 1.0 * noise, 1.5)
    assert quiet is not None
    assert loud is not None
    assert loud.sd == pytest.approx(10 * quiet.sd, rel=0.5)
    assert abs(loud.per_day - 1) < 3 * loud.sd


def test_a_plant_that_leaves_the_picture_gives_no_growth_from_there():
    table = plant_rows("A", H, np.minimum(10 + 4 * H / 24, 25)).assign(cut_off=H >= 96)
    row = judge(table, tray_of("A")).plants.iloc[0]
    assert row["growth_mm_per_day"] == pytest.approx(4.0)


def test_growth_names_the_span_that_it_was_read_over():
    row = plant(10 + 2.5 * H / 24)
    assert row["growth_since"] >= clock(H[-1] - 24 * 4 - 1.5)
    assert row["growth_since"] <= clock(H[-1] - 24 * 4 + 6)


@pytest.mark.parametrize(("step_h", "days"), [(6, 4), (1, 2), (12, 4), (24, 5)])
def test_twice_the_deviation_of_a_growth_holds_it_19_times_of_20(step_h, days):
    rng = np.random.default_rng(5)
    hours = every(step_h, 24 * days // step_h + 1)
    held = []
    for _ in range(600):
        swing = 3 * np.sin(2 * np.pi * (hours - rng.uniform(0, 24)) / 24)
        rate = like_hours_slope(hours, 20 + 5 * hours / 24 + swing + rng.normal(0, 0.5, len(hours)), 1.5)
        held.append(abs(rate.per_day - 5) <= 2 * rate.sd)
    assert 0.92 <= np.mean(held) <= 0.985


def test_two_photos_alone_do_not_tell_how_sure_a_growth_is():
    assert math.isnan(like_hours_slope(np.array([0.0, 24.0]), np.array([10.0, 15.0]), 1.5).sd)
