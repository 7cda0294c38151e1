"""A camera that was set up anew sees the same plants from another side: nothing of that is an event, and nothing is
reckoned across it."""

import numpy as np
import pandas as pd
import pytest
from seedling_tables import clock, every, plant_rows, together, tray_of

from sproutlapse.growth.judge import judge

TRAY = tray_of("A", "B", "C")
HOURS = every(6, 28)
SINCE = np.arange(28) >= 14  # another view from this photo on


def rows(*, view: bool = True, soil_same: float = 0.4) -> pd.DataFrame:
    """Three plants whose canopy, width and soil look otherwise at once, the heights a few percent."""
    own = []
    for name, low, high, wide in (("A", 24, 46, 0.55), ("B", 50, 72, 1.6), ("C", 30, 44, 0.5)):
        height = np.linspace(low, high, 28) * np.where(SINCE, 1.02, 1.0)
        plant = plant_rows(name, HOURS, height, canopy=300 * np.where(SINCE, wide, 1.0))
        rough = np.where(SINCE, 0.7, 1.0)
        plant = plant.assign(
            width_mm=np.linspace(30, 36, 28) * np.where(SINCE, wide, 1.0),
            soil_same=np.where(SINCE, soil_same, 0.9), soil_rough=rough, soil_light=rough,
        )  # fmt: skip
        own.append(plant.assign(view=SINCE.astype(int)) if view else plant)
    return together(*own)


def events(table: pd.DataFrame) -> set[str]:
    return set(judge(table, TRAY).events["event"]) - {"emerged"}


@pytest.mark.parametrize(("soil_same", "event"), [(0.4, "turned"), (0.9, "watered")])
def test_what_only_looks_otherwise_is_an_event_in_one_view_and_none_across_two(soil_same, event):
    assert event in events(rows(soil_same=soil_same, view=False))
    assert events(rows(soil_same=soil_same)) == set()


def test_growth_is_read_since_the_change_of_view():
    plants = judge(rows(), TRAY).plants.set_index("plant")
    assert (plants["growth_since"] >= clock(HOURS[14])).all()
    assert plants.loc["A", "growth_mm_per_day"] == pytest.approx(22 / 27 * 4 * 1.02, rel=0.02)


def test_a_cut_after_the_change_is_a_cut():
    table = rows()
    cut = table["elapsed_h"] >= HOURS[20]
    for name in ("height_mm", "canopy_mm2", "canopy_px", "height_px"):
        table.loc[cut, name] *= 0.4
    assert events(table) == {"trimmed"}


def test_what_was_said_before_and_after_the_change_stays_said():
    table = rows()
    table.loc[table["elapsed_h"] >= HOURS[20], ["height_mm", "canopy_mm2", "canopy_px", "height_px"]] *= 0.4
    whole = judge(table, TRAY).events
    for last in range(12, 28, 2):
        part = judge(table[table["elapsed_h"] <= HOURS[last]], TRAY).events
        said = whole[whole["known"] <= clock(HOURS[last])]
        assert part.to_numpy().tolist() == said.to_numpy().tolist()
