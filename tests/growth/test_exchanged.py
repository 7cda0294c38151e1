"""Pots that changed places, and a seedling put in another's place: said as what it is, and taken for no fall."""

import numpy as np
import pandas as pd
import pytest
from seedling_tables import clock, every, plant_rows, together, tray_of, until, without_scale

from sproutlapse.care import care_list
from sproutlapse.growth.judge import judge

N = 32
H = every(6, N)
AGE = np.maximum(H - 18, 0) / 24
TALL, SHORT = np.where(AGE > 0, 12 * AGE, 0), np.where(AGE > 0, 4.5 * AGE, 0)
SWAP = 20


def pots(swap=SWAP):
    """A tall pot and a short one that change places, and one that stays."""
    there = np.arange(N) < swap
    parts = [
        (name, np.where(there, a, b)) for name, a, b in (("A", SHORT, TALL), ("B", TALL, SHORT), ("C", SHORT, SHORT))
    ]
    return together(*(plant_rows(n, H, h, canopy=20 + 4 * h, stem=0.4 * h, ratio=3.0) for n, h in parts))


TRAY = tray_of("A", "B", "C", each={"sowing": "s"}, sowing=[{"name": "s"}])


def of_kind(events, *kinds):
    own = events[events["event"].isin(kinds)]
    return list(zip(own["plant"], own["event"], own["time"], own["known"], strict=True))


@pytest.mark.parametrize("table", [pots(), without_scale(pots())], ids=["mm", "pixels"])
def test_two_pots_that_changed_places_are_said_to_have_and_none_to_have_fallen(table):
    events = judge(table, TRAY).events
    said, known = clock(H[SWAP]), clock(H[SWAP + 1])
    assert of_kind(events, "exchanged") == [("A", "exchanged", said, known), ("B", "exchanged", said, known)]
    assert of_kind(events, "flopped", "collapsed", "trimmed") == []
    assert "changed places with B" in events.query("event == 'exchanged'")["detail"].iloc[0]


def test_growth_is_not_read_across_an_exchange_nor_is_anybody_told_to_lift_the_pot():
    got = judge(pots(), TRAY)
    plants = got.plants.set_index("plant")
    assert plants.loc["A", "growth_mm_per_day"] == pytest.approx(12, abs=0.5)
    assert plants.loc["B", "growth_mm_per_day"] == pytest.approx(4.5, abs=0.5)
    assert plants.loc["B", "usable"]
    assert not [item for item in care_list(pots(), got, TRAY) if item.key.startswith("fallen")]


def test_it_is_told_at_the_third_photo_and_stays_told():
    whole = judge(pots(), TRAY).events
    known = (pd.to_datetime(whole["known"]) - pd.Timestamp(clock(0))).dt.total_seconds() / 3600
    for hours in H:
        told = judge(until(pots(), hours), TRAY).events
        pd.testing.assert_frame_equal(told, whole[known <= hours].reset_index(drop=True), check_dtype=False)


def test_another_seedling_in_the_same_place_is_asked_about():
    height = np.where(np.arange(N) < SWAP, SHORT, TALL)
    table = plant_rows("A", H, height, canopy=20 + 4 * height, stem=0.4 * height)
    (event,) = judge(table, tray_of("A")).events.query("event == 'exchanged'").itertuples()
    assert (
        event.detail
        == "at once from 18 to 51 mm: no seedling grows so; was another one put here, or was it measured short before?"
    )


def test_a_leaf_that_is_seen_otherwise_over_the_same_stem_is_no_other_plant():
    height = np.where(np.arange(N) < SWAP, SHORT, TALL)
    table = plant_rows("A", H, height, canopy=20 + 4 * height, stem=np.where(height > 0, 5.0, 0))
    assert of_kind(judge(table, tray_of("A")).events, "exchanged") == []


def test_a_wilted_plant_that_stands_up_again_is_the_same_plant():
    height = np.where((np.arange(N) >= 18) & (np.arange(N) < 23), 0.4, 1.0) * TALL
    table = plant_rows("A", H, height, canopy=20 + 4 * TALL)
    assert of_kind(judge(table, tray_of("A")).events, "exchanged") == []


def test_days_without_a_photo_are_time_to_grow_in():
    kept = np.r_[0:12, 24:N]
    table = plant_rows("A", H[kept], TALL[kept], canopy=20 + 4 * TALL[kept], stem=0.4 * TALL[kept])
    assert of_kind(judge(table, tray_of("A")).events, "exchanged") == []


def test_a_tray_turned_end_for_end_is_asked_about():
    heights = {"A": (30.0, 100.0), "B": (45.0, 75.0), "C": (75.0, 45.0), "D": (100.0, 30.0)}
    rows = [plant_rows(name, H, np.where(H < 60, *two) + 0.05 * H) for name, two in heights.items()]
    told = judge(together(*rows), tray_of(*heights)).events
    asked = told[told["event"] == "exchanged"]
    assert list(asked["plant"]) == ["A", "B", "C", "D"]
    assert asked["detail"].str.contains("turned end for end").all()


def test_a_rise_after_one_photo_that_was_measured_too_short_is_no_other_plant():
    height = 12 + 0.12 * H
    height[10] = 0.6 * height[10]
    assert of_kind(judge(plant_rows("A", H, height), tray_of("A")).events, "exchanged") == []
