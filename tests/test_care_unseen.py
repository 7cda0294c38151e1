"""A plant of which nothing was measured for days gets no advice for today, and the page says when it was last seen."""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parent / "growth"))
from seedling_tables import every, plant_rows, together, tray_of

from sproutlapse.care import care_list, scene_of
from sproutlapse.growth.judge import judge
from sproutlapse.growth.unseen import unseen_since
from sproutlapse.tray import Tray

H = every(6, 40)
FIGURES = ["height_mm", "canopy_mm2", "leaf_mm2", "stem_mm", "height_to_leaf", "height_px", "canopy_px"]


def leggy_shelf(last_of_d: int) -> pd.DataFrame:
    """Leggy plants B and D, D not measured after a row."""
    b, d = (plant_rows(name, H, np.full(len(H), 40.0), ratio=7, stem=32.0) for name in "BD")
    d.loc[last_of_d + 1 :, FIGURES] = float("nan")
    return together(b, d)


def leggy(table: pd.DataFrame, tray: Tray) -> tuple[str, ...]:
    items = care_list(table, judge(table, tray), tray)
    return next((item.plants for item in items if item.key.startswith("leggy:")), ())


@pytest.mark.parametrize(("last", "plants"), [(39, ("B", "D")), (33, ("B", "D")), (30, ("B",))])
def test_advice_for_today_names_the_plants_that_were_measured_of_late(last: int, plants: tuple[str, ...]):
    assert leggy(leggy_shelf(last), tray_of("B", "D")) == plants


def test_a_lamp_hangs_no_further_off_than_what_was_last_known_of_all_under_it():
    tray = tray_of("B", "D", lamp=[{"name": "left", "kind": "tube", "above_soil_mm": 100}], each={"lamp": "left"})
    table = leggy_shelf(20)
    table.loc[(table["plant"] == "D") & table["height_mm"].notna(), "height_mm"] = 90.0
    scene = scene_of(table, judge(table, tray), tray)
    (gap,) = scene.lately_seen().gaps()
    assert gap.gap_mm == 10.0
    assert gap.at_most


def test_a_sowing_whose_plant_is_not_seen_now_is_not_said_to_have_nothing_up():
    sowing = [{"name": "old seed", "crop": "tomato", "sown": "2026-02-01"}]
    tray = tray_of("B", "D", sowing=sowing, each={"sowing": "old seed"})
    table = leggy_shelf(20)
    table.loc[(table["elapsed_h"] > 120), FIGURES] = float("nan")
    items = care_list(table, judge(table, tray), tray)
    assert not any(item.key.startswith(("overdue:", "leggy:")) for item in items)


def test_a_plant_seen_to_the_end_or_never_measured_is_not_last_seen_on_a_day():
    nan = float("nan")
    assert unseen_since(np.array([0.0, 9.0, 9.0]), np.array([0.0, 24.0, 96.0])) is None
    assert unseen_since(np.array([nan, nan]), np.array([0.0, 96.0])) is None
    assert unseen_since(np.array([0.0, 9.0, nan]), np.array([0.0, 24.0, 96.0])) == 1
