"""The story of one plant: the tables' numbers and the events' words, in sentences."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

import pandas as pd
import pytest

from sproutlapse.report.page import render
from sproutlapse.report.story import story_of
from sproutlapse.report.told import diary
from sproutlapse.report.told_sowings import order_told, sowings_told, usable_told
from sproutlapse.results import Results

MakeResults = Callable[..., Results]


def test_it_tells_when_a_plant_came_up_how_tall_it_stands_and_how_it_is_judged(make_results: MakeResults) -> None:
    results = make_results(sowings=("pepper",), dark=None)
    plants = results.plants.assign(first_seen_mm=[1.5, 2.0, float("nan")])
    how = " ".join(story_of(replace(results, plants=plants), "A").how)
    assert "Sowing: pepper, sown 1 Mar 2026, 09:00." in how
    assert "Came up on 1 Mar, between 15:00 and 21:00" in how
    assert "the first of 2 of its sowing that came up; first seen at 1.5 mm." in how
    assert "Height when last measured: 100 mm, give or take 2. Growth: +4.0 mm a day" in how
    assert "Verdict: sturdy." in how


def test_events_are_told_in_the_words_of_the_diary_and_those_of_others_left_out(make_results: MakeResults) -> None:
    results = make_results(sowings=("pepper", "basil"))
    rows = [
        ("2026-03-02T09:00:00", "2026-03-02T21:00:00", "A", "leggy", "23 mm tall, height to leaf 6.4"),
        ("2026-03-02T09:00:00", "2026-03-02T09:00:00", "C", "trimmed", "cut back from 90 to 50 mm"),
        ("2026-03-02T15:00:00", "2026-03-02T15:00:00", "", "watered", "the soil turned darker"),
        ("2026-03-02T21:00:00", "2026-03-02T21:00:00", "", "done", "basil: 1 of 1 pot up"),
        ("2026-03-02T21:00:00", "2026-03-02T21:00:00", "", "half up", "pepper: 1 of 2 pots up"),
    ]
    told = replace(results, events=pd.DataFrame(rows, columns=list(results.events.columns)))
    assert story_of(told, "A").happened == (
        "2 Mar, 09:00: leggy: 23 mm tall, height to leaf 6.4 (known from 21:00)",
        "2 Mar, 15:00: watered: the soil turned darker",
        "2 Mar, 21:00: half up: pepper: 1 of 2 pots up",
    )


def test_growth_of_the_leaf_is_told_as_the_days_in_which_it_doubles(make_results: MakeResults) -> None:
    results = make_results(sowings=("pepper",))
    for rate, said in ((0.2, True), (0.01, False), (-0.1, False), (float("nan"), False)):
        how = " ".join(story_of(replace(results, plants=results.plants.assign(rgr_per_day=rate)), "A").how)
        assert ("The leaf area seen doubles in about 3.5 days." in how) == said
        assert said or "doubles" not in how


def test_events_stand_in_the_order_in_which_they_happened_with_when_they_were_known(make_results: MakeResults) -> None:
    results = make_results(sowings=("pepper",))
    rows = [
        ("2026-03-02T15:00:00", "2026-03-02T15:00:00", "", "watered", "the soil turned darker"),
        ("2026-03-02T09:00:00", "2026-03-02T21:00:00", "A", "leggy", "23 mm tall"),
    ]
    told = replace(results, events=pd.DataFrame(rows, columns=list(results.events.columns)))
    assert [line.event for line in diary(told)] == ["watered", "leggy"]
    assert [line.known for line in diary(told)] == ["", "21:00"]
    assert [line[:13] for line in story_of(told, "A").happened] == ["2 Mar, 09:00:", "2 Mar, 15:00:"]


def test_a_bare_stem_is_told_once_with_the_day_it_is_of(make_results: MakeResults) -> None:
    results = make_results(sowings=("pepper",))
    why = "its height fits its leaf and stem: height to leaf 2.4, bare stem 15 mm, 16 % of the height"
    how = " ".join(story_of(replace(results, plants=results.plants.assign(grade_why=why)), "A").how)
    assert how.count("bare stem") == 1
    assert f"{why} (the middle of the 24 hours up to " in how


def test_a_plant_that_stands_is_told_what_collapsed_beside_it(make_results: MakeResults) -> None:
    results = make_results(names=("A", "B", "C"), sowings=("pepper",), dark=None)
    plants = [
        p.model_copy(update={"box_px": (100.0 * i, 0.0, 100.0 * i + 90, 200.0)})
        for i, p in enumerate(results.tray.plants)
    ]
    tray = results.tray.model_copy(update={"plants": tuple(plants)})
    at = results.frames[4].time
    rows = [(at, at, "B", "collapsed", "collapsed, from 40 to 9 mm tall")]
    told = replace(results, tray=tray, events=pd.DataFrame(rows, columns=list(results.events.columns)))
    assert any(line.startswith("Beside it B collapsed, on 2 Mar") for line in story_of(told, "A").how)
    assert not any("Beside it" in line for line in story_of(told, "B").how)
    assert not any("Beside it" in line for line in story_of(results, "A").how)


def test_what_is_to_be_done_for_it_stands_there_and_nothing_for_others(make_results: MakeResults) -> None:
    results = make_results()
    assert [line.split(".")[0] for line in story_of(results, "A").to_do] == ["now: Bring the lamp closer"]
    assert story_of(results, "A").lines[0] == "A"
    assert story_of(replace(results, care=()), "A").to_do == ()


def test_of_a_pot_with_nothing_up_nothing_is_made_up(make_results: MakeResults) -> None:
    how = story_of(make_results(sowings=("pepper",)), "C").how
    assert how == ("Sowing: pepper, sown 1 Mar 2026, 09:00.", "Not up yet.", "Measured in 0 of 11 photos.")


def test_without_a_scale_it_speaks_in_pixels(make_results: MakeResults) -> None:
    how = " ".join(story_of(make_results(scale=False), "A").how)
    assert "Height when last measured: 200 pixels." in how
    assert " mm" not in how.replace("mm a day", "")


def test_a_long_gap_is_told_as_one_and_a_date_of_sowing_after_the_sprout_is_doubted(make_results: MakeResults) -> None:
    results = make_results(sowings=("pepper",), dark=None)
    times = [frame.time for frame in results.frames]
    plants = results.plants.assign(emerged_after=times[1], emerged_by=times[8])
    how = " ".join(story_of(replace(results, plants=plants), "A").how)
    assert "0.2 to 2.0 days after sowing" in how
    late = results.tray.sowings[0].model_copy(update={"sown": datetime(2026, 3, 9)})
    told = replace(results, tray=results.tray.model_copy(update={"sowings": (late,)}))
    how = " ".join(story_of(told, "A").how)
    assert "That is after it came up: check the date." in how
    assert "days after sowing" not in how


def test_two_photos_do_not_tell_whether_it_is_up(make_results: MakeResults) -> None:
    how = story_of(make_results(photos=2, grown=False, dark=None), "A").how
    assert "Whether it is up is not known yet." in how
    assert any("So few do not tell what is up." in line for line in how)


def test_a_plant_that_is_not_there_is_no_story(make_results: MakeResults) -> None:
    with pytest.raises(KeyError):
        story_of(make_results(), "Z")


def test_the_page_carries_the_same_words(make_results: MakeResults) -> None:
    results = make_results(names=("A", "B", "C"), sowings=("pepper",))
    page = render(results, [], film=None)
    for line in (*story_of(results, "A").how, *story_of(results, "A").happened):
        assert line in page


def standing(**columns: list[object]) -> pd.DataFrame:
    return pd.DataFrame({"plant": ["A", "B", "C"], **columns})


def test_leaders_are_named_with_their_doubt_and_a_leggy_one_as_such() -> None:
    plants = standing(
        standing=["leads", "level", "lags"],
        lead_share=[0.35, 0.0, -0.4],
        lead_sd_share=[0.04] * 3,
        grade=["leggy", "sturdy", "sturdy"],
    )
    assert order_told(plants) == (
        "Taller than the others at the same age: A (35 % more than the middle one, give or take 8; leggy). "
        "Shorter than the others at the same age: C (40 % less than the middle one, give or take 8)."
    )


def test_plants_fit_to_be_used_are_counted_and_the_others_named_with_their_reason() -> None:
    plants = standing(usable=[True, False, False], unusable_because=["", "leggy", "leggy"])
    assert usable_told(plants) == "Fit to be used: 1 of 3 (leggy: B and C)."
    assert usable_told(standing(usable=[None, True, True], unusable_because=[""] * 3)) == ""


def test_days_of_pots_and_of_single_seeds_are_not_set_side_by_side(make_results: MakeResults) -> None:
    results = make_results(names=("A", "B", "C", "D"), sowings=("pepper", "basil"))
    mixed = replace(results, sowings=results.sowings.assign(times_of=["pot", "seed"]))
    pepper, basil = (" ".join(told.sentences) for told in sowings_told(mixed))
    assert "do not compare with days of single seeds" in pepper
    assert "Days are those of single seeds." in basil
    alike = replace(results, sowings=results.sowings.assign(times_of="pot"))
    assert "single" not in " ".join(sentence for told in sowings_told(alike) for sentence in told.sentences)
