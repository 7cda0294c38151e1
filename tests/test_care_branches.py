"""What looks the same in a photo is not given one remedy, and none that could hurt in the wrong case."""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parent / "growth"))
from seedling_tables import clock, every, leaves, plant_rows, together, tray_of

from sproutlapse.care import care_list, scene_of
from sproutlapse.care_effect import effects
from sproutlapse.growth.judge import judge
from sproutlapse.results import DiaryEntry
from sproutlapse.tray import Tray

N = 40
H = every(6, N)


def care(table, tray, light=None):
    return care_list(table, judge(table, tray), tray, light=light)


def of(items, key):
    return [i for i in items if i.key.startswith(key + ":")]


def leggy(name="A", height=40.0):
    return plant_rows(name, H, np.full(N, height), ratio=7, stem=0.8 * height)


def lamp(**settings):
    return {"lamp": [{"name": "left", **settings}], "each": {"lamp": "left"}}


def light(least, most, days=4):
    return pd.DataFrame({"light_least_h": [least] * days, "light_most_h": [most] * days})


# ---------------------------------------- stretching by gap, hours, warmth, crowding
def test_a_lamp_far_above_is_the_one_cause_and_the_remedy():
    (item,) = of(care(leggy(), tray_of("A", **lamp(kind="tube", above_soil_mm=240))), "leggy")
    assert item.reason.endswith("Likely because the lamp hangs 200 mm above the tallest, and 75 mm would do.")
    assert "hours" not in item.remedy
    assert "cooler" not in item.remedy


def test_short_days_of_the_lamp_are_named_and_lengthened():
    tray = tray_of("A", **lamp(kind="tube", above_soil_mm=120))
    (item,) = of(care(leggy(), tray, light(9, 11)), "leggy")
    assert "the light is on for only 9 to 11 hours a day" in item.reason
    assert "14 to 16 hours a day instead of 9 to 11 hours" in item.remedy
    assert "ower the lamp" not in item.remedy


@pytest.mark.parametrize("settings", [{"kind": "tube", "above_soil_mm": 120}, {}])
def test_a_lamp_that_is_on_long_enough_is_not_told_to_be_on_for_14_to_16_hours(settings):
    (item,) = of(care(leggy(), tray_of("A", **lamp(**settings)), light(15, 16.5)), "leggy")
    assert "14 to 16" not in item.remedy
    assert "15 to 16 hours a day already: longer is not the remedy" in item.remedy
    assert "too few hours" not in item.reason


def test_a_sprout_under_a_lamp_that_runs_long_enough_is_not_told_the_hours():
    tray = tray_of("A", each={"sowing": "s"}, sowing=[{"name": "s"}])
    sprout = plant_rows("A", H, np.where(np.arange(N) < 34, 0, 8.0))
    assert "14 to 16" in of(care(sprout, tray), "light")[0].remedy
    assert "14 to 16" in of(care(sprout, tray, light(9, 11)), "light")[0].remedy
    assert "14 to 16" not in of(care(sprout, tray, light(15, 16)), "light")[0].remedy


def test_days_that_photos_do_not_tell_are_no_known_hours():
    (item,) = of(care(leggy(), tray_of("A"), light(4, 20)), "leggy")
    assert "Give 14 to 16 hours of light a day." in item.remedy


def test_a_plant_that_stands_on_the_mat_comes_off_it():
    (item,) = of(care(leggy(), tray_of("A", each={"place": "heat mat, left"})), "leggy")
    assert "by tray.toml A still stands on the heat mat" in item.reason
    assert "Take A off the heat mat." in item.remedy


def test_a_plant_that_was_said_to_be_taken_off_the_mat_is_not_said_to_stand_on_it():
    tray = tray_of("A", each={"place": "mat", "sowing": "s"}, sowing=[{"name": "s", "under_light": True}])
    done = [DiaryEntry(clock(0), "done", "cover:s", "Cover off: s")]
    table = leggy()
    (item,) = of(care_list(table, judge(table, tray), tray, diary=done), "leggy")
    assert "still stands on the heat mat" not in item.reason


def test_leggy_plants_that_touch_are_given_room():
    plants = [{"name": n, "box_px": [150 * k, 0, 150 * k + 100, 300], "habit": "broadleaf"} for k, n in enumerate("AB")]
    tray = Tray.model_validate({"view": {"from": "side"}, "plant": plants})
    table = together(*(leggy(n).assign(width_mm=60.0) for n in "AB"))
    (item,) = of(care(table, tray), "leggy")
    assert "stand so near that their leaves touch" in item.reason
    assert "Move the pots apart" in item.remedy


