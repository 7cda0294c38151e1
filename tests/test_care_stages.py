"""Care by stage: each act in its time, and none of them where it could hurt."""

import sys
from datetime import datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parent / "growth"))
from seedling_tables import clock, plant_rows, together, tray_of
from sown_pots import NAMES, H, N, care, of, scene, sown, up_from

from sproutlapse.care_season import stages
from sproutlapse.tray import Tray


def placed(*pots, sowings=("s", "t"), **parts):
    """Pots of several sowings: (name, sowing, further settings)."""
    plants = [
        {"name": n, "box_px": [60 * k, 0, 60 * k + 50, 9], "habit": "broadleaf", "sowing": s, **more}
        for k, (n, s, more) in enumerate(pots)
    ]
    return Tray.model_validate({"plant": plants, "sowing": [{"name": s} for s in sowings], **parts})


# ---------------------------------------- first up, half up: light, cover, mat
def test_the_first_of_a_sowing_goes_to_the_light_and_the_others_stay_covered():
    table, tray = sown(18, 99, 99, 99)
    (item,) = of(care(table, tray), "light")
    assert item.title == "Under the light now: s"
    assert "What is not up yet stays covered until half are" in item.remedy
    assert "cover off" not in item.remedy
    assert "heat mat" not in item.remedy
    assert "lift one edge" in item.caution


def test_seed_that_wants_the_dark_stays_dark_until_half_are_up():
    table, tray = sown(18, 99, 99, 99, needs=["dark"])
    (item,) = of(care(table, tray), "light")
    assert "stays covered in the dark until half are" in item.remedy


def test_at_half_up_cover_and_mat_go_and_the_source_is_named():
    table, tray = sown(14, 18, 99, 99)
    (item,) = of(care(table, tray), "light")
    assert item.title == "Cover off, under the light now: s"
    assert "Take the cover off A and B." in item.remedy
    assert "Take A and B off the heat mat, if there is one; C and D stay on it while nothing shows." in item.remedy
    assert "Univ. of Maine Extension" in item.reason
    assert "Unplug the mat" in item.caution


def test_half_up_under_a_lamp_from_the_start_is_about_cover_and_mat_alone():
    table, tray = sown(14, 18, 99, 99, under_light=True)
    (item,) = of(care(table, tray), "cover")
    assert item.title == "Cover off: s"
    assert item.urgency == "today"
    assert item.number == "2 of 4 up"
    assert "lamp" not in item.remedy
    table, tray = sown(18, 99, 99, 99, under_light=True)
    assert not of(care(table, tray), "cover")


def test_what_stood_there_in_the_first_photo_is_not_told_to_lose_its_cover():
    table, tray = sown(0, 0, 99, 99, under_light=True)
    assert not of(care(table, tray), "cover")


def test_the_cover_item_ends_by_itself():
    table, tray = sown(14, 18, 99, 99, under_light=True)
    assert not of(care(table, tray, now=clock(H[20] + 73)), "cover")


def test_on_a_mixed_mat_those_are_named_that_stay_on_it():
    mat = {"place": "mat"}
    tray = placed(("A", "s", mat), ("B", "s", {"place": "sill"}), ("C", "t", mat), ("D", "t", {"place": "sill"}))
    table = together(up_from("A", 18), up_from("B", 18), up_from("C", 99), up_from("D", 99))
    (item,) = of(care(table, tray), "light")
    assert "Take A off the heat mat; C stays on it until half of its sowing is up." in item.remedy


def test_pots_that_stand_on_no_mat_are_not_taken_off_one():
    tray = placed(("A", "s", {"place": "sill"}), ("B", "t", {"place": "matted corner"}))
    (item,) = of(care(together(up_from("A", 18), up_from("B", 99)), tray), "light")
    assert "mat" not in item.remedy.replace("tray.toml", "")


def test_a_sowing_that_waits_keeps_the_mat_also_where_no_place_is_written():
    tray = placed(("A", "s", {}), ("B", "t", {}))
    (item,) = of(care(together(up_from("A", 18), up_from("B", 99)), tray), "light")
    assert "Take A off the heat mat, if there is one; B stays on it until half of its sowing is up." in item.remedy


# ---------------------------------------- the lamp to its distance
def lamp(**settings):
    return {"lamp": [{"name": "left", **settings}], "each": {"lamp": "left"}}


def small(name, height=14.0):
    """Too small to be judged for stretching."""
    return up_from(name, 10, height)


