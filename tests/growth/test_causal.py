"""What was said stays said: no later photo adds to, changes or removes an event known before it."""

import numpy as np
import pandas as pd
import pytest
from seedling_tables import START, every, plant_rows, together, tray_of, until

from sproutlapse.growth.judge import judge

N = 40
H = every(6, N)
SOWN = "2026-02-20T08:00:00"


def shelf(noise_seed):
    """Five pots: sturdy, leggy and back, trimmed, fallen and risen, and one in which nothing comes up."""
    rng = np.random.default_rng(noise_seed)
    noise = lambda size=1.0: rng.normal(0, size, N)  # noqa: E731
    born = np.where(np.arange(N) >= 4, 1.0, 0.0)
    grown = np.clip(2 + (H - 24) * 0.35, 0.5, None)
    swing = 1 + 0.08 * np.cos(2 * np.pi * H / 24)
    leggy = np.where((np.arange(N) > 10) & (np.arange(N) < 26), 6.2, 4.0) + noise(0.8)
    cut = np.where(np.arange(N) >= 28, 0.45, 1.0)
    down = np.where((np.arange(N) >= 20) & (np.arange(N) < 25), 0.4, 1.0)
    return together(
        plant_rows("A", H, born * np.clip(grown * swing + noise(), 0.5, None), canopy=10 + 4 * grown, ratio=3.0),
        plant_rows("B", H, born * (grown + 0.2 * noise()), canopy=10 + grown, ratio=leggy, stem=0.75 * grown),
        plant_rows("C", H, born * np.clip(grown * 1.6 * cut + noise(), 0.5, None), canopy=(10 + 6 * grown) * cut),
        plant_rows("D", H, born * np.clip(grown * down + noise(), 0.5, None), canopy=10 + 4 * grown),
        plant_rows("E", H, np.zeros(N)),
    )  # fmt: skip


TRAY = tray_of(
    "A", "B", "C", "D", "E",
    each={"sowing": "s", "lamp": "left"},
    sowing=[{"name": "s", "crop": "tomato", "sown": SOWN, "soil_c": 25}],
    lamp=[{"name": "left", "kind": "tube", "above_soil_mm": 130}],
)  # fmt: skip


@pytest.mark.parametrize("noise_seed", range(4))
def test_every_shorter_record_tells_the_same_as_the_whole_one_told_by_then(noise_seed):
    table = shelf(noise_seed)
    whole = judge(table, TRAY).events
    known = (pd.to_datetime(whole["known"]) - pd.Timestamp(START)).dt.total_seconds() / 3600
    for hours in H:
        told = judge(until(table, hours), TRAY).events
        pd.testing.assert_frame_equal(told, whole[known <= hours].reset_index(drop=True), check_dtype=False)


def test_the_shelf_of_this_test_has_every_kind_of_event():
    kinds = set().union(*(judge(shelf(s), TRAY).events["event"] for s in range(4)))
    assert {"emerged", "leggy", "trimmed", "collapsed", "wilted", "overdue", "lamp too near"} <= kinds


def test_events_stand_in_the_order_in_which_they_could_be_said():
    known = list(judge(shelf(0), TRAY).events["known"])
    assert known == sorted(known)
