"""What to do: the right item in the right case, and no remedy that could hurt in the wrong one."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent / "growth"))
from seedling_tables import clock, every, plant_rows, together, tray_of

from sproutlapse.care import care_list
from sproutlapse.growth.judge import judge
from sproutlapse.report.words import amount

N = 24
H = every(6, N)
STEADY = np.full(N, 40.0)


def care(table, tray, now_text=""):
    return care_list(table, judge(table, tray), tray, now_text=now_text)


def of(items, key):
    return [i for i in items if i.key.startswith(key + ":")]


def sprouted(name="A", first=16):
    return plant_rows(name, H, np.where(np.arange(N) < first, 0, 3 + np.arange(N)))


def leggy(name="A", height=40.0):
    return plant_rows(name, H, np.full(N, height), ratio=7, stem=0.8 * height)


def lamp(**settings):
    return {"lamp": [{"name": "left", **settings}], "each": {"lamp": "left"}}


# ---------------------------------------- sprouted, not under light
def test_a_fresh_sprout_is_the_first_thing_to_do():
    table = together(sprouted("A"), leggy("B"))
    items = care(table, tray_of("A", "B", each={"sowing": "s"}, sowing=[{"name": "s"}]))
    assert items[0].key.startswith("light:")
    assert items[0].urgency == "now"
    assert items[0].title == "Under the light now: s"


def test_a_sowing_under_light_from_the_start_is_not_told_to_go_there():
    tray = tray_of("A", each={"sowing": "s"}, sowing=[{"name": "s", "under_light": True}])
    assert not of(care(sprouted(), tray), "light")


def test_sprouts_of_one_sowing_are_one_item():
    tray = tray_of("A", "B", each={"sowing": "s"}, sowing=[{"name": "s"}])
    (item,) = of(care(together(sprouted("A"), sprouted("B")), tray), "light")
    assert item.plants == ("A", "B")


def test_the_item_that_no_photo_can_close_ends_by_itself():
    tray = tray_of("A", each={"sowing": "s"}, sowing=[{"name": "s"}])
    assert of(care(sprouted(), tray), "light")
    assert not of(care(sprouted(), tray, now_text=clock(24 * 14)), "light")


def test_no_cover_is_taken_off_where_no_sowing_is_written_down():
    assert not of(care(sprouted(), tray_of("A")), "light")


def test_each_sprout_has_its_own_hours_and_the_line_to_write_is_named():
    tray = tray_of("A", "B", "C", each={"sowing": "s"}, sowing=[{"name": "s"}])
    table = together(sprouted("A", 14), sprouted("B", 16), sprouted("C", 16))
    (item,) = of(care(table, tray), "light")
    assert item.number == "A up for 54 hours; B and C up for 42 hours"
    assert 'under_light = true into tray.toml, below [[sowing]] and name = "s"' in item.remedy


# ---------------------------------------- stretching
def test_a_leggy_plant_is_told_with_two_causes_where_nothing_speaks_for_one_and_with_its_height():
    (item,) = of(care(leggy(), tray_of("A")), "leggy")
    assert item.number == "A is 40 mm tall, give or take 2"
    assert "Either too little light" in item.reason
    assert "too warm" in item.reason
    assert "cannot tell which" in item.reason


def test_a_lamp_far_above_its_gap_is_lowered_in_steps():
    (item,) = of(care(leggy(), tray_of("A", **lamp(kind="tube", above_soil_mm=240))), "leggy")
    assert "Lower the lamp “left”" in item.remedy
    assert "20 mm a day" in item.remedy
    assert "pale" in item.remedy
    assert "plug" in item.caution


@pytest.mark.parametrize(
    "settings",
    [
        {"kind": "tube", "above_soil_mm": 120},  # 80 mm: at the 75 mm to keep clear
        {"kind": "tube", "above_soil_mm": 100},  # nearer than that
        {"kind": "other", "above_soil_mm": 400},  # no distance is known for this kind
        {"above_soil_mm": 400},  # kind unknown
        {"kind": "panel"},  # height unknown
    ],
)
def test_a_lamp_is_never_lowered_where_that_could_burn(settings):
    items = care(leggy(), tray_of("A", **lamp(**settings)))
    assert not any("ower the lamp" in i.remedy for i in items)
    assert of(items, "leggy")


def test_the_tallest_plant_keeps_the_lamp_up_and_the_short_one_gets_a_block():
    table = together(leggy("A"), plant_rows("B", H, np.full(N, 80.0)))
    (item,) = of(care(table, tray_of("A", "B", **lamp(kind="tube", above_soil_mm=160))), "leggy")
    assert "ower the lamp" not in item.remedy
    assert "block of up to 40 mm" in item.remedy


def missing_at_the_end(table):
    return table.assign(height_mm=table["height_mm"].where(table["elapsed_h"] < H[-1]))


def test_a_taller_plant_not_measured_in_the_last_photo_keeps_the_lamp_up():
    table = together(leggy("A", 80.0), missing_at_the_end(plant_rows("B", H, np.full(N, 150.0))))
    (item,) = of(care(table, tray_of("A", "B", **lamp(kind="tube", above_soil_mm=320))), "leggy")
    assert "ower the lamp" not in item.remedy
    assert "at most 170 mm" in item.remedy


def test_a_plant_that_leaves_the_picture_keeps_the_lamp_up():
    table = together(leggy("A", 80.0), plant_rows("B", H, np.full(N, 90.0)).assign(cut_off=True))
    (item,) = of(care(table, tray_of("A", "B", **lamp(kind="tube", above_soil_mm=320))), "leggy")
    assert "ower the lamp" not in item.remedy
    assert "block" not in item.remedy
    assert "at most 230 mm" in item.remedy


def test_a_pot_in_which_nothing_came_up_does_not_hold_the_lamp():
    table = together(leggy("A", 80.0), plant_rows("B", H, [0] * N))
    (item,) = of(care(table, tray_of("A", "B", **lamp(kind="tube", above_soil_mm=320))), "leggy")
    assert "Lower the lamp “left” from 240 to 75 mm" in item.remedy


@pytest.mark.parametrize(("crop", "deeper"), [("tomato", True), ("lettuce", False), ("pepper", False)])
def test_only_crops_that_bear_it_are_set_deeper(crop, deeper):
    tray = tray_of("A", each={"sowing": "s"}, sowing=[{"name": "s", "crop": crop}])
    (item,) = of(care(leggy(), tray), "leggy")
    assert ("set it deeper, up to" in item.remedy) is deeper
    assert ("Do not set it deeper" in item.remedy) is (crop == "lettuce")


def test_a_sturdy_plant_gets_no_item():
    assert care(plant_rows("A", H, STEADY), tray_of("A")) == ()


# ---------------------------------------- the lamp
def test_the_tallest_plant_decides_the_gap():
    table = together(plant_rows("A", H, STEADY), plant_rows("B", H, np.full(N, 90.0)))
    (item,) = of(care(table, tray_of("A", "B", **lamp(kind="tube", above_soil_mm=150))), "lamp")
    assert item.plants == ("B",)
    assert item.number == "The gap is 60 mm, give or take 2"
    assert "165 mm above the soil" in item.remedy
    assert "before you raise the lamp for all" in item.remedy


def test_all_too_near_means_raise_the_lamp():
    table = together(plant_rows("A", H, np.full(N, 88.0)), plant_rows("B", H, np.full(N, 90.0)))
    (item,) = of(care(table, tray_of("A", "B", **lamp(kind="tube", above_soil_mm=150))), "lamp")
    assert item.remedy.startswith("Raise the lamp")
    assert "hooks" in item.caution
    assert "qualified" in item.caution


def test_too_near_is_told_of_a_plant_that_the_last_photo_missed():
    table = together(plant_rows("A", H, STEADY), missing_at_the_end(plant_rows("B", H, np.full(N, 90.0))))
    (item,) = of(care(table, tray_of("A", "B", **lamp(kind="tube", above_soil_mm=150))), "lamp")
    assert item.plants == ("B",)
    assert item.number == "The gap is at most 60 mm"
    assert "at least 165 mm above the soil" in item.remedy


@pytest.mark.parametrize("settings", [{"above_soil_mm": 50}, {"kind": "other", "above_soil_mm": 50}])
def test_no_gap_is_judged_without_a_kind_or_a_gap_to_keep(settings):
    assert not of(care(plant_rows("A", H, STEADY), tray_of("A", **lamp(**settings))), "lamp")


def test_the_gap_of_the_tray_file_goes_before_the_kind():
    table = plant_rows("A", H, STEADY)
    assert of(care(table, tray_of("A", **lamp(above_soil_mm=100, keep_clear_mm=80))), "lamp")
    assert not of(care(table, tray_of("A", **lamp(kind="panel", above_soil_mm=100, keep_clear_mm=20))), "lamp")


def test_a_lamp_that_was_raised_is_judged_by_its_new_height():
    tray = tray_of(
        "A",
        each={"lamp": "left"},
        lamp=[
            {"name": "left", "kind": "tube", "above_soil_mm": 100},
            {"name": "left", "kind": "tube", "above_soil_mm": 300, "since": clock(60)},
        ],
    )
    table = plant_rows("A", H, STEADY)
    assert not of(care(table, tray), "lamp")
    assert list(judge(table, tray).events["event"]) == ["lamp too near"]


def test_a_plant_that_will_soon_be_too_near_is_told_of_with_its_days():
    table = plant_rows("A", H, 20 + 8 * H / 24)
    (item,) = of(care(table, tray_of("A", **lamp(kind="tube", above_soil_mm=160))), "lamp soon")
    assert item.urgency == "this week"
    assert "likely" in item.reason


# ---------------------------------------- trimming
def grass(height, **settings):
    sowing = [{"name": "s", "crop": settings.pop("crop", None)}]
    tray = tray_of("A", each={"habit": "grasslike", "sowing": "s", **settings}, sowing=sowing)
    return care(plant_rows("A", H, np.full(N, float(height)), stem=np.nan), tray)


def test_onions_are_cut_back_at_the_height_asked_for():
    (item,) = of(grass(104, trim_at_mm=100, trim_to_mm=50), "trim")
    assert "back to about 50 mm" in item.remedy
    assert item.number == "A is 104 mm tall, give or take 2"
    assert not of(grass(96, trim_at_mm=100, trim_to_mm=50), "trim")


def test_an_allium_of_which_no_height_was_asked_is_not_cut_for_its_height_alone():
    assert not of(grass(135, crop="leek"), "trim")
    assert not of(grass(200, crop="leek"), "trim")


def test_grass_that_nobody_asked_to_cut_is_left_alone():
    assert not of(grass(300), "trim")


def test_leafy_plants_are_never_cut_back():
    tray = tray_of("A", each={"trim_at_mm": 100})
    assert not of(care(plant_rows("A", H, np.full(N, 200.0)), tray), "trim")


# ---------------------------------------- down, nothing
def fallen():
    return plant_rows("A", H, np.where(np.arange(N) < 18, 60.0, 20.0), canopy=300.0)


def test_a_plant_that_is_down_is_not_simply_watered():
    (item,) = of(care(fallen(), tray_of("A")), "fallen")
    assert item.urgency == "now"
    assert "Lift the pot" in item.remedy
    assert "do not water" in item.remedy
    assert "cannot tell" in item.remedy


def test_a_plant_that_stands_again_needs_nothing():
    height = np.where((np.arange(N) > 10) & (np.arange(N) < 15), 20.0, 60.0)
    assert not of(care(plant_rows("A", H, height, canopy=300.0), tray_of("A")), "fallen")


def test_a_plant_that_took_three_days_to_stand_again_is_no_longer_down():
    height = np.where((np.arange(N) > 6) & (np.arange(N) < 19), 20.0, 60.0)
    table = plant_rows("A", H, height, canopy=300.0)
    assert "wilted" not in set(judge(table, tray_of("A")).events["event"])
    assert not of(care(table, tray_of("A")), "fallen")


def overdue(now_text, **settings):
    sowing = {"name": "s", "crop": "tomato", "soil_c": 20, "sown": "2026-02-25T08:00:00", **settings}
    tray = tray_of("A", each={"sowing": "s"}, sowing=[sowing], season={"plant_out": "2026-05-15"})
    return of(care(plant_rows("A", H, [0] * N), tray, now_text=now_text), "overdue")


def test_nothing_up_is_an_item_only_from_twice_the_table_on():
    assert not overdue("2026-03-12T08:00:00")
    (item,) = overdue("2026-03-14T08:00:00")
    assert "not yet the bin" in item.reason
    assert "2026-04-10" in item.remedy
    assert "thermostat" in item.caution


def test_nothing_is_overdue_without_a_date_or_a_crop():
    assert not overdue("2026-06-14T08:00:00", crop=None)
    assert not overdue("2026-06-14T08:00:00", sown=None)


# ---------------------------------------- words
def test_doubt_is_twice_the_deviation_rounded_up_in_the_list_as_in_the_table():
    (item,) = of(care(leggy(height=41.2).assign(height_sd_mm=0.6), tray_of("A")), "leggy")
    assert item.number == f"A is {amount(41.2, 'mm tall', 0.6)}" == "A is 41 mm tall, give or take 2"
    assert amount(41.2, "mm", 0.1) == "41.2 mm, give or take 0.2"
    assert amount(41.2, "mm", float("nan")) == "41 mm"


def test_a_plant_that_leaves_the_picture_is_at_least_so_tall():
    (item,) = of(care(leggy().assign(cut_off=H > 60), tray_of("A")), "leggy")
    assert item.number == "A is at least 40 mm tall"


def test_every_item_has_a_reason_a_number_a_remedy_and_a_caution():
    tables = together(sprouted("A"), leggy("B"), fallen().assign(plant="C"))
    for item in care(tables, tray_of("A", "B", "C", **lamp(kind="tube", above_soil_mm=90))):
        assert all((item.title, item.reason, item.number, item.remedy, item.caution)), item.key
        assert any(c.isdigit() for c in item.number)


# ---------------------------------------- numbers that contradict, room for growth, notice ahead
def test_a_plant_taller_than_its_lamp_hangs_is_a_contradiction_and_no_distance_is_advised_on():
    items = care(plant_rows("A", H, np.full(N, 90.0)), tray_of("A", **lamp(kind="tube", above_soil_mm=80)))
    assert not of(items, "lamp")
    (item,) = of(items, "lamp below")
    assert "contradict" in item.reason
    assert "above_soil_mm" in item.remedy
    assert "A is 90 mm tall" in item.number
    assert "-10" not in item.number + item.reason + item.remedy


def test_stretched_plants_get_no_lamp_advice_where_the_lamps_height_contradicts():
    (item,) = of(care(leggy(height=90.0), tray_of("A", **lamp(kind="tube", above_soil_mm=80))), "leggy")
    assert "lamp “left”" not in item.remedy


def test_a_lamp_is_raised_with_room_for_some_days_of_growth_and_those_under_it_are_named():
    grows = 60 + 5 * H / 24
    table = together(plant_rows("A", H, STEADY), plant_rows("B", H, grows))
    (item,) = of(care(table, tray_of("A", "B", **lamp(kind="tube", above_soil_mm=120))), "lamp")
    needed = grows[-1] + 4 * 5 + 75
    assert f"{5 * np.ceil(needed / 5):.0f} mm above the soil" in item.remedy
    assert "room for 4 days at 5 mm a day" in item.remedy
    assert f"Under it stand B ({grows[-1]:.0f} mm), A (40 mm)" in item.reason


def test_a_cut_that_is_coming_is_told_of_with_its_day():
    tray = tray_of("A", each={"habit": "grasslike", "trim_at_mm": 100, "trim_to_mm": 50})
    (item,) = of(care(plant_rows("A", H, 30 + 10 * H / 24, stem=np.nan), tray), "trim soon")
    assert item.urgency == "this week"
    assert "100 mm first: likely" in item.reason
    assert not of(care(plant_rows("A", H, 30 + 1 * H / 24, stem=np.nan), tray), "trim soon")
