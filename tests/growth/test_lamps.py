"""The lamp's gap in the diary is that of the photo whose time stands beside it."""

import numpy as np
from seedling_tables import clock, every, plant_rows, tray_of

from sproutlapse.growth.judge import judge

H = every(6, 24)
LAMP = {"lamp": [{"name": "left", "kind": "tube", "above_soil_mm": 150}], "each": {"lamp": "left"}}


def test_the_gap_is_that_of_the_time_beside_it():
    height = 50 + 2.0 * np.arange(24)  # 75 mm are left at 75 mm: nearer from the 14th photo on
    (event,) = (
        judge(plant_rows("A", H, height), tray_of("A", **LAMP)).events.query("event == 'lamp too near'").itertuples()
    )
    assert event.time == clock(H[13])
    assert event.known == clock(H[15])
    assert event.detail.startswith("74 mm below the lamp left")


def test_a_plant_measured_taller_than_its_lamp_has_no_negative_gap():
    events = judge(plant_rows("A", H, np.full(24, 160.0)), tray_of("A", **LAMP)).events
    assert "measured taller than the lamp" in events.iloc[0]["detail"]
