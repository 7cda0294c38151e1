"""How fast and evenly a sowing came up, and what is left open where the hour of a sprout is not known."""

import math

import numpy as np
import pytest
from seedling_tables import clock, every, plant_rows, together, tray_of

from sproutlapse.growth.judge import judge
from sproutlapse.growth.sowing_times import FIGURES, Times, fitted

N = 24
H = every(6, N)
DAYS_KNOWN = [name for name in FIGURES if name.endswith("_days")]


def pot(name, first, **more):
    """A pot in which something is up from a photo on; never for None."""
    first = N if first is None else first
    return plant_rows(name, H, np.where(np.arange(N) < first, 0, 3 + np.arange(N)), **more)


def out_in(rows, photos):
    """The same rows with the pot out of the picture in some photos."""
    rows = rows.astype({"cut_off": object})
    rows.loc[photos, [c for c in rows if c.endswith(("_mm", "_mm2", "_px", "_deg", "_to_leaf"))]] = np.nan
    rows.loc[photos, "seedlings"] = np.nan
    return rows


def row_of(*pots, sown="2026-02-25T08:00:00", **sowing):
    names = [rows["plant"].iloc[0] for rows in pots]
    tray = tray_of(*names, each={"sowing": "s"}, sowing=[{"name": "s", "sown": sown, **sowing}])
    return judge(together(*pots), tray).sowings.iloc[0]


def test_of_a_sowing_of_which_none_came_up_only_the_share_is_told():
    row = row_of(*(pot(f"p{k}", None) for k in range(8)))
    assert (row["emerged"], row["share_low"]) == (0, 0)
    assert row["share_high"] == pytest.approx(1 - 0.025**0.125)
    assert all(math.isnan(row[name]) for name in [*DAYS_KNOWN, "speed_per_day", "synchrony", "uncertainty_bits"])


def test_all_at_once_is_one_time_with_no_spread_and_no_curve():
    row = row_of(*(pot(f"p{k}", 5) for k in range(8)))
    assert (row["synchrony"], row["uncertainty_bits"]) == (1, 0)
    assert (row["mean_days"], row["first_days"], row["spread_days"]) == (5.125, 5.125, 0)
    assert math.isnan(row["fit_median_days"])


def test_a_curve_is_drawn_through_five_that_came_up_at_different_times():
    row = row_of(*(pot(f"p{k}", 4 + 2 * k) for k in range(6)), pot("late", None))
    assert row["fit_median_days"] == pytest.approx(row["median_days"], abs=0.5)
    assert 0.05 < row["fit_median_sd_days"] < 1.5
    assert 0.8 < row["fit_final_share"] <= 1


def test_a_photo_an_hour_and_one_every_six_tell_the_same_synchrony():
    """Counted once a day; by the photo nothing would ever come up together."""
    rare = row_of(*(pot(f"p{k}", 4 + k) for k in range(6)))
    hours = np.arange(6 * N)
    dense = [plant_rows(f"p{k}", hours, np.where(hours < 24 + 6 * k - 2, 0, 5)) for k in range(6)]
    assert row_of(*dense)["synchrony"] == rare["synchrony"] > 0


def test_what_stood_in_the_first_photo_leaves_the_days_open_but_not_the_count():
    row = row_of(pot("a", 0), pot("b", 6), pot("c", 8))
    assert row["emerged"] == 3
    assert (row["first_after_days"], row["first_by_days"]) == (0, 4)
    assert all(math.isnan(row[name]) for name in ("mean_days", "t50_coolbear_days", "speed_per_day", "synchrony"))


def test_what_came_up_under_a_cover_counts_and_bounds_the_curve_but_makes_no_hour():
    pots = []
    for k in range(10):
        rows = pot(f"p{k}", 2 + 2 * k).assign(covered=np.arange(N) < 2, pot_x=0.0, pot_y=0.0)
        rows.loc[rows["covered"], [c for c in rows if c.endswith(("_mm", "_mm2", "_px", "_to_leaf"))]] = np.nan
        rows.loc[rows["covered"], "seedlings"] = 0
        pots.append(rows)
    row = row_of(*pots)
    assert (row["emerged"], row["first_after_days"]) == (10, 0)
    assert math.isnan(row["mean_days"]) and math.isnan(row["t50_farooq_days"])
    # Every 12 hours one came up, from half a day after the first photo on; sown four days before it.
    assert abs(row["fit_median_days"] - 6.6) < 2 * row["fit_median_sd_days"] < 4


def test_where_nearly_all_came_up_under_the_cover_no_curve_is_made_up():
    rows = pot("p", 6).assign(covered=np.arange(N) < 8, pot_x=0.0, pot_y=0.0)
    rows.loc[rows["covered"], [c for c in rows if c.endswith(("_mm", "_mm2", "_px", "_to_leaf"))]] = np.nan
    rows.loc[rows["covered"], "seedlings"] = 0
    row = row_of(*(rows.assign(plant=f"p{k}") for k in range(8)))
    assert row["emerged"] == 8
    assert math.isnan(row["fit_median_days"])


def test_without_a_date_of_sowing_no_day_is_told():
    row = row_of(pot("a", 4), pot("b", 6), sown=None)
    assert row["share_high"] == 1
    assert all(math.isnan(row[name]) for name in DAYS_KNOWN)


def test_a_date_of_sowing_after_the_first_sprout_gives_no_days():
    row = row_of(pot("a", 4), pot("b", 6), sown="2026-03-02T20:00:00")
    assert all(math.isnan(row[name]) for name in DAYS_KNOWN)
    assert "check" in row["verdict"]


