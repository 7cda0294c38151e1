"""What was said stays said: no later photo adds to, changes or removes an event known before it."""

import numpy as np
import pandas as pd
import pytest
from seedling_tables import START, clock, every, leaves, plant_rows, together, tray_of, until

from sproutlapse.care import care_list
from sproutlapse.growth.judge import judge
from sproutlapse.vision.findings import Findings, PlantFinding
from sproutlapse.work.settle import UsedFrame, settle

N = 40
H = every(6, N)
SOWN = "2026-02-20T08:00:00"


def shelf(noise_seed):
    """Six pots: sturdy, leggy and back, trimmed, fallen and risen, bare, and stretching late."""
    rng = np.random.default_rng(noise_seed)
    noise = lambda size=1.0: rng.normal(0, size, N)  # noqa: E731
    born = np.where(np.arange(N) >= 4, 1.0, 0.0)
    grown = np.clip(2 + (H - 24) * 0.35, 0.5, None)
    swing = 1 + 0.08 * np.cos(2 * np.pi * H / 24)
    leggy = np.where((np.arange(N) > 10) & (np.arange(N) < 26), 6.2, 4.0) + noise(0.8)
    cut = np.where(np.arange(N) >= 28, 0.45, 1.0)
    yellow = np.where(np.arange(N) >= 18, 118.0, 134.0) + noise(0.6)
    down = np.where((np.arange(N) >= 20) & (np.arange(N) < 25), 0.4, 1.0)
    late = np.minimum(16.0, 2 + 0.4 * np.clip(H - 24, 0, None)) + 0.25 * np.clip(H - 140, 0, 60)
    return together(
        plant_rows("A", H, born * np.clip(grown * swing + noise(), 0.5, None), canopy=10 + 4 * grown, ratio=3.0).pipe(
            leaves, hue=yellow
        ),
        plant_rows("B", H, born * (grown + 0.2 * noise()), canopy=10 + grown, ratio=leggy, stem=0.75 * grown),
        plant_rows("C", H, born * np.clip(grown * 1.6 * cut + noise(), 0.5, None), canopy=(10 + 6 * grown) * cut),
        plant_rows("D", H, born * np.clip(grown * down + noise(), 0.5, None), canopy=10 + 4 * grown),
        plant_rows("E", H, np.zeros(N)),
        plant_rows("F", H, born * (late + 9), canopy=10 + grown, ratio=3.7, stem=late + 0.3 * noise()),
    ).assign(light_red=1.0, light_blue=1.0)  # fmt: skip