@pytest.mark.parametrize(("kind", "above", "band"), [("tube", 200, "75 to 150 mm"), ("panel", 400, "200 to 300 mm")])
def test_a_lamp_comes_down_to_the_distance_of_its_kind_in_steps(kind, above, band):
    (item,) = of(care(small("A"), tray_of("A", **lamp(kind=kind, above_soil_mm=above))), "lamp far")
    assert f"until {band} are left" in item.remedy
    assert "no more than 20 mm a day" in item.remedy
    assert "bleach" in item.remedy
    assert "plug" in item.caution


@pytest.mark.parametrize(
    "settings",
    [
        {"kind": "tube", "above_soil_mm": 160},  # 146 mm: within the band
        {"kind": "tube", "above_soil_mm": 89},  # at the gap to keep
        {"kind": "other", "above_soil_mm": 900},  # no distance for this kind
        {"above_soil_mm": 900, "keep_clear_mm": 75},  # kind unknown
        {"kind": "tube"},  # height unknown
        {"kind": "tube", "above_soil_mm": 200, "keep_clear_mm": 250},  # its maker wants more
    ],
)
def test_a_lamp_is_not_brought_down_where_that_could_burn(settings):
    items = care(small("A"), tray_of("A", **lamp(**settings)))
    assert not any("ower the lamp" in i.title + i.remedy for i in items)


def test_a_lamp_over_covers_or_over_blades_is_not_brought_down():
    parts = lamp(kind="tube", above_soil_mm=200)
    each = {**parts["each"], "sowing": "s"}
    tray = tray_of(*NAMES, lamp=parts["lamp"], each=each, sowing=[{"name": "s"}])
    table = together(*(up_from(n, row) for n, row in zip(NAMES, (10, 99, 99, 99), strict=True)))
    assert not of(care(table, tray), "lamp far")
    blades = tray_of("A", lamp=parts["lamp"], each={**parts["each"], "habit": "grasslike"})
    assert not of(care(small("A"), blades), "lamp far")


def test_sturdy_plants_keep_their_lamp_where_it_is():
    table = plant_rows("A", H, np.full(N, 40.0))
    assert not of(care(table, tray_of("A", **lamp(kind="tube", above_soil_mm=300))), "lamp far")


def test_a_plant_that_leaves_the_picture_keeps_the_lamp_from_coming_down():
    tray = tray_of("A", **lamp(kind="tube", above_soil_mm=300))
    assert not of(care(small("A").assign(cut_off=True), tray), "lamp far")


# ---------------------------------------- room
def row_of(*names, width=60.0, apart_px=150, habit="broadleaf", **parts):
    """Pots side by side; the tables hold 3 pixels a millimetre, so 150 px are 50 mm."""
    plants = [
        {"name": n, "box_px": [apart_px * k, 0, apart_px * k + 100, 300], "habit": habit} for k, n in enumerate(names)
    ]
    tray = Tray.model_validate({"view": {"from": "side"}, "plant": plants, **parts})
    stem = np.nan if habit == "grasslike" else 12.0
    rows = [plant_rows(n, H, np.full(N, 40.0), stem=stem).assign(width_mm=width) for n in names]
    return together(*rows), tray


def test_pots_whose_leaves_touch_are_moved_apart_or_potted_on():
    (item,) = of(care(*row_of("A", "B", "C")), "room")
    assert item.plants == ("A", "B", "C")
    assert "stand 50 mm apart" in item.number
    assert "Move the pots apart" in item.remedy
    assert "pot them on" in item.remedy


def test_leaves_that_do_not_reach_each_other_need_no_room():
    assert not of(care(*row_of("A", "B", width=48.0)), "room")
    assert not of(care(*row_of("A", "B", habit="grasslike")), "room")
    table, tray = row_of("A", "B")
    pixels = table.assign(**dict.fromkeys(("height_mm", "canopy_mm2", "width_mm", "stem_mm", "leaf_mm2"), np.nan))
    assert not of(care(pixels, tray), "room")


def rows_of_depth(behind_mm):
    """A before B in the photo, 3 mm to the side, and C far away."""
    table, tray = row_of("A", "B", "C", width=30.0, apart_px=10)
    far = [("A", 100, 0.0), ("B", 110, behind_mm), ("C", 700, 0.0)]
    plants = tuple(
        p.model_copy(update={"box_px": (x, 0, x + 100, 300), "behind_mm": behind})
        for p, (_, x, behind) in zip(tray.plants, far, strict=True)
    )
    return table, tray.model_copy(update={"plants": plants})


