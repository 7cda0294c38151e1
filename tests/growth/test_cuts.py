"""Cut back, fallen, collapsed, wilted: each told from the others, from leaf movement and from one bad photo."""

import numpy as np
import pytest
from seedling_tables import clock, every, plant_rows, tray_of, without_scale

from sproutlapse.growth.judge import judge

N = 24
H = every(6, N)
GRASS = tray_of("A", each={"habit": "grasslike"})
LEAFY = tray_of("A")
GROWING = 90 + np.arange(N) * 1.5
LEAF = 500 + np.arange(N) * 8.0


def events(height, canopy, tray=GRASS, scale=True):
    table = plant_rows("A", H, height, canopy=canopy)
    got = judge(table if scale else without_scale(table), tray).events
    return list(zip(got["event"], got["time"], got["known"], strict=True))


def cut_at(k, height=50.0, canopy=0.5):
    h, c = GROWING.copy(), LEAF.copy()
    h[k:] = height + np.arange(N - k) * 1.5
    c[k:] *= canopy
    return h, c


def test_a_haircut_is_seen_at_its_photo_and_known_two_photos_later():
    assert events(*cut_at(12)) == [("trimmed", clock(72), clock(84))]


def test_a_haircut_is_seen_in_pixels_too():
    assert [e[0] for e in events(*cut_at(12), scale=False)] == ["trimmed"]


def test_two_haircuts_are_two():
    h, c = cut_at(8)
    h[16:] = 35 + np.arange(N - 16)
    c[16:] *= 0.5
    got = judge(plant_rows("A", H, h, canopy=c), GRASS)
    assert list(got.events["event"]) == ["trimmed", "trimmed"]
    assert got.plants.iloc[0]["trims"] == 2


def test_one_low_photo_is_no_haircut():
    h, c = GROWING.copy(), LEAF.copy()
    h[12], c[12] = 40, 150
    assert events(h, c) == []


def test_one_false_peak_is_no_haircut():
    h, c = GROWING.copy(), LEAF.copy()
    h[12], c[12] = 220, 1200
    assert events(h, c) == []


def test_height_lost_with_the_leaf_still_there_is_a_fall():
    h = GROWING.copy()
    h[12:] = 70
    assert [e[0] for e in events(h, LEAF)] == ["flopped"]


def test_a_fall_that_takes_hours_is_found():
    h = GROWING.copy()
    h[10:] = np.maximum(h[10] - 6 * np.arange(N - 10), 60)
    assert [e[0] for e in events(h, LEAF)] == ["flopped"]


def test_a_haircut_of_a_fallen_plant_is_still_found():
    h, c = GROWING.copy(), LEAF.copy()
    h[8:] = 72
    h[16:], c[16:] = 50, c[16:] * 0.4
    assert [e[0] for e in events(h, c)] == ["flopped", "trimmed"]


def test_more_than_half_the_height_in_a_day_with_the_leaf_there_is_a_collapse():
    h = np.full(N, 40.0)
    h[12:] = 9
    assert [e[0] for e in events(h, np.full(N, 300.0), LEAFY)] == ["collapsed"]


def test_a_collapse_over_some_hours_is_still_one():
    hours = every(1, 72)
    h = np.full(72, 40.0)
    h[30:42] = np.linspace(38, 8, 12)
    h[42:] = 8
    got = judge(plant_rows("A", hours, h, canopy=300.0), LEAFY).events
    assert list(got["event"])[-1] == "collapsed"


def test_a_plant_that_stands_up_again_had_wilted():
    h = np.full(N, 60.0)
    h[10:14] = 25
    got = events(h, np.full(N, 400.0), LEAFY)
    assert [e[0] for e in got] == ["collapsed", "wilted"]
    assert got[1][1:] == (clock(60), clock(96))


@pytest.mark.parametrize("swing", [0.05, 0.10, 0.14])
def test_leaves_that_fold_and_lift_every_day_are_no_event(swing):
    h = (30 + np.arange(N) * 0.8) * (1 + swing * np.cos(2 * np.pi * (H - 18) / 24))
    assert events(h, 150 + np.arange(N) * 4.0, LEAFY) == []


def test_growth_is_not_read_across_a_cut():
    got = judge(plant_rows("A", H, cut_at(12)[0], canopy=cut_at(12)[1]), GRASS).plants.iloc[0]
    assert got["growth_mm_per_day"] == pytest.approx(6.0)


def fast(k, height, leaf):
    """Blades that grow 10 mm in six hours and make up for a cut at photo k within a day."""
    h, c = 20 + np.arange(N) * 10.0, 100 + np.arange(N) * 40.0
    h[k:] = height + np.arange(N - k) * 9.5
    c[k:] = leaf * c[k] + np.arange(N - k) * 40.0
    return h, c


def test_a_haircut_that_is_made_up_for_within_a_day_is_one():
    assert [e[0] for e in events(*fast(6, 63.0, 0.85))] == ["trimmed"]


def test_a_fast_grower_that_leans_with_its_tissue_still_there_was_not_cut():
    assert "trimmed" not in [e[0] for e in events(*fast(6, 63.0, 1.0))]


