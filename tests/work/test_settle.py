"""Findings in time order: who is up, and the table with its uncertainty."""

import math
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from sproutlapse.tray import Judge, Plant, Tray, View
from sproutlapse.vision.findings import Findings, PlantFinding
from sproutlapse.vision.labels import labels_png, read_labels
from sproutlapse.work.settle import COLUMNS, UsedFrame, ViewScale, emerged_from, settle, settled_labels

NOTHING = PlantFinding(0.0)
SEEDLING = PlantFinding(900.0, 80.0, 50.0, 5.0, 60.0, -2.0, 1, False, 10.0, 12.0, 20.0)


def tray(habit: str = "broadleaf", view: str = "side", **judge: float) -> Tray:
    plant = Plant(name="A", box_px=(0, 0, 100, 100), soil_y_px=90, habit=habit)
    return Tray(view=View(from_=view), plants=(plant,), judge=Judge(**judge))


def frames(*seen: PlantFinding) -> list[UsedFrame]:
    start = datetime(2026, 3, 1, 9)
    return [
        UsedFrame(f"IMG_{k}.JPG", (start + timedelta(hours=k)).isoformat(), float(k), Findings("", plants=(one,)))
        for k, one in enumerate(seen)
    ]


@pytest.mark.parametrize(("present", "since"), [
    ("", None), ("0000", None), ("0110", None), ("0111", 1), ("1110", 0), ("0110111", 4), ("11", None),
])  # fmt: skip
def test_a_plant_is_up_from_the_first_of_three_photos_in_a_row_that_show_it(present: str, since: int | None):
    assert emerged_from([one == "1" for one in present], 3) == since


def test_a_speck_that_shows_once_is_no_plant():
    table = settle(frames(NOTHING, SEEDLING, NOTHING, NOTHING), tray(), [0.5], 0.01)
    assert table["canopy_px"].tolist() == [0, 0, 0, 0]
    assert table["height_px"].isna().all()


def test_how_many_photos_in_a_row_stands_in_the_tray():
    table = settle(frames(NOTHING, SEEDLING, SEEDLING), tray(emerged_frames=2), [0.5], 0.01)
    assert table["canopy_px"].tolist() == [0, 900, 900]


def test_lengths_are_pixels_times_the_scale_at_the_plant():
    row = settle(frames(SEEDLING, SEEDLING, SEEDLING), tray(), [0.5], 0.01).iloc[-1]
    assert row["height_mm"] == 40.0
    assert row["width_mm"] == 30.0
    assert row["stem_mm"] == 25.0
    assert row["canopy_mm2"] == 225.0
    # 900 px of tissue, less a bare stem of 50 x 5 px
    assert row["leaf_mm2"] == (900 - 250) * 0.25
    assert row["height_to_leaf"] == pytest.approx(40 / math.sqrt(162.5))


def test_without_a_scale_pixels_and_pure_numbers_are_left():
    row = settle(frames(SEEDLING, SEEDLING, SEEDLING), tray(), [None], 0.0).iloc[-1]
    assert all(math.isnan(row[name]) for name in COLUMNS if "_mm" in name)
    assert row["height_px"] == 80
    assert row["height_to_leaf"] == pytest.approx(80 / math.sqrt(650))


def test_a_plant_that_leaves_the_picture_has_a_least_height_without_uncertainty():
    cut = PlantFinding(900.0, 80.0, cut_off=True, seedlings=1)
    row = settle(frames(cut, cut, cut), tray(), [0.5], 0.01).iloc[-1]
    assert row["cut_off"]
    assert row["height_mm"] == 40
    assert math.isnan(row["height_sd_mm"])
    assert math.isnan(row["height_noise_mm"])


def test_the_whole_uncertainty_holds_what_photos_share():
    near, far = (
        settle(frames(SEEDLING, SEEDLING, SEEDLING), tray(), [0.5], scale_sd).iloc[-1] for scale_sd in (0.0, 0.02)
    )
    assert far["height_noise_mm"] == near["height_noise_mm"] < near["height_sd_mm"]
    assert far["height_sd_mm"] ** 2 - near["height_sd_mm"] ** 2 == pytest.approx((0.02 * 40) ** 2)


def test_from_above_there_is_ground_cover_and_no_height():
    row = settle(frames(SEEDLING, SEEDLING, SEEDLING), tray(view="above"), [0.5], 0.01).iloc[-1]
    assert row["canopy_mm2"] == 225
    assert all(math.isnan(row[name]) for name in ("height_mm", "height_px", "stem_mm", "lean_deg", "height_to_leaf"))