def test_a_row_behind_stands_as_far_away_as_it_was_written():
    assert not of(care(*rows_of_depth(150.0)), "room")
    (item,) = of(care(*rows_of_depth(25.0)), "room")
    assert item.plants == ("A", "B")
    assert "stand 25 mm apart" in item.number


def test_cells_seen_from_above_are_not_moved_apart():
    table, tray = row_of("A", "B", view={"from": "above"})
    (item,) = of(care(table, tray), "room")
    assert "Move the pots" not in item.remedy


# ---------------------------------------- thinning
def thinned(count, *, keep=1, seeds=3, crop="tomato", days=4, habit="broadleaf", per_seed=1):
    sowing = {"name": "s", "crop": crop, "seeds_per_cell": seeds, "seedlings_per_seed": per_seed}
    each = {"sowing": "s", "keep_per_cell": keep, "habit": habit}
    counts = np.where(np.arange(N) < N - 4 * days, 1, count)
    table = plant_rows("A", H, np.full(N, 15.0), seedlings=counts)
    return of(care(table, tray_of("A", each=each, sowing=[sowing])), "thin")


def test_too_many_in_a_pot_are_snipped_and_never_pulled_and_only_down_to_what_is_kept():
    (item,) = thinned(3)
    assert item.number == "A: 3 seedlings, 1 to keep"
    assert "snip" in item.remedy
    assert "Do not pull" in item.remedy
    (item,) = thinned(3, keep=2)
    assert item.number == "A: 3 seedlings, 2 to keep"
    assert "Stop at the number to keep" in item.remedy


@pytest.mark.parametrize(
    "told",
    [
        {"count": 3, "keep": 3},  # as many as are to be kept
        {"count": 3, "keep": 4},
        {"count": 2, "seeds": 1},  # no more were sown: a seed leaf or a weed
        {"count": 3, "seeds": None},  # how many were sown is not known
        {"count": 3, "crop": "onion"},  # a clump whose number to keep nobody wrote
        {"count": 3, "crop": "basil"},
        {"count": 3, "habit": "grasslike", "crop": None},
        {"count": 3, "crop": "beet", "per_seed": 3},
        {"count": 2, "days": 1},  # seed leaves that open look like two for a day
    ],
)
def test_nothing_is_thinned_out_that_may_be_meant_so(told):
    assert not thinned(told.pop("count"), **told)


def test_a_clump_is_thinned_to_the_number_that_was_written():
    (item,) = thinned(6, keep=4, seeds=8, crop="onion", habit="grasslike")
    assert item.number == "A: 6 seedlings, 4 to keep"


# ---------------------------------------- cutting back
def leek(height, **parts):
    tray = tray_of("A", each={"habit": "grasslike", "sowing": "s", **parts.pop("each", {})},
                   sowing=[{"name": "s", "crop": "leek"}], **parts)  # fmt: skip
    return of(care(plant_rows("A", H, height, canopy=300.0, stem=np.nan), tray), "trim")


def test_onion_kin_are_cut_only_when_they_flop_tangle_or_reach_the_lamp():
    assert not leek(np.full(N, 180.0))
    (item,) = leek(np.where(np.arange(N) < 18, 180.0, 110.0))
    assert item.reason == "They fall over."
    parts = lamp(kind="tube", above_soil_mm=240)
    (item,) = leek(np.full(N, 180.0), **parts)
    assert "too near the lamp" in item.reason
    assert "alike at harvest" in item.reason
    tall, tray = row_of("A", "B", habit="grasslike", sowing=[{"name": "s", "crop": "leek"}])
    tray = Tray.model_validate(
        tray.model_dump(by_alias=True) | {"plant": [p.model_dump() | {"sowing": "s"} for p in tray.plants]}
    )
    tangled = tall.assign(height_mm=180.0, height_px=540.0)
    (item,) = of(care(tangled, tray), "trim")
    assert "tangle" in item.reason
    assert "back to about 90 mm" in item.remedy


def test_short_blades_near_a_low_lamp_are_not_cut():
    assert not leek(np.full(N, 80.0), **lamp(kind="tube", above_soil_mm=120))


# ---------------------------------------- harden off, plant out
def outside(day, crop="tomato", **settings):
    tray = tray_of("A", each={"sowing": "s"}, season={"plant_out": "2026-05-15"},
                   sowing=[{"name": "s", "crop": crop, "under_light": True, **settings}])  # fmt: skip
    table = plant_rows("A", H, np.full(N, 40.0))
    return care(table, tray, now=f"2026-05-{day:02d}T08:00:00")


