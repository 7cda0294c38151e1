"""What goes outside, and when: not what is too young for it, and no cold night for what bears none."""

import sys
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent / "growth"))
from seedling_tables import clock, plant_rows, together, tray_of
from sown_pots import H, N, care, of, scene, sown

from sproutlapse import care_sprouts
from sproutlapse.care_season import stages


def outside(day, crop="tomato", **settings):
    tray = tray_of("A", each={"sowing": "s"}, season={"plant_out": "2026-05-15"},
                   sowing=[{"name": "s", "crop": crop, "under_light": True, **settings}])  # fmt: skip
    table = plant_rows("A", H, np.full(N, 40.0))
    return care(table, tray, now=f"2026-05-{day:02d}T08:00:00")


@pytest.mark.parametrize(("day", "words"), [("2026-03-12", "too young to go outside; 5 days to planting out"),
                                            ("2026-03-07", "too young to plant out")])  # fmt: skip
def test_a_sprout_of_some_hours_is_not_sent_outside(day, words):
    table, tray = sown(20, 20, 99, 99, sown="2026-01-02T08:00:00")
    old = plant_rows("D", H, np.full(N, 40.0))
    table = together(table[table["plant"] != "D"], old)
    season = tray.season.model_copy(update={"plant_out": datetime.fromisoformat(day).date()})
    tray = tray.model_copy(update={"season": season})
    items = care(table, tray, now=clock(H[-1]))
    (item,) = of(items, "not yet")
    assert item.plants == ("A", "B")
    assert "Less than 10 days after coming up" in item.reason
    (go,) = [i for i in items if i.key.startswith(("harden", "plant out"))]
    assert go.plants == ("D",)
    young, only = sown(20, 20, 99, 99, sown="2026-01-02T08:00:00")
    only = only.model_copy(update={"season": season})
    assert stages(scene(young, only, clock(H[-1]))) == (f"s: {words}.",)


@pytest.mark.parametrize("crop", ["courgette", "pumpkin", "impatiens", "begonia", "coleus", "zinnia", "marigold"])
def test_what_bears_no_cold_night_comes_in_for_it(crop):
    assert "below about 7 °C" in of(outside(6, crop=crop), "harden")[0].remedy
    assert "nights fall below about 7 °C" in of(outside(16, crop=crop), "plant out")[0].remedy


def test_the_share_at_which_the_cover_goes_is_the_published_one(monkeypatch):
    # About half of the seeds: Coffin 2023, Univ. of Maine Extension.
    assert care_sprouts.SHARE_UP == 0.5
    table, tray = sown(14, 18, 99, 99, under_light=True)
    assert of(care(table, tray), "cover")
    monkeypatch.setattr(care_sprouts, "SHARE_UP", 0.75)
    assert not of(care(table, tray), "cover")
    assert "first up, 2 of 4" in stages(scene(table, tray))[0]
