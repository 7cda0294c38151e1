"""What to do stays until it is done or said to be done, and comes back only with its cause."""

import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent / "growth"))
from seedling_tables import START, clock, every, plant_rows, together, tray_of, until

from sproutlapse.care import care_list
from sproutlapse.care_marks import item_named, open_since
from sproutlapse.growth.judge import judge
from sproutlapse.results import DiaryEntry

N = 40
H = every(6, N)


def care(table, tray, *diary):
    return care_list(table, judge(table, tray), tray, diary=diary)


def of(items, key):
    return [i for i in items if i.key.startswith(key + ":")]


def said_done(items, key, hours):
    (item,) = of(items, key)
    return [DiaryEntry(clock(hours), "done", cause, item.title) for cause in item.causes]


def lamp(*more, **settings):
    first = {"name": "left", "kind": "tube", "above_soil_mm": 150, **settings}
    return {"lamp": [first, *({"name": "left", "kind": "tube", **one} for one in more)], "each": {"lamp": "left"}}


def leggy(name, since=0):
    late = np.arange(N) >= since
    return plant_rows(name, H, np.full(N, 40.0), ratio=np.where(late, 7, 2.5), stem=np.where(late, 34, 12))


def test_a_leggy_plant_said_to_be_seen_to_is_not_told_of_again_though_its_stem_stays_long():
    table = leggy("A")
    items = care(table, tray_of("A"))
    assert not of(care(table, tray_of("A"), *said_done(items, "leggy", H[20])), "leggy")


def test_another_plant_that_turns_leggy_later_is_told_of_alone():
    table = together(leggy("A"), leggy("B", since=25))
    tray = tray_of("A", "B")
    marks = said_done(care(until(table, H[20]), tray), "leggy", H[20])
    (item,) = of(care(table, tray, *marks), "leggy")
    assert item.plants == ("B",)
    assert item.since == clock(H[25])


def test_a_cause_that_comes_back_brings_its_item_back():
    legs = np.zeros(N, bool)
    legs[2:10] = legs[28:] = True
    table = plant_rows("A", H, np.full(N, 40.0), ratio=np.where(legs, 7, 2.5), stem=np.where(legs, 34, 12))
    marks = said_done(care(until(table, H[9]), tray_of("A")), "leggy", H[9])
    assert not of(care(until(table, H[25]), tray_of("A"), *marks), "leggy")
    assert of(care(table, tray_of("A"), *marks), "leggy")


def test_a_cut_that_photos_show_closes_the_item_and_one_that_is_only_said_does_too():
    tray = tray_of("A", each={"habit": "grasslike", "trim_at_mm": 100, "trim_to_mm": 50})
    tall = np.where(np.arange(N) < 20, 60, 110.0)
    table = plant_rows("A", H, tall, canopy=tall, stem=np.nan)
    marks = said_done(care(table, tray), "trim", H[-1])
    assert not of(care(table, tray, *marks), "trim")
    cut = np.where(np.arange(N) < 30, tall, 50.0)
    assert not of(care(plant_rows("A", H, cut, canopy=cut, stem=np.nan), tray), "trim")
    again = np.where(np.arange(N) < 36, cut, 112.0)
    early = [replace(mark, time=clock(H[25])) for mark in marks]
    assert of(care(plant_rows("A", H, again, canopy=again, stem=np.nan), tray, *early), "trim")


def test_leaves_that_sink_for_the_night_do_not_close_the_item_of_a_cut():
    tray = tray_of("A", each={"habit": "grasslike", "trim_at_mm": 100, "trim_to_mm": 50})
    height = np.where(np.arange(N) % 4 == 3, 96.0, 104.0)
    height[:10] = 60
    height[-1] = 96
    (item,) = of(care(plant_rows("A", H, height, stem=np.nan), tray), "trim")
    assert item.since == clock(H[12])


def test_a_lamp_said_to_be_raised_but_not_written_down_is_asked_for_and_no_distance_is_told():
    table = plant_rows("A", H, np.full(N, 90.0))
    tray = tray_of("A", **lamp())
    marks = said_done(care(table, tray), "lamp", H[30])
    items = care(table, tray, *marks)
    assert not of(items, "lamp")
    (item,) = of(items, "lamp height")
    assert "above_soil_mm" in item.remedy
    assert "not known" in item.reason
    # Written down, and high enough: nothing is left to do; written down, and too near again: told anew.
    assert not care(table, tray_of("A", **lamp({"above_soil_mm": 190, "since": clock(H[30] + 1)})), *marks)
    assert of(care(table, tray_of("A", **lamp({"above_soil_mm": 155, "since": clock(H[30] + 1)})), *marks), "lamp")


def test_one_photo_does_not_end_a_lamp_that_is_too_near_and_three_do():
    height = np.full(N, 90.0)
    height[-1:] = 60
    assert of(care(plant_rows("A", H, height), tray_of("A", **lamp())), "lamp")
    height[-3:] = 60
    assert not of(care(plant_rows("A", H, height), tray_of("A", **lamp())), "lamp")


def test_the_time_at_which_an_item_ends_by_itself_stands_beside_it():
    table = plant_rows("A", H, np.where(np.arange(N) < 34, 0, 5.0))
    tray = tray_of("A", each={"sowing": "s"}, sowing=[{"name": "s"}])
    (item,) = of(care(table, tray), "light")
    assert item.until == (START + timedelta(hours=H[36]) + timedelta(days=3)).isoformat()
    assert "This line ends on 13 March, 08:00" in item.remedy
    assert not of(care(table, tray, *said_done([item], "light", H[-1])), "light")


def test_a_pot_that_comes_up_after_the_others_went_to_the_light_goes_there_too():
    table = together(
        plant_rows("A", H, np.where(np.arange(N) < 30, 0, 5.0)), plant_rows("B", H, np.where(np.arange(N) < 35, 0, 5.0))
    )
    tray = tray_of("A", "B", each={"sowing": "s"}, sowing=[{"name": "s"}])
    marks = said_done(care(until(table, H[33]), tray), "light", H[33])
    (item,) = of(care(table, tray, *marks), "light")
    assert item.plants == ("B",)


def test_names_to_type_are_short_plain_and_differ():
    items = care(together(leggy("Pot 1"), plant_rows("B", H, np.full(N, 90.0))), tray_of("Pot 1", "B", **lamp()))
    assert [item.id for item in items] == ["lamp-left", "leggy-pot-1"]
    assert item_named(items, "LEGGY-pot-1") is items[1]
    assert item_named(items, "lamp") is items[0]
    assert item_named(items, "l") is None
    assert item_named(items, "") is None


@pytest.mark.parametrize(
    ("said", "since"),
    [("000", None), ("0011", None), ("00111", 2), ("01110", 1), ("011100", 1), ("0111000", None), ("011100?0", None),
     ("0?1?1?1", 2), ("0111000111", 7)],
)  # fmt: skip
def test_a_state_begins_and_ends_with_three_photos(said, since):
    holds, known = np.array([c == "1" for c in said]), np.array([c != "?" for c in said])
    assert open_since(holds, known, np.arange(len(said), dtype=float)) == since


def test_marks_of_the_past_change_nothing_where_the_list_is_empty():
    table = plant_rows("A", H, np.full(N, 40.0))
    assert care(table, tray_of("A"), DiaryEntry(clock(5), "done", "leggy:Z", "x")) == ()
