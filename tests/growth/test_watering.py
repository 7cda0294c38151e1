"""Watering is seen where the soil of most pots turns darker and smoother at once, and stays so."""

import numpy as np
import pandas as pd
from seedling_tables import clock, plant_rows, together, tray_of

from sproutlapse.growth.judge import judge

HOURS = np.arange(24) * 6.0
NAMES = ("A", "B", "C", "D")


def dried(at: tuple[int, ...], most: float, days: float = 1.5) -> np.ndarray:
    """A figure that falls by a share at some photos and comes back as the soil dries."""
    wet = np.zeros(24)
    for row in at:
        wet[row:] = np.maximum(wet[row:], np.exp(-(np.arange(24) - row)[row:] * 6 / 24 / days))
    return 1 - most * wet


def table(rough: dict[str, np.ndarray], light: dict[str, np.ndarray]) -> pd.DataFrame:
    rows = [
        plant_rows(name, HOURS, np.full(24, 20.0)).assign(soil_rough=rough[name], soil_light=light[name])
        for name in NAMES
    ]
    return together(*rows)


def watered(rough: dict[str, np.ndarray], light: dict[str, np.ndarray]) -> list[tuple[str, str, str]]:
    events = judge(table(rough, light), tray_of(*NAMES)).events.query("event == 'watered'")
    assert (events["plant"] == "").all()
    return [tuple(row) for row in events[["time", "known", "detail"]].values]


def all_of(values: np.ndarray) -> dict[str, np.ndarray]:
    return dict.fromkeys(NAMES, values)


def test_two_waterings_are_told_a_photo_later_with_the_days_between():
    told = watered(all_of(dried((6, 16), 0.3)), all_of(dried((6, 16), 0.06)))
    assert [row[:2] for row in told] == [(clock(36), clock(42)), (clock(96), clock(102))]
    assert "4 of 4" in told[0][2] and "2.5 days" in told[1][2]


def test_a_photo_a_little_out_of_focus_is_no_watering():
    rough = np.ones(24)
    rough[8:] = 0.8
    assert watered(all_of(rough), all_of(np.ones(24))) == []


def test_a_shadow_in_one_photo_is_no_watering():
    rough, light = np.ones(24), np.ones(24)
    rough[9], light[9] = 0.8, 0.8
    assert watered(all_of(rough), all_of(light)) == []


def test_leaves_that_close_over_the_soil_are_no_watering():
    fading = np.linspace(1, 0.6, 24)
    assert watered(all_of(fading), all_of(fading)) == []


def test_one_pot_alone_is_no_watering_of_the_tray():
    still = np.ones(24)
    rough = {**all_of(still), "A": dried((6,), 0.3)}
    assert watered(rough, {**all_of(still), "A": dried((6,), 0.06)}) == []


def test_pots_whose_soil_is_not_seen_have_no_say():
    nan = np.full(24, np.nan)
    rough = {**all_of(dried((6,), 0.3)), "C": nan, "D": nan}
    light = {**all_of(dried((6,), 0.06)), "C": nan, "D": nan}
    assert [row[2] for row in watered(rough, light)] == ["the soil turned darker in 2 of 2 pots or cells"]