def test_a_fast_grower_that_pauses_was_not_cut():
    h, c = 20 + np.arange(N) * 10.0, 100 + np.arange(N) * 40.0
    h[6:] -= 10.0
    c[6:] -= 40.0
    assert events(h, c) == []


def test_one_photo_in_which_a_fast_grower_stands_low_is_no_haircut():
    h, c = 20 + np.arange(N) * 10.0, 100 + np.arange(N) * 40.0
    h[6], c[6] = 55.0, 250.0
    assert events(h, c) == []


def test_two_photos_of_one_second_make_no_haircut():
    h, c = np.full(N, 80.0), np.full(N, 400.0)
    h[12:], c[12:] = 72.0, 360.0
    hours = np.array(H, float)
    hours[11] = hours[10]
    table = plant_rows("A", hours, h, canopy=c)
    assert list(judge(table, GRASS).events["event"]) == []


def hourly_with(at, times_height, times_leaf):
    """A leafy plant in hourly photos, of which these are bad."""
    hours = every(1, 96)
    h, c = 50 + 3 * np.cos(2 * np.pi * (hours - 2) / 24), np.full(96, 400.0)
    h[list(at)] *= times_height
    c[list(at)] *= times_leaf
    return judge(plant_rows("A", hours, h, canopy=c), LEAFY).events


def test_one_bad_photo_in_which_half_the_plant_is_missing_is_no_cut():
    assert hourly_with([40], 0.6, 0.4).empty


def test_two_false_heights_days_apart_make_no_fall_of_those_between():
    assert hourly_with([30, 50], 1.4, 1.0).empty


def test_how_fast_a_plant_grows_back_is_read_from_the_days_after_its_cut():
    table = plant_rows("A", H, cut_at(8)[0], canopy=cut_at(8)[1])
    assert judge(table, GRASS).plants.iloc[0]["regrowth_mm_per_day"] == pytest.approx(6.0)
    assert np.isnan(judge(plant_rows("A", H, GROWING, canopy=LEAF), GRASS).plants.iloc[0]["regrowth_mm_per_day"])


def test_a_plant_of_which_nothing_is_seen_any_more_is_gone():
    h = np.where(np.arange(N) < 12, GROWING, 0.0)
    assert [e for e in events(h, LEAF, LEAFY) if e[0] == "gone"] == [("gone", clock(72), clock(84))]


def test_a_sprout_that_comes_and_goes_is_not_gone():
    h = np.where(np.arange(N) < 12, 2.0, 0.0)
    assert "gone" not in [e[0] for e in events(h, np.full(N, 4.0), LEAFY)]


def test_a_pot_that_was_taken_out_is_not_gone():
    table = plant_rows("A", H, GROWING, canopy=LEAF)
    away = table["elapsed_h"].between(60, 90)
    table.loc[away, ["height_mm", "canopy_mm2", "canopy_px", "stem_mm", "height_to_leaf"]] = np.nan
    assert "gone" not in list(judge(table, LEAFY).events["event"])


def sinking(share, over_h=18, leaf=0.8):
    """A grown leafy plant whose leaves fold and lift, and that sinks by a share from the third day on; photos every 3
    hours."""
    hours = every(3, 48)
    down = np.clip((hours - 72) / over_h, 0, 1)
    h = (60 + 1.5 * np.cos(2 * np.pi * (hours - 2) / 24)) * (1 - share * down)
    return judge(plant_rows("A", hours, h, canopy=400 * (1 - (1 - leaf) * down)), LEAFY).events


def test_a_plant_that_sinks_by_a_fifth_over_hours_has_fallen_and_it_is_said_how_long_it_took():
    got = sinking(0.22)
    assert list(got["event"]) == ["flopped"]
    assert got["detail"].iloc[0].startswith("sank within ") and "hours" in got["detail"].iloc[0]


def test_a_long_leaf_that_arches_over_reaches_further_to_the_side_and_is_no_fall():
    hours = every(3, 48)
    down = np.clip((hours - 72) / 18, 0, 1)
    rows = plant_rows("A", hours, (60 + 1.5 * np.cos(2 * np.pi * (hours - 2) / 24)) * (1 - 0.22 * down), canopy=400.0)
    assert list(judge(rows, LEAFY).events["event"]) == ["flopped"]
    assert judge(rows.assign(width_mm=60 + 9 * down), LEAFY).events.empty


def test_a_plant_that_sinks_by_a_tenth_has_not_fallen():
    assert sinking(0.1).empty


def test_blades_that_nod_have_not_fallen():
    hours = every(3, 48)
    h = 60 * (1 - 0.22 * np.clip((hours - 72) / 18, 0, 1))
    assert judge(plant_rows("A", hours, h, canopy=400.0), GRASS).events.empty


def test_a_plant_that_sinks_on_its_first_day_is_not_judged_by_a_day_before():
    hours = every(1, 24)
    h = 60 * (1 - 0.22 * np.clip((hours - 6) / 10, 0, 1))
    assert judge(plant_rows("A", hours, h, canopy=400.0), LEAFY).events.empty
