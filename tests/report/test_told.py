"""What is said of a sowing: in the order of time, even where the camera's clock was set."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from sproutlapse.report.facts import plants_now
from sproutlapse.report.told import cautions_told
from sproutlapse.report.told_sowings import sowings_told
from sproutlapse.results import CareItem, Results

MakeResults = Callable[..., Results]


def set_back(results: Results, *, from_photo: int, hours: float) -> Results:
    """The same run with the camera's clock set back before one photo; elapsed hours stay right."""

    def shown(time: str) -> str:
        return (datetime.fromisoformat(time) - timedelta(hours=hours)).isoformat()

    frames = tuple(replace(f, time=shown(f.time)) if n >= from_photo else f for n, f in enumerate(results.frames))
    written = {old.time: new.time for old, new in zip(results.frames, frames, strict=True)}
    plants = results.plants.copy()
    for column in ("emerged_after", "emerged_by"):
        plants[column] = [written.get(str(t), t) for t in plants[column]]
    return replace(results, frames=frames, plants=plants)


def test_a_clock_that_was_set_back_changes_no_sentence(make_results: MakeResults) -> None:
    results = make_results(sowings=("s",), dark=None)
    told = [s.sentences for s in sowings_told(results)]
    assert any("The first came up" in sentence for sentence in told[0])
    # Seven and a half hours: no two photos show the same time.
    for photo in range(1, len(results.frames)):
        back = set_back(results, from_photo=photo, hours=7.5)
        assert [s.sentences for s in sowings_told(back)] == told


def test_two_photos_are_too_few_to_say_that_nothing_is_up(make_results: MakeResults) -> None:
    assert "Nothing yet" in " ".join(sowings_told(make_results(photos=3, grown=False, dark=None))[0].sentences)
    (told,) = sowings_told(make_results(photos=2, grown=False, dark=None))
    assert told.sentences == ("Not known yet what is up: it takes 3 photos to tell, 2 so far.",)


def test_half_up_is_told_by_one_way_of_counting(make_results: MakeResults) -> None:
    results = make_results(sowings=("s",), dark=None)
    undated = replace(results, sowings=results.sowings.assign(median_days=float("nan")))
    assert "were up in the photo of" in " ".join(sowings_told(undated)[0].sentences)
    dated = replace(results, sowings=results.sowings.assign(median_days=4.1))
    text = " ".join(sowings_told(dated)[0].sentences)
    assert "4.1 days after sowing, counting to the middle of the gap" in text
    assert "in the photo of" not in text


def test_a_caution_that_several_items_share_is_said_once() -> None:
    def item(caution: str) -> CareItem:
        return CareItem("k", "now", ("A",), "t", "r", "1 mm", "do", caution)

    care = (item("Unplug it. Let it cool."), item("Let it cool."), item(""), item("Let it cool. Move the pots."))
    assert cautions_told(care) == ["Unplug it. Let it cool.", "Move the pots."]


def test_a_leafy_plant_without_a_verdict_is_waited_for_from_the_side_and_never_judged_from_above(
    make_results: MakeResults,
) -> None:
    for above, words in ((False, "too little shows yet to judge"), (True, "not judged")):
        results = make_results(above=above)
        results = replace(results, plants=results.plants.assign(grade="", leggy=False))
        assert plants_now(results)[0].verdict == words


def test_a_plant_that_was_not_measured_for_days_was_last_seen_on_a_day(make_results: MakeResults):
    results = make_results(photos=16)
    table = results.measurements.copy()
    table.loc[(table["plant"] == "A") & (table["elapsed_h"] > 36), ["height_mm", "canopy_mm2", "canopy_px"]] = None
    first, other, _ = plants_now(replace(results, measurements=table))
    assert first.now.endswith(", last seen on 2 Mar")
    assert "last seen" not in other.now


@pytest.mark.parametrize(
    ("share", "verdict", "words"),
    [
        (0.25, "coming up: 1 of 4 pots up", "1 to 81 of a hundred such pots are up by now, and more may follow"),
        (0.25, "overdue: 1 of 4 pots up 30 days after sowing", "1 to 81 of a hundred such pots come up"),
        (1.0, "all up: 4 of 4 pots up", "1 to 81 of a hundred such pots come up"),
    ],
)
def test_what_seed_is_worth_is_told_once_no_more_are_waited_for(
    make_results: MakeResults, share: float, verdict: str, words: str
) -> None:
    results = make_results(names=tuple("ABCD"), sowings=("s",), dark=None)
    table = results.sowings.assign(share_low=0.006, share_high=0.806, emerged_share=share, verdict=verdict)
    assert words in " ".join(sowings_told(replace(results, sowings=table))[0].sentences)


@pytest.mark.parametrize(
    ("photo", "covered", "up", "said"),
    [
        (0, False, "before the first photo (1 Mar, 09:00)", ("already in the first photo", "in the first photo")),
        (3, True, "by 2 Mar, 03:00, with the cover off", ("with the cover off", "first seen without the cover")),
        (
            3,
            False,
            "by 2 Mar, 03:00, when it was first in view",
            ("when their place was first in view", "were first in"),
        ),
    ],
)
def test_each_reason_why_an_hour_is_not_known_has_its_own_words(
    make_results: MakeResults, photo: int, covered: bool, up: str, said: tuple[str, str]
) -> None:
    results = make_results(names=("A", "B", "C"), sowings=("s",), dark=None)
    by = results.frames[photo].time
    plants = results.plants.assign(
        emerged_after="", emerged_by=[by if name in "AB" else "" for name in results.plants["plant"]]
    )
    seen = results.measurements.assign(covered=(results.measurements["elapsed_h"] < 6 * photo) & covered)
    results = replace(results, plants=plants, measurements=seen)
    assert [plant.up for plant in plants_now(results)] == [up, up, "not up yet"]
    sentences = sowings_told(results)[0].sentences
    assert said[0] in sentences[1]
    assert said[1] in sentences[2]