def test_photos_from_before_the_sowing_count_from_the_sowing_on():
    row = row_of(pot("a", 4), pot("b", 6), sown="2026-03-02T05:00:00")
    assert (row["first_after_days"], row["first_by_days"]) == (0, 0.125)
    assert row["first_days"] > 0


def test_no_time_begins_before_the_sowing():
    """Two photos from before the sowing; half of the two that came up at once are up at half of their gap."""
    row = row_of(pot("a", 2), pot("b", 2), pot("c", 12), sown="2026-03-01T17:00:00")
    assert row["first_after_days"] == 0
    # Sown 9 h after the first photo, up in the third at 12 h, so 3 h after it: n/2 = 1.5 of 2 in those 3 h.
    assert row["t50_farooq_days"] == pytest.approx(0.75 * 3 / 24)
    # From 0.3 of 2 in those hours to 0.7 of one between the photos of 66 and 72 h.
    assert row["t10_t90_days"] == pytest.approx((66 + 0.7 * 6 - 9 - 0.15 * 3) / 24)


def truncated(times, end):
    """What photos each six hours until a day tell of seeds that come up on these days (infinite: never)."""
    photos = np.arange(0, end + 0.01, 0.25)
    at = np.searchsorted(photos, times)
    up = at < len(photos)
    by = np.where(up, photos[np.minimum(at, len(photos) - 1)], np.inf)
    after = np.where(up, photos[np.clip(at - 1, 0, len(photos) - 1)], end)
    return Times(after, by, True, photos[1:])


@pytest.mark.parametrize("share", [1.0, 0.8])
def test_no_median_is_told_by_a_curve_while_sprouts_still_come(share):
    """24 seeds, half of those that come up by day 6, log sd 0.25: by then a curve is sure of too soon a median."""
    rng = np.random.default_rng(5)
    made = [np.where(rng.random(24) < share, 6 * np.exp(0.25 * rng.normal(size=24)), np.inf) for _ in range(25)]
    early = [fitted(truncated(times, end)) for times in made for end in (5, 6, 7)]
    assert sum(fit is not None for fit in early) <= 0.06 * len(early)
    late = [fit for times in made if (fit := fitted(truncated(times, 14))) is not None]
    assert len(late) >= 0.8 * len(made)
    assert sum(abs(fit.median_days - 6) <= 2 * fit.median_sd_days for fit in late) >= 0.85 * len(late)


def test_a_curve_is_told_at_once_where_all_are_up():
    times = 6 * np.exp(0.25 * np.linspace(-1.5, 1.5, 12))
    assert fitted(truncated(times, float(np.ceil(4 * times.max()) / 4))) is not None


def test_a_gap_of_days_is_the_doubt_of_what_came_up_in_it():
    hours = np.array([0, 6, 12, 18, 24, 120, 126, 132, 138])
    pots = [plant_rows(p, hours, [0, 0, 0, 0, 0, 9, 9, 9, 9]) for p in "ab"]
    row = row_of(*pots, sown="2026-03-01T02:00:00")
    assert (row["first_after_days"], row["first_by_days"]) == (1.25, 5.25)
    assert row["mean_days"] == 3.25


def test_whose_times_are_told():
    assert row_of(pot("a", 4))["times_of"] == "pot"
    assert row_of(pot("a", 4), seeds_per_cell=3)["times_of"] == "seed"


SECOND = [0, 0, 0, 0, 2, 2, 2, 2] + [2] * 16


def test_two_seedlings_seen_before_the_pot_was_lifted_both_count_from_their_own_photo():
    """Both are up at the fifth photo; the pot is out in the next one and back after that."""
    rows = out_in(pot("a", 4, seedlings=np.array(SECOND)), [5])
    tray = tray_of("a", each={"sowing": "s"}, sowing=[{"name": "s", "seeds_per_cell": 2}])
    events = judge(rows, tray).events.query("plant == ''")
    assert list(zip(events["event"], events["time"], events["known"], strict=True)) == [
        ("first up", clock(24), clock(42)),
        ("done", clock(24), clock(42)),
    ]


def test_a_seedling_counted_first_when_its_pot_was_back_came_up_since_it_was_last_seen():
    counts = np.array([0, 0, 0, 0, 1, 1, 1, 1, 0, 0, 2] + [2] * 13)
    rows = out_in(pot("a", 4, seedlings=counts), [8, 9])
    row = row_of(rows, seeds_per_cell=2)
    assert row["emerged"] == 2
    # Between photo 7 (42 h) and photo 10 (60 h), four days after sowing.
    assert row["spread_days"] == pytest.approx((42 + 60) / 48 - (18 + 24) / 48)


def test_a_pot_that_vanishes_for_good_after_its_three_photos_stays_counted():
    gone = pot("a", 4)
    gone.loc[7:, ["canopy_px", "canopy_mm2"]] = 0
    tray = tray_of("a", "b", each={"sowing": "s"}, sowing=[{"name": "s"}])
    events = judge(together(gone, pot("b", 9)), tray).events.query("plant == ''")
    assert list(events["event"]) == ["first up", "done"]


def test_more_seedlings_than_seeds_are_counted_as_all_and_the_pot_is_named():
    row = row_of(pot("a", 4, seedlings=3), pot("b", 4, seedlings=1), seeds_per_cell=2)
    assert (row["seeds"], row["emerged"]) == (4, 3)
    assert "more seedlings than seeds in a: check seeds_per_cell" in row["verdict"]
    assert "more seedlings" not in row_of(pot("a", 4, seedlings=3), seeds_per_cell=1, seedlings_per_seed=3)["verdict"]
