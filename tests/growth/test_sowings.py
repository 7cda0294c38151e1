"""What came of a sowing: counts, days and a verdict in plain words."""

import math
from datetime import datetime

import pytest
from seedling_tables import every, plant_rows, together, tray_of

from sproutlapse.growth.judge import judge

H = every(6, 12)


def height(first):
    return [0.0] * first + [3.0 + k for k in range(12 - first)]


def sowing_row(table, *, now=None, names=("A", "B", "C"), plant_out=None, **settings):
    tray = tray_of(
        *names,
        each={"sowing": "s"},
        sowing=[{"name": "s", "sown": "2026-02-25T08:00:00", **settings}],
        season={"plant_out": plant_out} if plant_out else {},
    )
    return judge(table, tray, now=now).sowings.iloc[0]


def three_pots():
    return together(plant_rows("A", H, height(2)), plant_rows("B", H, height(4)), plant_rows("C", H, [0] * 12))


def test_pots_are_counted_where_no_number_of_seeds_is_given():
    row = sowing_row(three_pots())
    assert (row["plants"], row["emerged"]) == (3, 2)
    assert row["emerged_share"] == pytest.approx(2 / 3)
    assert math.isnan(row["seeds"])


def test_days_run_from_sowing_to_the_middle_of_the_interval():
    row = sowing_row(three_pots())
    assert row["first_days"] == pytest.approx(4 + 9 / 24)
    assert row["median_days"] == pytest.approx(4 + 15 / 24)
    assert row["spread_days"] == pytest.approx(0.5)


def test_without_a_date_of_sowing_there_are_no_days():
    row = sowing_row(three_pots(), sown=None)
    assert math.isnan(row["median_days"])


def test_a_date_of_sowing_after_the_first_sprout_is_questioned():
    row = sowing_row(three_pots(), sown="2026-03-03T08:00:00")
    assert math.isnan(row["first_days"])
    assert "check" in row["verdict"]


def test_a_pot_up_in_the_first_photo_leaves_the_days_unknown():
    table = together(plant_rows("A", H, [20] * 12), plant_rows("B", H, height(4)))
    row = sowing_row(table, names=("A", "B"))
    assert row["emerged"] == 2
    assert math.isnan(row["median_days"])


def test_seeds_are_the_unit_where_their_number_is_given():
    table = plant_rows("A", H, height(2), seedlings=[0, 0, 1, 1, 1, 2, 2, 2, 1, 2, 2, 2])
    row = sowing_row(table, names=("A",), seeds_per_cell=3)
    assert (row["seeds"], row["emerged"]) == (3, 2)
    assert row["spread_days"] == pytest.approx(0.75)


def test_a_seedling_counted_in_one_photo_only_is_not_counted():
    table = plant_rows("A", H, height(2), seedlings=[0, 0, 1, 1, 1, 2, 1, 1, 1, 1, 1, 1])
    assert sowing_row(table, names=("A",), seeds_per_cell=3)["emerged"] == 1


def test_clusters_do_not_make_more_seeds_than_were_sown():
    table = plant_rows("A", H, height(2), seedlings=4)
    assert sowing_row(table, names=("A",), seeds_per_cell=2, seedlings_per_seed=3)["emerged"] == 2
    assert sowing_row(table, names=("A",), seeds_per_cell=1)["emerged_share"] == 1


@pytest.mark.parametrize(
    ("settings", "day", "start"),
    [
        ({"crop": "tomato", "soil_c": 20}, 12, "nothing up yet"),  # before 2 x 8 days
        ({"crop": "tomato", "soil_c": 20}, 14, "overdue"),
        ({"crop": "moon flower"}, 30, "nothing up yet"),
    ],
)
def test_overdue_only_from_twice_the_table_on(settings, day, start):
    table = plant_rows("A", H, [0] * 12)
    row = sowing_row(table, names=("A",), now=datetime(2026, 3, day % 31 or 31, 8), **settings)
    assert row["verdict"].startswith(start)


def test_a_dead_sowing_says_until_when_sowing_again_makes_sense():
    table = plant_rows("A", H, [0] * 12)
    late = {"names": ("A",), "now": datetime(2026, 3, 20, 8), "crop": "tomato", "soil_c": 20}
    # Tomato needs 5 to 6 weeks (Univ. Delaware, Table A-4): five weeks before 15 May is 10 April.
    assert "sow again by 2026-04-10" in sowing_row(table, plant_out="2026-05-15", **late)["verdict"]
    assert "too late to sow again" in sowing_row(table, plant_out="2026-04-01", **late)["verdict"]


def test_of_a_sowing_partly_up_only_the_rest_is_overdue():
    late = {"now": datetime(2026, 3, 20, 8), "crop": "tomato", "soil_c": 20}
    rows = [plant_rows(name, H, [0] * 12) for name in "BCD"]
    told = sowing_row(together(plant_rows("A", H, height(2)), *rows), names=("A", "B", "C", "D"), **late)["verdict"]
    assert told.startswith("1 of 4 pots up ") and "; the other 3 are overdue: usually" in told
    rows = [plant_rows(name, H, height(2)) for name in "ABC"]
    told = sowing_row(together(*rows, plant_rows("D", H, [0] * 12)), names=("A", "B", "C", "D"), **late)["verdict"]
    assert told.startswith("3 of 4 pots up ") and "; the other is overdue: usually" in told


def test_all_up_says_so():
    table = together(plant_rows("A", H, height(2)), plant_rows("B", H, height(4)))
    assert sowing_row(table, names=("A", "B"))["verdict"].startswith("all up")


def test_plants_without_a_sowing_make_no_row():
    assert judge(three_pots(), tray_of("A", "B", "C")).sowings.empty
