"""Who leads and lags within a sowing, how even it is, and which plants are fit to be used."""

import math

import numpy as np
import pytest
from seedling_tables import every, plant_rows, together, tray_of, without_scale

from sproutlapse.growth.judge import judge

N = 40
H = every(6, N)


def grown(name, per_day, *, first=4, swing=0.0, at=None, **more):
    """A pot that grows evenly from a photo on, its leaves moving with the hour; `at` sets heights of single photos."""
    age = (H - H[first] + 3) / 24
    height = np.where(np.arange(N) < first, 0, np.clip(per_day * age * (1 + swing * np.sin(H * np.pi / 12)), 0.1, None))
    for row, value in (at or {}).items():
        height[row:] = value
    return plant_rows(name, H, height, canopy=20 + 5 * np.maximum(age, 0), **more)


def judged(*pots, habit="broadleaf", **parts):
    names = [rows["plant"].iloc[0] for rows in pots]
    each = {"sowing": "s", "habit": habit}
    got = judge(together(*pots), tray_of(*names, each=each, sowing=[{"name": "s"}], **parts))
    return got.plants.set_index("plant"), got.sowings.iloc[0]


def test_one_that_came_up_late_but_grows_as_fast_neither_lags_nor_is_too_small():
    plants, _ = judged(grown("a", 4), grown("b", 4), grown("c", 4, first=12))
    assert set(plants["standing"]) == {"level"}
    assert plants["usable"].all()
    assert plants.loc["c", "lead_share"] == pytest.approx(0, abs=0.02)


def test_one_that_grows_faster_leads_and_a_slow_one_lags_with_their_doubt():
    plants, _ = judged(grown("a", 4), grown("b", 4), grown("c", 6), grown("d", 2.4))
    assert list(plants["standing"]) == ["level", "level", "leads", "lags"]
    assert plants.loc["c", "lead_share"] == pytest.approx(0.5, abs=0.03)
    assert 0 < plants.loc["c", "lead_sd_share"] < 0.1


def test_a_lead_within_its_doubt_is_none():
    """Photos every six hours leave a tenth of the age open where plants are a day and a half old."""
    rows = [grown(n, v, first=32) for n, v in (("a", 4), ("b", 4), ("c", 5))]
    for r in rows:
        r["height_sd_mm"] = np.where(r["height_mm"].notna(), 2.0, np.nan)
    plants, _ = judged(*rows)
    assert plants.loc["c", "lead_share"] > 0.2
    assert plants.loc["c", "standing"] == "level"


def test_leaves_that_move_with_the_hour_make_no_leader():
    plants, sowing = judged(*(grown(n, 4, first=4 + k, swing=0.15) for k, n in enumerate("abcd")))
    assert set(plants["standing"]) == {"level"}
    assert sowing["equal_age_spread"] < 0.06


def test_a_sowing_that_is_uneven_shows_its_spread():
    _, sowing = judged(grown("a", 3), grown("b", 4), grown("c", 5))
    assert sowing["equal_age_spread"] == pytest.approx(0.25, abs=0.01)  # sd of 3, 4, 5 over their mean
    assert sowing["equal_age_height_mm"] == pytest.approx(4 * sowing["equal_age_days"], rel=0.03)


def test_heights_are_compared_before_the_first_cut():
    cut = dict.fromkeys(range(30, N), 12.0)
    pots = [grown(n, 8, at=cut) for n in "abc"]
    plants, sowing = judged(*pots, habit="grasslike")
    assert sowing["equal_age_days"] < 6.6
    assert set(plants["standing"]) == {"level"}


def test_a_sturdy_plant_does_not_lag_behind_leggy_ones():
    stem = 0.8 * np.maximum(6 * (H - H[4] + 3) / 24, 0.1)
    pots = [
        grown("a", 4),
        grown("b", 3.8),
        grown("c", 3.9),
        *(grown(n, 6, ratio=7.0, stem=stem) for n in ("long", "longer")),
    ]
    plants, _ = judged(*pots)
    assert plants["standing"].to_dict() == {
        "a": "level",
        "b": "level",
        "c": "level",
        "long": "leads",
        "longer": "leads",
    }
    assert set(plants.loc[["long", "longer"], "unusable_because"]) == {"leggy"}


def test_two_plants_of_different_sowings_are_never_compared():
    tray = tray_of("a", "b", sowing=[{"name": "s"}, {"name": "t"}])
    plants = tuple(p.model_copy(update={"sowing": s}) for p, s in zip(tray.plants, "st", strict=True))
    got = judge(together(grown("a", 4), grown("b", 9)), tray.model_copy(update={"plants": plants}))
    assert set(got.plants["standing"]) == {""}
    assert got.plants["lead_share"].isna().all()


def test_what_stood_in_the_first_photo_has_no_age_to_be_compared_at():
    plants, _ = judged(grown("a", 4, first=0), grown("b", 4), grown("c", 4))
    assert plants.loc["a", "standing"] == ""
    assert plants.loc["a", "usable"]