def test_grass_like_seedlings_have_no_height_to_leaf():
    row = settle(frames(SEEDLING, SEEDLING, SEEDLING), tray("grasslike"), [0.5], 0.01).iloc[-1]
    assert math.isnan(row["height_to_leaf"])
    assert row["height_mm"] == 40


def test_a_plant_that_is_gone_for_a_photo_has_no_height_there():
    table = settle(frames(SEEDLING, SEEDLING, SEEDLING, NOTHING), tray(), [0.5], 0.01)
    assert table["canopy_mm2"].iloc[-1] == 0
    assert math.isnan(table["height_mm"].iloc[-1])


def test_no_photo_and_no_plant_make_empty_tables():
    assert settle([], tray(), [0.5], 0.01).empty
    assert settle(frames(SEEDLING), Tray(view=View(from_="side")), [], 0.01).empty


def test_a_mask_shows_only_plants_that_are_up():
    labels = np.array([[0, 1, 2, 3, 0]], np.uint8)
    ours = read_labels(settled_labels(labels_png(labels), [2]))
    assert ours.tolist() == [[0, 1, 0, 3, 0]]


@pytest.mark.parametrize("gone", [{"pots_px": (None,)}, {"covered": (True,)}], ids=["taken out", "under a cover"])
def test_of_a_pot_that_is_not_seen_nothing_is_made_up(gone):
    start = frames(SEEDLING, SEEDLING, SEEDLING, SEEDLING)
    start[3] = UsedFrame("IMG_3.JPG", start[3].time, 3.0, Findings("", plants=(NOTHING,), **gone))
    last = settle(start, tray(), [0.5], 0.01).iloc[-1]
    assert last[list(COLUMNS[3:])].isna().all()


def test_the_colour_of_leaves_is_in_the_last_columns_once_the_plant_is_up():
    leafy = replace(SEEDLING, leaf_l=44.0, leaf_a=-28.0, leaf_b=30.0)
    table = settle(frames(NOTHING, leafy, leafy, SEEDLING), tray(), [0.5], 0.01)
    assert COLUMNS[-4:-1] == ("leaf_l", "leaf_a", "leaf_b")
    assert table[["leaf_l", "leaf_a", "leaf_b"]].iloc[1].tolist() == [44.0, -28.0, 30.0]
    assert table["leaf_l"].isna().tolist() == [True, False, False, True]


def test_a_turned_plant_is_known_no_better_for_showing_its_narrow_side():
    wide, narrow = (replace(SEEDLING, width_px=width, top_slope=0.15) for width in (120.0, 20.0))
    noise = settle(frames(wide, wide, wide, narrow), tray(), [0.5], 0.01)["height_noise_mm"]
    assert noise.iloc[3] == noise.iloc[2]
    alone = settle(frames(narrow, narrow, wide, narrow), tray(), [0.5], 0.01)["height_noise_mm"]
    assert alone.iloc[3] == alone.iloc[1], "one photo alone that shows it wide does not count"


def heights(px: list[float], since: int) -> list[float]:
    """The heights of the table in mm at 1 mm a pixel, where the camera shows another view since a photo."""
    seen = frames(*(replace(SEEDLING, height_px=value) for value in px))
    seen = [replace(frame, view=int(k >= since)) for k, frame in enumerate(seen)]
    table = settle(seen, tray(), [1.0], 0.01, later=[ViewScale((1.0,), 0.01)])
    assert table["canopy_mm2"].isna().tolist() == table["height_mm"].isna().tolist()
    return [-1.0 if math.isnan(value) else value for value in table["height_mm"]]


def test_a_stub_that_one_photo_of_a_further_view_shows_is_left_out():
    assert heights([50, 51, 52, 52, 4, 53, 54], since=3) == [50, 51, 52, 52, -1, 53, 54]
    assert heights([50, 51, 52, 4, 53, 54], since=3) == [50, 51, 52, -1, 53, 54]


def test_a_plant_that_was_cut_is_as_short_in_the_next_photo_too():
    assert heights([50, 51, 52, 52, 20, 20, 21], since=3) == [50, 51, 52, 52, -1, 20, 21]
    assert heights([50, 51, 52, 20, 20, 21], since=4) == [50, 51, 52, 20, 20, 21]


def test_in_the_first_view_nothing_is_left_out_and_small_plants_come_and_go():
    assert heights([50, 51, 52, 52, 4, 53], since=6) == [50, 51, 52, 52, 4, 53]
    assert heights([6, 7, 7, 7, 3, 7], since=1) == [6, 7, 7, 7, 3, 7]
