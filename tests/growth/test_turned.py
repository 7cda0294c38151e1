"""A pot turned in place is said so, breaks what is read of the canopy, and is no growth, cut or fall."""

import numpy as np
import pytest
from seedling_tables import every, plant_rows, together, tray_of

from sproutlapse.growth.judge import judge

TRAY = tray_of("A")
HOURS = every(6, 28)
HEIGHT = np.linspace(24, 46, 28)
WIDE = np.linspace(30, 36, 28)
BACK = np.arange(28) >= 14  # the pot was turned before this photo


def told(height=HEIGHT, *, canopy=300.0, **columns):
    rows = plant_rows("A", HOURS, height, canopy=canopy).assign(**columns)
    events = judge(rows, TRAY).events
    return [tuple(row) for row in events[["event", "time", "known"]].values]


TURNED = [("turned", "2026-03-04T20:00:00", "2026-03-05T08:00:00")]


def test_other_soil_from_one_photo_on_under_a_plant_as_tall_as_before_is_a_turn():
    assert told(soil_same=np.where(BACK, 0.35, 0.93)) == TURNED


def test_soil_that_looks_otherwise_in_one_photo_alone_is_none():
    assert told(soil_same=np.where(np.arange(28) == 14, 0.3, 0.93)) == []


def test_soil_that_fades_slowly_under_leaves_and_moss_is_none():
    assert told(soil_same=np.linspace(0.95, 0.2, 28)) == []


@pytest.mark.parametrize("share", [0.55, 1.6])
def test_a_plant_at_once_much_narrower_or_wider_was_turned_where_no_soil_is_seen(share):
    assert told(width_mm=WIDE * np.where(BACK, share, 1.0)) == TURNED


def test_leaves_that_fold_every_night_turn_no_pot():
    night = np.isin(HOURS % 24, (12, 18))
    assert told(width_mm=WIDE * np.where(night, 0.6, 1.0), canopy=300 * np.where(night, 0.55, 1.0)) == []


def test_a_plant_that_was_cut_back_was_not_turned():
    cut = np.where(BACK, 0.5, 1.0)
    assert [event for event, _, _ in told(HEIGHT * cut, canopy=300 * cut, width_mm=WIDE * cut)] == ["trimmed"]


def test_a_seedling_that_opens_its_seed_leaves_was_not_turned():
    small = np.linspace(4, 15, 28)
    assert told(small, width_mm=np.where(BACK, 14.0, 4.0)) == []


def test_the_canopys_growth_is_read_from_the_turn_on_and_the_heights_goes_on():
    leaf = 300 * np.exp(0.1 * HOURS / 24)
    whole = plant_rows("A", HOURS, HEIGHT, canopy=leaf)
    turned = plant_rows("A", HOURS, HEIGHT, canopy=leaf * np.where(BACK, 0.6, 1.0)).assign(
        soil_same=np.where(BACK, 0.35, 0.93)
    )
    first, then = (judge(table, TRAY).plants.iloc[0] for table in (whole, turned))
    assert then["rgr_per_day"] == pytest.approx(0.1, abs=1e-6)
    assert then["growth_mm_per_day"] == pytest.approx(first["growth_mm_per_day"])


def test_each_of_several_pots_is_turned_for_itself():
    table = together(
        plant_rows("A", HOURS, HEIGHT).assign(soil_same=np.where(BACK, 0.3, 0.9)),
        plant_rows("B", HOURS, HEIGHT).assign(soil_same=0.9),
    )
    events = judge(table, tray_of("A", "B")).events
    assert list(events["plant"]) == ["A"] and "mm tall as before" in events["detail"].iloc[0]
