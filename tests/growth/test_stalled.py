"""Sowings that stay partial: how likely more are, when that is said, and how often it is wrong."""

import math
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from seedling_tables import START, every, plant_rows, together, tray_of, until

from sproutlapse.growth.judge import judge
from sproutlapse.growth.more_to_come import UNLIKELY, chance_of_more, chance_words

INF = math.inf
SCRIPTS = Path(__file__).resolve().parents[2] / "scripts"


def chance(up, missing, day, **keys):
    """`up` came up in the quarter of a day before these days; so many had not by `day`."""
    by = np.array([*up, *[INF] * missing], dtype=float)
    return chance_of_more(np.where(np.isfinite(by), by - 0.25, day), by, **keys)


def test_the_longer_nothing_new_comes_the_less_likely_more_are():
    told = [chance([8, 8.5, 9], 9, day, usual=(8, 8)) for day in (9, 11, 14, 19, 24, 39)]
    assert told == sorted(told, reverse=True)
    assert told[0] > 0.5
    assert told[-1] < UNLIKELY


def test_where_all_are_up_none_come_and_where_none_is_nothing_is_told():
    assert chance([8, 9], 0, 10) == 0
    assert chance([], 5, 10) == 1


def test_more_missing_make_one_more_likely():
    assert chance([8, 8.5, 9, 9.5], 2, 13) < chance([8, 8.5, 9, 9.5], 20, 13)


def test_what_came_unevenly_is_waited_for_longer():
    assert chance([6, 8, 11, 15], 4, 22) > chance([10, 10.25, 10.5, 11], 4, 18)


def test_a_slow_crop_is_waited_for_longer_than_a_fast_one():
    assert chance([5], 11, 8, usual=(5, 5)) < chance([5], 11, 8, usual=(15, 25))


def test_the_chance_agrees_with_the_whole_weighing_done_by_brute_force():
    # The same model drawn instead of summed: sowings from the beliefs beforehand, of which those alike are kept.
    rng = np.random.default_rng(5)
    n, draws = 6, 400_000
    spread = np.exp(math.log(0.25) + 0.6 * rng.normal(size=(draws, 1)))
    middle = math.log(1.2 * 8) + 0.4 * rng.normal(size=(draws, 1))
    late = rng.random((draws, n)) < 0.03
    scale = np.where(late, np.hypot(spread, 0.2 * math.pi / math.sqrt(3)), spread) * math.sqrt(3) / math.pi
    days = np.exp(middle + late * math.log(2) + scale * rng.logistic(size=(draws, n)))
    days[rng.random((draws, n)) >= rng.random((draws, 1))] = INF
    # Four are up, all between day 8 and day 11, and two had not come by day 14.
    alike = ((days > 8) & (days <= 11)).sum(axis=1) == 4
    alike &= (days > 14).sum(axis=1) == 2
    more = np.isfinite(np.where(days > 14, days, INF)).any(axis=1)
    by, after = np.array([11.0] * 4 + [INF] * 2), np.array([8.0] * 4 + [14.0] * 2)
    assert alike.sum() > 1000
    sd = math.sqrt(0.25 / alike.sum())
    assert chance_of_more(after, by, usual=(8, 8)) == pytest.approx(more[alike].mean(), abs=3 * sd)


@pytest.mark.parametrize(("value", "words"), [(0.2, "about 20 in 100"), (0.001, "less than 1 in 100")])
def test_chances_in_words(value, words):
    assert chance_words(value) == words


@pytest.fixture(scope="module")
def partial_sowings():
    sys.path.insert(0, str(SCRIPTS))
    try:
        import partial_sowings  # noqa: PLC0415
    finally:
        sys.path.remove(str(SCRIPTS))
    return partial_sowings