def test_leggy_plants_in_rows_of_depth_do_not_crowd_each_other():
    plants = [
        {"name": n, "box_px": [10 * k, 0, 10 * k + 100, 300], "habit": "broadleaf", "behind_mm": 150.0 * k}
        for k, n in enumerate("AB")
    ]
    table = together(*(leggy(n).assign(width_mm=60.0) for n in "AB"))
    (item,) = of(care(table, Tray.model_validate({"view": {"from": "side"}, "plant": plants})), "leggy")
    assert "touch" not in item.reason + item.remedy


def test_no_more_than_two_causes_are_named():
    plants = [
        {"name": n, "box_px": [150 * k, 0, 150 * k + 100, 300], "habit": "broadleaf", "lamp": "left", "place": "mat"}
        for k, n in enumerate("AB")
    ]
    lamps = [{"name": "left", "kind": "tube", "above_soil_mm": 240}]
    tray = Tray.model_validate({"view": {"from": "side"}, "plant": plants, "lamp": lamps})
    table = together(*(leggy(n).assign(width_mm=60.0) for n in "AB"))
    (item,) = of(care(table, tray, light(9, 11)), "leggy")
    assert item.reason.count("because") == 2


def faded(name):
    """Leggy, and paler since day 7."""
    late = np.arange(N) >= 28
    rows = plant_rows(name, H, np.full(N, 40.0), ratio=7, stem=32)
    return leaves(rows, hue=125, strength=np.where(late, 0.35, 0.6), tone=np.where(late, 62.0, 45.0))


def test_no_lamp_is_lowered_over_leaves_that_turn_paler():
    green = [leaves(plant_rows(n, H, np.full(N, 40.0)), hue=125) for n in "BC"]
    table = together(faded("A"), *green)
    table = table.assign(light_red=1.0, light_blue=1.0)
    tray = tray_of("A", "B", "C", **lamp(kind="tube", above_soil_mm=240))
    items = care(table, tray)
    assert of(items, "paler")
    assert not any("ower the lamp" in i.remedy or "on a block" in i.remedy for i in items)
    (item,) = of(items, "leggy")
    assert "leave the lamp “left” where it hangs" in item.remedy


def test_one_leggy_plant_among_sturdy_ones_is_not_laid_on_the_lamp():
    table = together(leggy("A"), *(plant_rows(n, H, np.full(N, 40.0)) for n in "BC"))
    (item,) = of(care(table, tray_of("A", "B", "C", **lamp(kind="tube", above_soil_mm=240))), "leggy")
    assert "Others under the same light are sturdy" in item.reason
    assert "hangs" not in item.reason


# ---------------------------------------- one tall plant, a tray that leans
def test_one_tall_plant_moves_or_the_others_are_stood_on_a_block_of_so_many_mm():
    table = together(*(plant_rows(n, H, np.full(N, h)) for n, h in (("A", 40.0), ("B", 90.0), ("C", 53.0))))
    (item,) = of(care(table, tray_of("A", "B", "C", **lamp(kind="tube", above_soil_mm=150))), "lamp")
    assert (
        "Only B is too near: move it to the edge or under another lamp before you raise the lamp for all" in item.remedy
    )
    assert "stand the others on a block of 35 mm" in item.remedy
    assert item.remedy.index("block") < item.remedy.index("165 mm above the soil")


def leaned(*degrees, **more):
    names = "ABCD"[: len(degrees)]
    rows = [plant_rows(n, H, np.full(N, 40.0)).assign(lean_deg=float(d)) for n, d in zip(names, degrees, strict=True)]
    return of(care(together(*rows), tray_of(*names, **more)), "lean")


def test_a_tray_that_leans_has_each_pot_turned_in_place():
    (item,) = leaned(18, 20, 16, 25)
    assert "lean to the right" in item.title
    assert "Turn each pot half round in its own place" in item.remedy
    assert "Do not turn the tray" in item.remedy
    assert item.number == "The middle one leans by 19 degrees"
    assert "left" in leaned(-18, -20, -16, -25)[0].title


@pytest.mark.parametrize("degrees", [(25, 0, -2, 1), (18, -20, 16, -25), (18, 20), (9, 8, 10, 9)])
def test_one_that_leans_or_some_to_either_side_turn_nothing(degrees):
    assert not leaned(*degrees)


def test_leaves_that_reach_to_one_side_for_a_day_are_no_lean():
    rows = [plant_rows(n, H, np.full(N, 40.0)).assign(lean_deg=np.where(H[-1] - 20 < H, 20.0, -6.0)) for n in "ABCD"]
    assert not of(care(together(*rows), tray_of(*"ABCD")), "lean")