TRAY = tray_of(
    "A", "B", "C", "D", "E", "F",
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


def cells(noise_seed):
    """Three cells of three seeds each whose counts rise, fall and rise, and whose pots are lifted now and then."""
    rng = np.random.default_rng(noise_seed)
    rows = []
    for name in "ABC":
        first = int(rng.integers(3, 9))
        counts = np.clip(np.cumsum(rng.integers(0, 2, N)) - rng.integers(0, 2, N), 1, 4)
        own = plant_rows(name, H, np.where(np.arange(N) < first, 0, 5 + np.arange(N)), seedlings=counts)
        lifted = np.flatnonzero(rng.random(N) < 0.15)
        own = own.astype({"cut_off": object, "seedlings": float})
        own.loc[lifted, [c for c in own if c.endswith(("_mm", "_mm2", "_px", "_deg", "_to_leaf"))]] = np.nan
        own.loc[lifted, "seedlings"] = np.nan
        rows.append(own)
    return together(*rows)


@pytest.mark.parametrize("noise_seed", range(6))
def test_the_steps_of_a_sowing_stay_as_they_were_told_while_counts_fall_and_pots_are_lifted(noise_seed):
    tray = tray_of("A", "B", "C", each={"sowing": "s"}, sowing=[{"name": "s", "sown": SOWN, "seeds_per_cell": 3}])
    table = cells(noise_seed)
    whole = judge(table, tray).events
    assert {"first up", "half up"} <= set(whole["event"])
    known = (pd.to_datetime(whole["known"]) - pd.Timestamp(START)).dt.total_seconds() / 3600
    for hours in H:
        told = judge(until(table, hours), tray).events
        expected = whole[known <= hours].reset_index(drop=True)
        pd.testing.assert_frame_equal(told, expected, check_dtype=False)


def handled(noise_seed):
    """Four pots: one turned twice, one turned where no soil is seen, and two that change places."""
    rng = np.random.default_rng(noise_seed)
    n = np.arange(N)
    heights = [
        30 + 0.15 * H,
        40 + 0.2 * H,
        np.where(n < 25, 50.0, 90.0) + 0.1 * H,
        np.where(n < 25, 90.0, 50.0) + 0.1 * H,
    ]
    rows = []
    for name, height in zip("ABCD", heights, strict=True):
        seen = height * (1 + rng.normal(0, 0.01, N))
        wide = (20 + 0.05 * H) * (1 + rng.normal(0, 0.01, N))
        rows.append(plant_rows(name, H, seen, canopy=4 * height).assign(width_mm=wide, soil_same=0.9))
    rows[0]["soil_same"] = np.where(n < 12, 0.9, 0.35)
    rows[0]["width_mm"] *= np.where(n < 30, 1.0, 0.5)
    rows[1] = rows[1].assign(soil_same=np.nan, width_mm=rows[1]["width_mm"] * np.where(n < 18, 1.0, 1.7))
    return together(*rows)


@pytest.mark.parametrize("frames", [1, 3])
def test_a_stem_that_lengthens_in_the_first_photos_is_told_of_as_soon_as_it_can_be(frames):
    """A photo a day: at rest, and longer from the third and fourth on; the fifth decides."""
    stem = np.array([16.0, 16, 17, 20, 24, 28, 32, 36, 40])
    table = plant_rows("A", every(24, 9), stem + 10, ratio=3.8, stem=stem)
    tray = tray_of("A", judge={"leggy_frames": frames})
    whole = judge(table, tray).events
    assert clock(96) in set(whole["known"][whole["event"] == "stretching"])
    for hours in every(24, 9):
        told = judge(until(table, hours), tray).events
        expected = whole[whole["known"] <= clock(hours)].reset_index(drop=True)
        pd.testing.assert_frame_equal(told, expected, check_dtype=False)


HANDLED = tray_of("A", "B", "C", "D")


@pytest.mark.parametrize("noise_seed", range(3))
def test_turned_and_exchanged_pots_are_told_the_same_from_every_shorter_record(noise_seed):
    table = handled(noise_seed)
    whole = judge(table, HANDLED).events
    assert list(whole["event"]).count("turned") == 3 and list(whole["event"]).count("exchanged") == 2
    known = (pd.to_datetime(whole["known"]) - pd.Timestamp(START)).dt.total_seconds() / 3600
    for hours in H:
        told = judge(until(table, hours), HANDLED).events
        pd.testing.assert_frame_equal(told, whole[known <= hours].reset_index(drop=True), check_dtype=False)


@pytest.mark.parametrize("noise_seed", range(2))
def test_slow_sinking_and_standing_up_again_are_told_the_same_from_every_shorter_record(noise_seed):
    rng = np.random.default_rng(noise_seed)
    h = 60 + 0.1 * H + 2 * np.cos(2 * np.pi * H / 24) + rng.normal(0, 0.6, N)
    h *= 1 - 0.24 * np.clip((H - 90) / 18, 0, 1) * (H < 126)
    table, tray = plant_rows("A", H, h, canopy=400.0), tray_of("A")
    whole = judge(table, tray).events
    assert list(whole["event"]) == ["flopped", "wilted"]
    for hours in H:
        told = judge(until(table, hours), tray).events
        expected = whole[whole["known"] <= clock(hours)].reset_index(drop=True)
        pd.testing.assert_frame_equal(told, expected, check_dtype=False)


STANDING = tray_of(
    "A", "B", "C",
    each={"sowing": "s"},
    sowing=[{"name": "s", "crop": "tomato", "sown": "2026-01-20T08:00:00", "soil_c": 25}],
)  # fmt: skip


def photos_of_standing_plants(count):
    """Late photos: A and B stand in the first one, nothing ever comes up in C."""

    def seen(height):
        return PlantFinding(300.0, height_px=height, stem_px=height / 2, width_px=40.0, lean_deg=0.0, seedlings=1)

    empty = PlantFinding(0.0)
    return [
        UsedFrame(f"IMG_{n}.JPG", clock(6 * n), 6.0 * n, Findings("", plants=(seen(120.0 + n), seen(90.0), empty)))
        for n in range(count)
    ]


def settled(photos):
    return settle(photos, STANDING, [0.5, 0.5, 0.5], 0.004)


def test_the_third_photo_of_standing_plants_takes_nothing_back():
    photos = photos_of_standing_plants(6)
    whole = judge(settled(photos), STANDING).events
    assert set(whole["plant"]) == {"C"}
    known = (pd.to_datetime(whole["known"]) - pd.Timestamp(START)).dt.total_seconds() / 3600
    for count in range(1, 7):
        told = judge(settled(photos[:count]), STANDING).events
        expected = whole[known <= 6 * (count - 1)].reset_index(drop=True)
        pd.testing.assert_frame_equal(told, expected, check_dtype=False)


def test_two_photos_of_standing_plants_are_not_called_overdue_nor_to_be_sown_again():
    table = settled(photos_of_standing_plants(2))
    got = judge(table, STANDING)
    assert got.events.empty
    assert "not known yet" in got.sowings.iloc[0]["verdict"]
    assert not [item for item in care_list(table, got, STANDING) if item.key.startswith("overdue")]


def test_the_shelf_of_this_test_has_every_kind_of_event():
    kinds = set().union(*(judge(shelf(s), TRAY).events["event"] for s in range(4)))
    assert {
        "emerged",
        "leggy",
        "stretching",
        "trimmed",
        "collapsed",
        "wilted",
        "overdue",
        "lamp too near",
        "yellower",
    } <= kinds


def test_events_stand_in_the_order_in_which_they_could_be_said():
    known = list(judge(shelf(0), TRAY).events["known"])
    assert known == sorted(known)
