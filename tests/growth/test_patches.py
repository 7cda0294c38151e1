"""Plants that collapse beside one another are told together, one alone as one."""

import numpy as np
import pandas as pd
from seedling_tables import clock, every, plant_rows, together, until

from sproutlapse.care import care_list
from sproutlapse.growth.judge import judge
from sproutlapse.growth.patches import near_of
from sproutlapse.tray import Tray

N = 24
H = every(6, N)


def row_of_pots(names="ABCDE", gap=None, **judged):
    """Pots side by side, 200 pixels apart; after the pot `gap` twice as much is left free."""
    number = np.arange(len(names))
    lefts = 200 * number + (np.where(number > names.index(gap), 400, 0) if gap else 0)
    plants = [
        {"name": n, "box_px": [x, 0, x + 190, 800], "soil_y_px": 700, "habit": "broadleaf"}
        for n, x in zip(names, lefts.tolist(), strict=True)
    ]
    return Tray.model_validate({"view": {"from": "side"}, "plant": plants, "judge": judged})


def pots(fell, names="ABCDE", rises=()):
    """Grown plants of which some collapse at a photo; of those some stand up again four photos later."""
    rows = []
    for name in names:
        h = np.full(N, 60.0)
        if name in fell:
            h[fell[name] :] = 12
            if name in rises:
                h[fell[name] + 4 :] = 60
        rows.append(plant_rows(name, H, h, canopy=400.0))
    return together(*rows)


def details(table, tray):
    got = judge(table, tray).events
    return {row.plant: row.detail for row in got[got["event"] == "collapsed"].itertuples()}


def test_one_that_collapses_is_told_as_one_with_those_beside_it_that_stand():
    assert details(pots({"B": 8}), row_of_pots())["B"].endswith("alone so far: A and C beside it still stand")


def test_neighbours_that_collapse_within_days_are_told_as_one_spreading_patch():
    got = details(pots({"B": 8, "C": 14}), row_of_pots())
    assert "alone so far" in got["B"]
    assert got["C"].endswith("side by side with B within 2 days, so it spreads; A and D beside them still stand")


def test_those_far_apart_or_weeks_apart_are_no_patch():
    assert all("alone so far" in d for d in details(pots({"A": 8, "D": 9}), row_of_pots()).values())
    apart = row_of_pots(gap="B")
    assert all("alone so far" in d for d in details(pots({"B": 8, "C": 9}), apart).values())
    late = row_of_pots(patch_days=1)
    assert all("alone so far" in d for d in details(pots({"B": 4, "C": 14}), late).values())


def test_one_that_stands_again_is_of_no_patch():
    assert "alone so far" in details(pots({"B": 4, "C": 16}, rises="B"), row_of_pots())["C"]


def test_in_a_tray_from_above_the_eight_cells_around_are_beside_a_cell():
    cells = [
        {"name": f"r{r}c{c}", "box_px": [100 * c, 100 * r, 100 * c + 90, 100 * r + 90]}
        for r in range(4)
        for c in range(4)
    ]
    near = near_of(Tray.model_validate({"view": {"from": "above"}, "plant": cells}))
    assert len(near["r1c1"]) == 8 and len(near["r0c0"]) == 3
    assert "r1c3" not in near["r1c1"]


def test_places_that_all_lie_in_one_spot_tell_no_neighbours():
    plants = [{"name": n, "box_px": [0, 0, 9, 9]} for n in "AB"]
    assert near_of(Tray.model_validate({"plant": plants})) == {}


def test_the_care_list_tells_the_patch_once_and_says_whom_to_move():
    table, tray = pots({"B": 8, "C": 14}), row_of_pots()
    item = next(i for i in care_list(table, judge(table, tray), tray) if i.key.startswith("fallen"))
    assert item.plants == ("B", "C") and item.urgency == "now"
    assert item.reason.count("side by side") == 1
    assert "Stand A and D away" in item.remedy


def test_cells_of_a_tray_from_above_are_not_told_to_be_moved():
    table, tray = pots({"B": 8, "C": 14}), row_of_pots()
    tray = tray.model_copy(update={"view": tray.view.model_copy(update={"from_": "above"})})
    item = next(i for i in care_list(table, judge(table, tray), tray) if i.key.startswith("fallen"))
    assert "away" not in item.remedy
    assert "Lift the tray" in item.remedy
    assert "keep A and D drier" in item.remedy


def test_what_was_said_of_a_patch_stays_said():
    table, tray = pots({"B": 8, "C": 12, "D": 13}, rises="C"), row_of_pots()
    whole = judge(table, tray).events
    for hours in H:
        told = judge(until(table, hours), tray).events
        expected = whole[whole["known"] <= clock(hours)].reset_index(drop=True)
        pd.testing.assert_frame_equal(told, expected, check_dtype=False)


def test_where_nobody_stands_beside_it_any_more_a_collapse_is_told_without_neighbours():
    both = details(pots({"A": 8, "B": 8}, names="AB"), row_of_pots("AB"))
    assert both["A"].endswith("side by side with B at once, so it spreads")
    never_up = together(pots({"A": 8}, names="A"), plant_rows("B", H, np.zeros(N), canopy=0.0))
    (alone,) = details(never_up, row_of_pots("AB")).values()
    assert "beside" not in alone