def test_blades_and_trays_from_above_do_not_lean():
    assert not leaned(18, 20, 16, 25, each={"habit": "grasslike"})
    assert not leaned(18, 20, 16, 25, view={"from": "above"})


# ---------------------------------------- down
def test_blades_that_collapse_get_the_one_careful_remedy_and_are_not_cut():
    height = np.where(np.arange(N) < 30, 100.0, 20.0)
    table = plant_rows("A", H, height, canopy=300.0, stem=np.nan)
    items = care(table, tray_of("A", each={"habit": "grasslike", "trim_at_mm": 90, "trim_to_mm": 50}))
    (item,) = of(items, "fallen")
    assert item.remedy.startswith("Lift the pot. Light and dry: water from below. Heavy: do not water, give air.")
    assert "A photo cannot tell which" in item.remedy
    assert item.until
    assert not of(items, "trim")


# ---------------------------------------- what came of it
def course(name, before, after, at=20, wobble=0.0):
    steps = np.where(np.arange(N) < at, before, after) * 6 / 24
    shake = wobble * np.sin(1.7 * np.arange(N) + ord(name))
    return plant_rows(name, H, 20 + np.cumsum(steps) + shake)


def came_of(*rows, treated="AB", **parts):
    names = [r["plant"].iloc[0] for r in rows]
    tray = tray_of(*names, **{"each": {"sowing": "s"}, "sowing": [{"name": "s", "under_light": True}], **parts})
    table = together(*rows)
    diary = [DiaryEntry(clock(H[20]), "done", f"leggy:{n}", "Leggy: A and B") for n in treated]
    return effects(scene_of(table, judge(table, tray), tray, diary=diary), diary)


def test_an_effect_is_claimed_only_against_plants_left_as_they_were():
    slower = [course("A", 7, 4), course("B", 7.2, 4.1)]
    (alone,) = came_of(*slower)
    assert alone.startswith("Since then")
    assert "went from 7.1 to 4.0 mm a day" in alone
    assert "too few were left as they were" in alone
    (beside,) = came_of(*slower, course("C", 7, 7), course("D", 7.1, 7))
    assert beside.startswith("Since “Leggy: A and B” was done on 6 March")
    assert "more than chance would make" in beside


def test_growth_that_falls_in_all_alike_is_no_effect():
    all_slower = [
        course(n, b, a, wobble=0.3) for n, b, a in zip("ABCD", (7, 7.4, 7, 6.8), (4, 4.5, 4.2, 3.8), strict=True)
    ]
    (told,) = came_of(*all_slower)
    assert told.startswith("Since then")
    assert "chance may make such a difference" in told


def test_plants_of_another_sowing_are_no_measure():
    plants = [
        {"name": n, "box_px": [0, 0, 9, 9], "habit": "broadleaf", "sowing": s}
        for n, s in zip("ABCD", "sstt", strict=True)
    ]
    tray = Tray.model_validate({"plant": plants, "sowing": [{"name": "s"}, {"name": "t"}]})
    table = together(course("A", 7, 4), course("B", 7.2, 4.1), course("C", 7, 7), course("D", 7.1, 7))
    diary = [DiaryEntry(clock(H[20]), "done", f"leggy:{n}", "Leggy: A and B") for n in "AB"]
    (told,) = effects(scene_of(table, judge(table, tray), tray, diary=diary), diary)
    assert "too few were left" in told


def test_a_lamp_changed_in_the_tray_is_an_act_and_its_done_mark_no_second_one():
    lamps = [{"name": "left", "above_soil_mm": 300}, {"name": "left", "above_soil_mm": 200, "since": clock(H[20])}]
    plants = [{"name": n, "box_px": [0, 0, 9, 9], "habit": "broadleaf", "sowing": "s", "lamp": "left"} for n in "AB"]
    tray = Tray.model_validate({"plant": plants, "lamp": lamps, "sowing": [{"name": "s"}]})
    table = together(course("A", 7, 4), course("B", 7.2, 4.1))
    diary = [DiaryEntry(clock(H[21]), "done", "lamp:left", "Too near")]
    (told,) = effects(scene_of(table, judge(table, tray), tray, diary=diary), diary)
    assert "the lamp “left” was changed" in told


def test_nothing_is_told_a_day_after_it_was_done():
    rows = [course("A", 7, 4, at=37), course("B", 7, 4, at=37)]
    tray = tray_of("A", "B")
    table = together(*rows)
    diary = [DiaryEntry(clock(H[37]), "done", "leggy:A", "Leggy: A")]
    assert effects(scene_of(table, judge(table, tray), tray, diary=diary), diary) == ()
