"""What comes up under a cover is up by the uncovering; the hour is never made up."""

import numpy as np
import pandas as pd
from seedling_tables import clock, plant_rows, together, tray_of

from sproutlapse.growth.covers import covers_in_words
from sproutlapse.growth.judge import judge
from sproutlapse.tray import Tray

HOURS = np.arange(20) * 6.0


def under(rows: pd.DataFrame, covered: np.ndarray) -> pd.DataFrame:
    """Rows of a plant that a cover hides in some photos: nothing is measured there."""
    rows = rows.assign(covered=covered, pot_x=0.0, pot_y=0.0)
    rows.loc[covered, [c for c in rows if c.endswith(("_mm", "_mm2", "_px", "_deg", "_to_leaf"))]] = np.nan
    rows.loc[covered, "seedlings"] = 0
    return rows


def up_from(name: str, row: int, off: int) -> pd.DataFrame:
    """A plant that is up from a photo on, under a cover until another."""
    height = np.where(np.arange(20) >= row, 3.0 + np.arange(20), 0.0)
    return under(plant_rows(name, HOURS, height), np.arange(20) < off)


def judged(*plants: pd.DataFrame, tray: Tray | None = None):
    return judge(together(*plants), tray or tray_of(*(rows["plant"].iloc[0] for rows in plants)))


def test_a_plant_that_came_up_under_the_cover_is_up_by_the_uncovering():
    told = judged(up_from("A", 4, 10))
    assert told.plants.loc[0, ["emerged_after", "emerged_by"]].tolist() == ["", clock(60)]
    event = told.events[told.events["event"] == "emerged"].iloc[0]
    assert (event["time"], event["known"]) == (clock(60), clock(72))
    assert "by the uncovering" in event["detail"]


def test_one_that_comes_up_well_after_the_uncovering_has_its_hour():
    told = judged(up_from("A", 17, 6))
    assert told.plants.loc[0, ["emerged_after", "emerged_by"]].tolist() == [clock(96), clock(102)]


def test_one_first_told_just_after_the_uncovering_may_have_stood_there():
    told = judged(up_from("A", 12, 10))
    assert told.plants.loc[0, ["emerged_after", "emerged_by"]].tolist() == ["", clock(72)]
    assert "may have stood there" in told.events.set_index("event").loc["emerged", "detail"]


def test_a_plant_seen_bare_before_the_cover_came_up_between():
    rows = under(plant_rows("A", HOURS, np.where(np.arange(20) >= 8, 9.0, 0.0)), (HOURS >= 30) & (HOURS < 72))
    told = judged(rows)
    assert told.plants.loc[0, ["emerged_after", "emerged_by"]].tolist() == [clock(24), clock(72)]


def test_one_cover_over_all_is_one_event_and_over_one_pot_names_it():
    all_off = judged(up_from("A", 4, 10), up_from("B", 5, 10)).events.query("event == 'uncovered'")
    assert all_off[["time", "plant"]].values.tolist() == [[clock(60), ""]]
    one_off = judged(up_from("A", 4, 10), up_from("B", 12, 0)).events.query("event == 'uncovered'")
    assert one_off[["time", "plant"]].values.tolist() == [[clock(60), "A"]]


def test_nothing_is_overdue_under_a_cover():
    tray = tray_of("A", each={"sowing": "s"}, sowing=[{"name": "s", "crop": "lettuce", "sown": "2026-02-01T08:00:00"}])
    told = judged(up_from("A", 4, 20), tray=tray)
    assert "overdue" not in set(told.events["event"])
    assert "cover" in told.sowings.loc[0, "verdict"]


def test_events_of_covered_plants_do_not_change_as_photos_come_in():
    whole = together(up_from("A", 4, 10), up_from("B", 12, 10))
    tray = tray_of("A", "B")
    last = judge(whole, tray).events
    for hours in HOURS:
        part = judge(whole[whole["elapsed_h"] <= hours].reset_index(drop=True), tray).events
        known = last[last["known"] <= clock(hours)].reset_index(drop=True)
        pd.testing.assert_frame_equal(part, known, check_dtype=False)


def test_a_cover_in_every_photo_is_said_with_what_to_do():
    always = covers_in_words(up_from("A", 4, 20))
    assert "in every photo" in always[0] and "Take it off" in always[0]
    assert "10 of 20 photos" in covers_in_words(up_from("A", 4, 10))[0]
    assert covers_in_words(up_from("A", 4, 0)) == []


def test_a_pot_that_was_away_in_the_first_photos_had_no_cover():
    rows = under(plant_rows("A", HOURS, np.full(20, 9.0)), HOURS < 30).assign(covered=False)
    told = judged(rows, up_from("B", 12, 0))
    (detail,) = told.events.query("event == 'emerged' and plant == 'A'")["detail"]
    assert detail == "by now: it was up when its place was first seen, since when is not known"
