"""The gap under a lamp in days to come: who governs it, and a band that is honest."""

from datetime import timedelta

import numpy as np
from seedling_tables import every, plant_rows, together, tray_of

from sproutlapse.care import care_list
from sproutlapse.growth.judge import judge
from sproutlapse.growth.lamps_ahead import first_to_reach, gap_in
from sproutlapse.growth.tracks import tracks
from sproutlapse.growth.trend import forecast

H = every(6, 32)
LIMITS = tray_of("A", "B").judge


def under(*heights):
    names = [chr(65 + k) for k in range(len(heights))]
    table = together(*(plant_rows(n, H, h) for n, h in zip(names, heights, strict=True)))
    return [(track, 0) for track in tracks(table, tray_of(*names))]


SLOW_AND_TALL, FAST_AND_SHORT = 70 + 0.04 * H, np.clip(5 + 0.3 * H, 1, None)


def test_the_plant_that_will_be_there_first_governs_not_the_one_that_is_tallest_now():
    ahead = first_to_reach(under(SLOW_AND_TALL, FAST_AND_SHORT), 95.0, LIMITS)
    assert ahead.track.plant == "B"
    assert ahead.when.earliest <= ahead.when.likely


def test_nobody_grows_nobody_governs():
    assert first_to_reach(under(np.full(32, 40.0)), 95.0, LIMITS) is None
    assert gap_in(under(np.full(32, 40.0)), 180.0, 2, LIMITS) is None


def test_the_gap_in_two_days_lies_between_its_bounds():
    soon = gap_in(under(SLOW_AND_TALL, FAST_AND_SHORT), 150.0, 2, LIMITS)
    assert soon.least_mm < soon.likely_mm < soon.most_mm


def test_a_scale_that_all_plants_share_widens_the_band():
    (track, _), *_ = under(FAST_AND_SHORT)
    sure, unsure = (forecast(track, 95.0, LIMITS, scale_sd_share=share) for share in (0.0, 0.05))
    assert unsure.earliest < sure.earliest
    assert unsure.likely == sure.likely


def test_the_band_holds_a_plant_that_goes_on_as_it_did():
    (track, _), *_ = under(FAST_AND_SHORT)
    when = forecast(track, 95.0, LIMITS)
    there = track.clock(len(H) - 1) + timedelta(hours=float((95.0 - FAST_AND_SHORT[-1]) / 0.3))
    assert when.earliest <= there
    assert when.latest is None or there <= when.latest


def test_the_list_names_the_one_that_grows_faster():
    table = together(plant_rows("A", H, SLOW_AND_TALL), plant_rows("B", H, np.clip(0.48 * H, 1, None)))
    table = table[table["elapsed_h"] <= 144].reset_index(drop=True)
    lamp = {"name": "left", "kind": "tube", "above_soil_mm": 75 + 82}
    tray = tray_of("A", "B", each={"lamp": "left"}, lamp=[lamp])
    (item,) = [i for i in care_list(table, judge(table, tray), tray) if i.key.startswith("lamp soon")]
    assert item.plants == ("B",)
    assert "A is the tallest now, but B grows faster." in item.reason
    assert "; in 2 days likely" in item.number