def test_without_a_scale_shares_are_told_and_no_heights():
    pots = [without_scale(grown(n, v)) for n, v in (("a", 4), ("b", 4), ("c", 6))]
    plants, sowing = judged(*pots)
    assert plants.loc["c", "standing"] == "leads"
    assert math.isnan(sowing["equal_age_height_mm"])
    assert math.isnan(plants.loc["c", "first_seen_mm"])


def test_fit_to_be_used_are_those_up_there_standing_sturdy_and_no_runts():
    gone = grown("gone", 4)
    gone.loc[30:, ["canopy_px", "canopy_mm2"]] = 0
    gone.loc[30:, ["height_mm", "height_px"]] = np.nan
    leggy = grown("leggy", 4, ratio=7.0, stem=0.8 * np.maximum(4 * (H - H[4] + 3) / 24, 0.1))
    pots = [grown("a", 4), grown("b", 4), grown("c", 4), gone, leggy, grown("runt", 1.6)]
    pots.append(plant_rows("never", H, np.zeros(N)))
    plants, sowing = judged(*pots)
    assert plants["unusable_because"].to_dict() == {
        "a": "", "b": "", "c": "", "gone": "gone", "leggy": "leggy", "runt": "too small for its age", "never": "not up",
    }  # fmt: skip
    assert sowing["usable"] == 3


def test_one_that_lies_on_the_soil_is_not_fit_to_be_used():
    fallen = grown("fallen", 4, at={34: 8.0})
    plants, _ = judged(grown("a", 4), grown("b", 4), fallen)
    assert plants.loc["fallen", "unusable_because"] == "down"


def test_two_photos_do_not_tell_what_is_fit_to_be_used():
    rows = plant_rows("a", [0, 6], [5, 6])
    plants, sowing = judged(rows)
    assert plants["usable"].isna().all()
    assert str(sowing["usable"]) == "<NA>"


def test_the_height_at_first_sight_is_that_of_the_first_photo_with_the_plant():
    plants, _ = judged(grown("a", 8), grown("b", 2))
    assert plants.loc["a", "first_seen_mm"] == pytest.approx(1.0)
    assert plants.loc["b", "first_seen_mm"] == pytest.approx(0.25)


def test_hourly_photos_of_sprouts_of_a_few_hours_are_judged_at_every_frame():
    hours = every(1, 30)
    height = np.where(np.arange(30) < 10, 0, 0.5 + 0.2 * (np.arange(30) - 9))
    table = together(plant_rows("a", hours, height), plant_rows("b", hours, 1.1 * height))
    tray = tray_of("a", "b", each={"sowing": "s"}, sowing=[{"name": "s"}])
    for last in hours:
        part = table[table["elapsed_h"] <= last].reset_index(drop=True)
        assert len(judge(part, tray).plants) == 2


def test_the_scale_that_two_plants_share_is_no_doubt_between_them():
    pots = [grown(n, v) for n, v in (("a", 4.0), ("b", 4.0), ("c", 4.1), ("d", 5.2))]
    table = together(*pots)
    scaled = table.assign(height_sd_mm=np.hypot(table["height_sd_mm"], 0.12 * table["height_mm"]))
    tray = tray_of("a", "b", "c", "d", each={"sowing": "s", "habit": "broadleaf"}, sowing=[{"name": "s"}])
    plain, rough = (judge(t, tray, scale_sd=s).plants.set_index("plant") for t, s in ((table, 0.0), (scaled, 0.12)))
    assert rough.loc["d", "lead_sd_share"] == pytest.approx(plain.loc["d", "lead_sd_share"], rel=1e-6)
    assert rough.loc["d", "standing"] == "leads"


def test_the_scale_of_a_later_view_makes_no_lead_before_it_surer():
    pots = [grown(n, v) for n, v in (("a", 4.0), ("b", 4.0), ("c", 4.1), ("d", 5.2))]
    table = together(*pots)
    table = table.assign(height_sd_mm=np.hypot(table["height_sd_mm"], 0.02 * table["height_mm"]))
    moved = table.assign(view=(table["elapsed_h"] > table["elapsed_h"].max() - 12).astype(int))
    tray = tray_of("a", "b", "c", "d", each={"sowing": "s", "habit": "broadleaf"}, sowing=[{"name": "s"}])
    own = judge(table, tray, scale_sd=0.02).plants.set_index("plant")
    with_later = judge(moved, tray, scale_sd=0.02, later_sd=[0.12]).plants.set_index("plant")
    assert with_later.loc["d", "lead_sd_share"] >= own.loc["d", "lead_sd_share"] > 0.0


def test_a_plant_that_is_gone_has_no_verdict_and_no_growth_of_today():
    height = np.where(np.arange(N) < 4, 0, np.where(np.arange(N) < 30, 5.0 + np.arange(N), 0))
    table = plant_rows("a", H, height, canopy=200.0)
    tray = tray_of("a", each={"habit": "broadleaf"})
    row = judge(table, tray).plants.iloc[0]
    assert row["unusable_because"] == "gone"
    assert row["grade"] == "" and not row["leggy"] and math.isnan(row["growth_mm_per_day"])