def test_made_up_sowings_are_seldom_called_wrongly(partial_sowings):
    # A few of each here; `scripts/partial_sowings.py` has 1,000.
    made = [one for world in partial_sowings.WORLDS for one in partial_sowings.told(world, 5, 7)]
    called = [one for one in made if not math.isnan(one.day)]
    assert len(called) > 20
    assert sum(one.wrong for one in called) <= 0.05 * len(called)


H = every(6, 140)  # 35 days


def shelf(born, **sowing):
    """Twelve pots of which some come up at these hours, sown as the photos begin."""
    names = [f"p{k}" for k in range(12)]
    hours = [*born, *[1e9] * (12 - len(born))]
    pots = [plant_rows(name, H, np.where(b <= H, 5 + 0.05 * (H - b), 0)) for name, b in zip(names, hours, strict=True)]
    keys = {"name": "s", "crop": "tomato", "sown": "2026-03-01T07:00:00", "soil_c": 24, **sowing}
    return together(*pots), tray_of(*names, each={"sowing": "s"}, sowing=[keys])


def test_three_of_twelve_are_said_to_be_all_once_and_early_enough():
    table, tray = shelf([150, 156, 168])
    got = judge(table, tray)
    (event,) = got.events[got.events["event"] == "few more"].to_dict("records")
    assert event["plant"] == ""
    assert event["detail"].startswith("s: 3 of 12 pots up, the last ")
    assert event["detail"].endswith("days ago: more is unlikely (about 4 in 100)")
    days = (pd.Timestamp(event["known"]) - pd.Timestamp(START)).total_seconds() / 86400
    assert 10 < days < 25
    row = got.sowings.iloc[0]
    assert row["more_chance"] < UNLIKELY
    assert row["verdict"].startswith("3 of 12 pots up")
    assert "the other 9 are overdue" in row["verdict"]
    assert row["verdict"].endswith("more is unlikely")


def test_before_that_the_verdict_tells_how_likely_more_are():
    table, tray = shelf([150, 156, 168])
    said = [judge(until(table, hours), tray).sowings.iloc[0]["verdict"] for hours in (180, 192, 264)]
    assert said[0] == "coming up: 3 of 12 pots up"
    assert said[2].startswith("coming up: 3 of 12 pots up, the last 4 days ago: that more come is about ")


def test_every_shorter_record_tells_the_same():
    table, tray = shelf([90, 94, 98, 102, 700])
    whole = judge(table, tray).events
    # A straggler on day 29: what was said of four stays, and of five it is said anew.
    assert list(whole["event"]).count("few more") == 2
    known = (pd.to_datetime(whole["known"]) - pd.Timestamp(START)).dt.total_seconds() / 3600
    for hours in H[::20]:
        told = judge(until(table, hours), tray).events
        pd.testing.assert_frame_equal(told, whole[known <= hours].reset_index(drop=True), check_dtype=False)


@pytest.mark.parametrize("keys", [{"needs": ["cold"]}, {"sown": None}, {"sown": "2026-03-20T07:00:00"}])
def test_nothing_is_told_of_seed_that_waits_for_cold_or_whose_date_is_not_known_or_wrong(keys):
    table, tray = shelf([150, 156, 168], **keys)
    got = judge(table, tray)
    assert "few more" not in set(got.events["event"])
    assert math.isnan(got.sowings.iloc[0]["more_chance"])
    if keys == {"needs": ["cold"]}:
        assert "overdue" not in set(got.events["event"])


def test_the_calendar_stands_last_in_the_table_but_for_one():
    table, tray = shelf([150])
    tray = tray.model_copy(
        update={"season": tray.season.model_copy(update={"plant_out": pd.Timestamp("2026-05-15").date()})}
    )
    got = judge(table, tray).sowings
    assert list(got.columns[-5:-1]) == ["expect_from_days", "expect_to_days", "more_chance", "sow_again_by"]
    assert got.iloc[0]["sow_again_by"] == "2026-04-10"
    assert got.iloc[0]["expect_to_days"] == pytest.approx(1 / (0.2 / 8 + 0.8 / 6))