@pytest.mark.parametrize(("day", "key", "urgency"), [(4, "", ""), (5, "harden", "this week"), (8, "harden", "today"),
                                                     (14, "harden", "today"), (15, "plant out", "today"),
                                                     (21, "plant out", "today"), (22, "", "")])  # fmt: skip
def test_hardening_begins_ten_days_before_and_ends_with_planting_out(day, key, urgency):
    items = [i for i in outside(day) if i.key.startswith(("harden", "plant out"))]
    assert [(i.key.partition(":")[0], i.urgency) for i in items] == ([(key, urgency)] if key else [])


def test_hardening_is_told_by_crop_with_its_source():
    (item,) = of(outside(6), "harden")
    assert "10 to 16 °C" in item.remedy
    assert "below about 7 °C" in item.remedy
    assert item.number == "9 days left"
    assert "This line ends on 15 May" in item.remedy
    (item,) = of(outside(6, crop="cabbage"), "harden")
    assert "°C" not in item.remedy
    (item,) = of(outside(6, crop="pepper"), "harden")
    assert "16 to 18 °C" in item.remedy


def test_a_sowing_too_young_for_its_day_is_said_to_be_so():
    items = outside(6, sown="2026-04-24T08:00:00")
    assert not of(items, "harden")
    (item,) = of(items, "not yet")
    assert "s will be 3 weeks old then; 5 to 6 are usual" in item.reason
    assert of(outside(6, sown="2026-04-10T08:00:00"), "harden")
    # Planted out late enough for its age.
    assert of(outside(16, sown="2026-04-11T08:00:00"), "plant out")


def test_a_plant_that_lies_down_is_not_put_outside():
    tray = tray_of("A", "B", season={"plant_out": "2026-05-15"})
    down = plant_rows("B", H, np.where(np.arange(N) < 18, 60.0, 20.0), canopy=300.0)
    table = together(plant_rows("A", H, np.full(N, 40.0)), down)
    for day in ("08", "16"):
        (item,) = [i for i in care(table, tray, now=f"2026-05-{day}T08:00:00") if i.key.startswith(("harden", "plant"))]
        assert item.plants == ("A",)


def test_what_never_came_up_is_not_hardened_off():
    tray = tray_of("A", season={"plant_out": "2026-05-15"})
    items = care(plant_rows("A", H, [0] * N), tray, now="2026-05-08T08:00:00")
    assert not of(items, "harden")


# ---------------------------------------- where each sowing stands
@pytest.mark.parametrize(
    ("rows", "now", "words"),
    [
        ((99, 99, 99, 99), "", "s: covered, nothing up yet."),
        ((18, 99, 99, 99), "", "s: first up, 1 of 4."),
        ((14, 18, 99, 99), "", "s: half up, 2 of 4."),
        ((8, 8, 8, 8), clock(H[10] + 96), "s: seed leaves, by their age."),
        ((8, 8, 8, 8), clock(H[10] + 300), "s: true leaves, by their age."),
    ],
)
def test_each_sowing_has_its_stage(rows, now, words):
    assert stages(scene(*sown(*rows), now)) == (words,)


def test_planting_out_has_its_effect_long_before():
    table, tray = sown(8, 8, 8, 8)
    tray = tray.model_copy(
        update={"season": tray.season.model_copy(update={"plant_out": datetime(2026, 5, 15).date()})}
    )
    assert stages(scene(table, tray, "2026-04-15T08:00:00")) == (
        "s: true leaves, by their age; 30 days to planting out, hardening off from 5 May on.",
    )
    assert "hardening off; 5 days" in stages(scene(table, tray, "2026-05-10T08:00:00"))[0]
    assert "time to plant out" in stages(scene(table, tray, "2026-05-16T08:00:00"))[0]
    touching, pots = row_of("A", "B", sowing=[{"name": "s"}])
    pots = pots.model_copy(update={"plants": tuple(p.model_copy(update={"sowing": "s"}) for p in pots.plants)})
    assert "potted on" in stages(scene(touching, pots))[0]


def test_the_tables_without_a_row_give_no_list():
    tray = tray_of("A", season={"plant_out": "2026-05-15"})
    empty = plant_rows("A", H, [0] * N).iloc[:0]
    assert isinstance(empty, pd.DataFrame)
    assert care(empty, tray) == ()
