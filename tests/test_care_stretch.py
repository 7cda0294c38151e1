"""Stretched plants: what to try for one among many, without a lamp written down, and before its habit is told."""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent / "growth"))
from seedling_tables import every, plant_rows, together, tray_of

from sproutlapse.care import care_list
from sproutlapse.growth.judge import judge

N = 24
H = every(6, N)


def care(table, tray):
    return care_list(table, judge(table, tray), tray)


def of(items, key):
    return [i for i in items if i.key.startswith(key + ":")]


def leggy(name, height=40.0):
    return plant_rows(name, H, np.full(N, height), ratio=7, stem=0.8 * height)


def lamp(**settings):
    return {"lamp": [{"name": "left", **settings}], "each": {"lamp": "left"}}


def sturdy(name, height=40.0):
    return plant_rows(name, H, np.full(N, height))


def test_one_leggy_plant_among_sturdy_ones_moves_and_the_lamp_stays():
    table = together(leggy("A"), sturdy("B"), sturdy("C"), sturdy("D"))
    (item,) = of(care(table, tray_of("A", "B", "C", "D", **lamp(kind="tube", above_soil_mm=240))), "leggy")
    assert "Only A of 4 under the lamp “left”" in item.remedy
    assert "ower the lamp" not in item.remedy
    # 240 mm to the lamp, 75 to be kept clear, 40 of plant.
    assert "on a block, by no more than 20 mm a day and 125 mm in all" in item.remedy


def test_several_leggy_plants_are_a_matter_of_the_lamp():
    table = together(leggy("A"), leggy("B"), sturdy("C"), sturdy("D"))
    (item,) = of(care(table, tray_of("A", "B", "C", "D", **lamp(kind="tube", above_soil_mm=240))), "leggy")
    assert "Lower the lamp “left”" in item.remedy


def test_no_distance_is_advised_without_the_kind_of_a_lamp():
    (item,) = of(care(leggy("A"), tray_of("A")), "leggy")
    assert "nearer" not in item.remedy
    assert "where the light is strongest" in item.remedy
    assert "[[lamp]]" in item.remedy
    (item,) = of(care(leggy("A"), tray_of("A", **lamp(above_soil_mm=400))), "leggy")
    assert "ower the lamp" not in item.remedy
    assert "Write kind (or keep_clear_mm)" in item.remedy
    (item,) = of(care(leggy("A"), tray_of("A", **lamp(kind="tube"))), "leggy")
    assert "above_soil_mm of the lamp “left”" in item.remedy


def test_the_one_leggy_plant_without_a_lamp_in_the_tray_goes_to_the_middle():
    (item,) = of(care(together(leggy("A"), sturdy("B"), sturdy("C")), tray_of("A", "B", "C")), "leggy")
    assert "Only A of 3 is stretched: move it under the middle" in item.remedy
    assert "Bring the light nearer" not in item.remedy


def test_a_long_stem_of_an_unknown_crop_gets_the_common_practice():
    (item,) = of(care(leggy("A"), tray_of("A")), "leggy")
    assert "not lettuce or celery (common practice" in item.remedy
    assert "off the heat mat if they stand on one" in item.remedy


def test_two_that_shoot_up_are_held_against_the_rest():
    heights = {"A": 40, "B": 36, "C": 18, "D": 19, "E": 21}
    table = together(*(plant_rows(n, H, np.full(N, float(h))) for n, h in heights.items()))
    (item,) = of(care(table.assign(habit=""), tray_of(*heights)), "shooting up")
    assert item.plants == ("A", "B")
    assert item.number.endswith("the others 18 to 21 mm")


def shoots(height, habit=""):
    """A of a height, B to D of 18 to 21 mm, their habit not told."""
    table = together(
        *(plant_rows(n, H, np.full(N, float(h))) for n, h in zip("ABCD", (height, 18, 19, 21), strict=True))
    )
    return of(care(table.assign(habit=habit), tray_of("A", "B", "C", "D")), "shooting up")


def test_a_plant_much_taller_than_the_others_is_worth_a_look_before_its_habit_is_told():
    (item,) = shoots(30)
    assert item.urgency == "today"
    assert item.plants == ("A",)
    assert item.number == "A is 30 mm tall, give or take 2, the others 18 to 21 mm"
    assert not shoots(26)  # less than 1.4 times 19 mm
    assert not shoots(30, habit="broadleaf")


def test_a_small_plant_or_one_with_a_single_neighbour_is_not_said_to_shoot_up():
    small = together(*(plant_rows(n, H, np.full(N, float(h))) for n, h in zip("ABC", (24, 8, 9), strict=True)))
    assert not of(care(small.assign(habit=""), tray_of("A", "B", "C")), "shooting up")
    two = together(plant_rows("A", H, np.full(N, 60.0)), plant_rows("B", H, np.full(N, 20.0)))
    assert not of(care(two.assign(habit=""), tray_of("A", "B")), "shooting up")
