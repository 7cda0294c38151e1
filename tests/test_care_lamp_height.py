"""A lamp that was said to be seen to is not forgotten: its height is asked for, and no distance is told until then."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent / "growth"))
from seedling_tables import clock, every, plant_rows, together, tray_of

from sproutlapse.care import care_list
from sproutlapse.growth.judge import judge
from sproutlapse.results import DiaryEntry
from sproutlapse.tray import Tray

N = 40
H = every(6, N)


def care(table, tray, *marks, now=""):
    diary = [DiaryEntry(clock(hours), "done", cause, "x") for cause, hours in marks]
    return care_list(table, judge(table, tray), tray, diary=diary, now_text=now)


def of(items, key):
    return [i for i in items if i.key.startswith(key + ":")]


def under_a_tube(above_mm, *more):
    tube = {"name": "left", "kind": "tube"}
    return tray_of(
        "A", lamp=[{**tube, "above_soil_mm": above_mm}, *({**tube, **one} for one in more)], each={"lamp": "left"}
    )


def rows(height, *, leggy=False):
    height = np.broadcast_to(np.asarray(height, dtype=float), (N,))
    return plant_rows("A", H, height, ratio=7 if leggy else 2.5, stem=0.8 * height if leggy else 12)


def test_no_mark_silences_a_plant_that_grew_above_the_height_written_for_its_lamp():
    growing = rows(np.linspace(40, 140, N))
    marks = (("lamp:left", H[20]), ("lamp height:left", H[21]))
    (item,) = care(growing, under_a_tube(120), *marks)
    assert "contradict" in item.reason
    assert item.urgency == "now"
    # Said to be seen to: quiet until it has grown on by 20 mm (one photo is 2.6 mm of growth), or for three days.
    assert not care(growing, under_a_tube(120), *marks, ("lamp below:left", H[-3]))
    (again,) = care(growing, under_a_tube(120), *marks, ("lamp below:left", H[-12]))
    assert again.since > clock(H[-12])
    steady = rows(np.r_[np.full(20, 40.0), np.full(20, 130.0)])
    assert not care(steady, under_a_tube(120), ("lamp below:left", H[30]), now=clock(H[30] + 71))
    assert care(steady, under_a_tube(120), ("lamp below:left", H[30]), now=clock(H[30] + 72))


def test_the_two_causes_of_a_lamps_height_have_names_of_their_own():
    asked = care(rows(100.0), under_a_tube(120), ("lamp:left", H[30]))[0]
    against = care(rows(130.0), under_a_tube(120))[0]
    assert asked.key.partition(":")[0] != against.key.partition(":")[0]
    assert against.since == clock(H[0])


def test_now_does_not_become_this_week_by_a_mark_alone():
    tray, table = under_a_tube(120), rows(90.0)
    assert [i.urgency for i in care(table, tray)] == ["now"]
    assert [i.urgency for i in care(table, tray, ("lamp:left", H[-2]))] == ["today"]
    (old,) = care(table, tray, ("lamp:left", H[5]))
    assert old.urgency == "now"
    assert "75 mm are left" in old.remedy
    # That it was measured is believed for no longer either.
    assert not care(table, tray, ("lamp:left", H[-3]), ("lamp height:left", H[-2]))
    assert care(table, tray, ("lamp:left", H[5]), ("lamp height:left", H[6]))


@pytest.mark.parametrize("cause", ["lamp:left", "lamp far:left"])
def test_no_lamp_is_lowered_from_a_height_that_is_known_to_be_old(cause):
    table, mark = rows(40.0, leggy=True), (cause, H[20])
    assert any("Lower the lamp" in i.remedy for i in care(table, under_a_tube(300)))
    items = care(table, under_a_tube(300), mark)
    assert not any("Lower" in i.title + i.remedy or "lamp hangs" in i.reason for i in items)
    (item,) = of(items, "leggy")
    assert "not known" in item.remedy
    assert of(items, "lamp height")
    # With the new height written down its distance is told again.
    written = under_a_tube(300, {"above_soil_mm": 280, "since": clock(H[20])})
    (item,) = of(care(table, written, mark), "leggy")
    assert "from 240 to 75 mm" in item.remedy
    assert not of(care(table, written, mark), "lamp height")


def test_nothing_is_foretold_under_a_lamp_whose_height_is_old():
    growing = rows(20 + 5 * H / 24)
    assert of(care(growing, under_a_tube(155)), "lamp soon")
    assert not of(care(growing, under_a_tube(155), ("lamp far:left", H[30])), "lamp soon")


def test_a_lamp_that_was_lowered_since_is_still_too_near():
    assert of(care(rows(90.0), under_a_tube(150), ("lamp far:left", H[2])), "lamp")


def test_no_blades_are_cut_for_a_lamp_whose_height_is_old():
    parts = {
        "sowing": [{"name": "s", "crop": "leek"}],
        "lamp": [{"name": "left", "kind": "tube", "above_soil_mm": 240}],
    }
    tray = tray_of("A", each={"habit": "grasslike", "sowing": "s", "lamp": "left"}, **parts)
    table = plant_rows("A", H, np.full(N, 180.0), canopy=300.0, stem=np.nan)
    assert of(care(table, tray), "trim")
    assert not of(care(table, tray, ("lamp:left", H[20])), "trim")


def test_one_poor_height_does_not_end_what_was_said_of_a_lamp():
    height = np.full(N, 100.0)
    height[-2] = 130.0
    (item,) = care(rows(height), under_a_tube(120), ("lamp:left", H[-4]))
    assert item.urgency == "today"


def sowing_of_nothing(day, *marks, now, **judged):
    sowing = {"name": "s", "crop": "tomato", "soil_c": 20, "sown": f"2026-02-{day:02d}T08:00:00"}
    tray = tray_of("A", each={"sowing": "s"}, sowing=[sowing], judge=judged)
    return of(care(plant_rows("A", H, np.zeros(N)), tray, *marks, now=now), "overdue")


def test_an_overdue_sowing_seen_to_is_told_of_again_when_it_was_sown_anew():
    # Tomato at 20 °C takes 8 days (Harrington & Minges 1954), so 16 days after sowing.
    mark = ("overdue:s", H[8])
    (item,) = sowing_of_nothing(10, now=clock(H[8]))
    assert item.since == "2026-02-26T08:00:00"
    assert not sowing_of_nothing(10, mark, now="2026-03-20T08:00:00")
    assert sowing_of_nothing(25, mark, now="2026-03-20T08:00:00")


def test_the_days_of_the_alarm_are_those_that_were_set():
    (item,) = sowing_of_nothing(10, now="2026-03-20T08:00:00", overdue_times=3)
    assert "up to 3 times that is no alarm" in item.reason


def beside_pots_not_up(now="", **sowing):
    names = "ABCD"
    plants = [
        {"name": n, "box_px": [100 * i, 0, 100 * i + 90, 300], "habit": "broadleaf", "lamp": "left",
         "sowing": "t" if i else "s"}
        for i, n in enumerate(names)
    ]  # fmt: skip
    tray = Tray.model_validate(
        {"plant": plants, "lamp": [{"name": "left", "kind": "tube", "above_soil_mm": 240}],
         "sowing": [{"name": "s", "crop": "tomato"}, {"name": "t", "crop": "tomato", **sowing}]}
    )  # fmt: skip
    table = together(rows(40.0, leggy=True), *(plant_rows(n, H, np.zeros(N)) for n in "BCD"))
    return of(care(table, tray, now=now), "leggy")[0]


def test_a_lamp_over_covers_is_not_lowered_for_a_stretched_plant_either():
    item = beside_pots_not_up()
    assert "Lower the lamp" not in item.remedy
    assert "B, C and D under the lamp “left” still wait" in item.remedy


def test_pots_that_are_overdue_do_not_hold_the_lamp_for_ever():
    assert "Lower the lamp" in beside_pots_not_up(soil_c=25, sown="2026-02-01T08:00:00").remedy
