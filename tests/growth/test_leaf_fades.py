"""Yellower or paler is said of one plant against its own past, with its doubt; what all plants share is the light."""

import numpy as np
import pandas as pd
import pytest
from seedling_tables import clock, every, leaves, plant_rows, together, tray_of

from sproutlapse.care import care_list
from sproutlapse.growth.judge import judge

N = 48
H = every(6, N)
NAMES = ("A", "B", "C")
GREEN, PURPLE = 134.0, 5.0
TRAY = tray_of(*NAMES)
ROW = 24


def after(row: int, change: float, over: int = 1) -> np.ndarray:
    """Nought before a photo, then a change that comes within `over` photos and stays."""
    return change * np.clip((np.arange(N) - row + 1) / over, 0, 1)


def shelf(red: object = 1.0, blue: object = 1.0, **colours: dict[str, object]) -> pd.DataFrame:
    """Three plants of one green; what is said of one of them is otherwise."""
    rng = np.random.default_rng(7)
    rows = []
    for name in NAMES:
        own = {"hue": GREEN, "strength": 0.6, "tone": 45.0, **colours.get(name, {})}
        own["hue"] = np.asarray(own["hue"]) + rng.normal(0, 0.8, N)
        lit = {"light_red": np.broadcast_to(np.asarray(red, float), N), "light_blue": np.broadcast_to(blue, N)}
        rows.append(leaves(plant_rows(name, H, np.full(N, 30.0)), **own).assign(**lit))
    return together(*rows)


def told(table: pd.DataFrame) -> list[tuple[str, str]]:
    events = judge(table, TRAY).events.query("event in ('yellower', 'paler')")
    return [tuple(row) for row in events[["plant", "event"]].to_numpy()]


def test_leaves_that_keep_their_colour_are_not_mentioned():
    assert told(shelf()) == []


def test_a_plant_that_turns_yellow_is_told_with_the_doubt_of_it_within_two_days():
    table = shelf(A={"hue": GREEN - after(ROW, 14)})
    events = judge(table, TRAY).events.query("event == 'yellower'")
    assert list(events["plant"]) == ["A"]
    assert "give or take" in events["detail"].iloc[0] and "degrees" in events["detail"].iloc[0]
    assert clock(H[ROW]) <= events["time"].iloc[0] <= events["known"].iloc[0] <= clock(H[ROW] + 48)


def test_a_plant_that_loses_its_colour_is_paler():
    pale = {"tone": 45.0 + after(ROW, 16, 8), "strength": 0.6 - after(ROW, 0.25, 8)}
    assert told(shelf(B=pale)) == [("B", "paler")]


def test_a_purple_plant_can_turn_pale_too():
    pale = {"hue": PURPLE, "tone": 30.0 + after(ROW, 16, 8), "strength": 0.4 - after(ROW, 0.2, 8)}
    assert told(shelf(B=pale)) == [("B", "paler")]


def test_a_leaf_that_only_stands_in_more_light_is_not_paler():
    assert told(shelf(B={"tone": 45.0 + after(ROW, 16)})) == []


@pytest.mark.parametrize("start", [0.0, 40.0])
def test_purple_when_young_and_green_later_is_no_trouble(start: float):
    grown = np.clip((np.arange(N) - 10) / 20, 0, 1)
    assert told(shelf(A={"hue": start + (GREEN - start) * grown})) == []


def test_young_leaves_that_are_yellow_first_and_green_later_are_no_trouble():
    assert told(shelf(A={"hue": 110.0 + np.clip(np.arange(N) - 8, 0, 20)})) == []


def test_what_all_plants_share_is_the_light():
    other = {"hue": GREEN - after(ROW, 14)}
    assert told(shelf(A=other, B=other, C=other)) == []


def test_two_of_three_plants_that_turn_yellow_are_both_told():
    other = {"hue": GREEN - after(ROW, 14, 10)}
    assert told(shelf(A=other, C=other)) == [("A", "yellower"), ("C", "yellower")]


def test_nothing_is_compared_across_another_lamp():
    warm = 1 + after(ROW, 0.3)
    assert told(shelf(red=warm, blue=1 / warm, A={"hue": GREEN - after(ROW, 14)})) == []


def test_under_the_new_lamp_a_change_is_seen_again():
    warm = 1 + after(8, 0.3)
    assert told(shelf(red=warm, blue=1 / warm, A={"hue": GREEN - after(ROW, 14)})) == [("A", "yellower")]


def test_a_yellow_hour_is_no_yellow_plant():
    hue = np.full(N, GREEN)
    hue[ROW] -= 25
    assert told(shelf(A={"hue": hue})) == []


def test_a_change_that_drowns_in_the_scatter_is_not_told():
    rng = np.random.default_rng(3)
    assert told(shelf(A={"hue": GREEN - after(ROW, 7) + rng.normal(0, 14, N)})) == []


def test_what_is_left_of_a_cut_plant_is_not_compared_with_the_leaves_it_had():
    table = shelf(A={"hue": GREEN - after(ROW, 14)})
    own = table["plant"].eq("A") & (table["elapsed_h"] >= H[ROW])
    table.loc[own, ["height_mm", "height_px"]] *= 0.4
    table.loc[own, ["canopy_mm2", "canopy_px", "leaf_mm2"]] *= 0.3
    assert "trimmed" in set(judge(table, TRAY).events["event"])
    assert told(table) == []


def test_without_colours_in_the_table_nothing_is_told():
    assert told(shelf().drop(columns=["leaf_l", "leaf_a", "leaf_b"])) == []


def test_one_photo_a_day_is_enough():
    table = shelf(A={"hue": GREEN - after(ROW, 14)})
    table["elapsed_h"] *= 4
    table["time"] = [clock(h) for h in table["elapsed_h"]]
    assert told(table) == [("A", "yellower")]


def test_the_advice_names_causes_and_says_that_a_photo_cannot_tell():
    table = shelf(A={"hue": GREEN - after(ROW, 14)})
    items = [item for item in care_list(table, judge(table, TRAY), TRAY) if item.key.startswith("yellower")]
    assert [(item.urgency, item.plants) for item in items] == [("this week", ("A",))]
    assert "a photo cannot tell which" in items[0].reason and "give or take" in items[0].number


def test_the_advice_ends_when_the_leaves_are_green_again():
    hue = GREEN - after(12, 14) + after(30, 14)
    table = shelf(A={"hue": hue})
    assert told(table) == [("A", "yellower")]
    assert not [item for item in care_list(table, judge(table, TRAY), TRAY) if item.key.startswith("yellower")]
