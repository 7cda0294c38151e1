"""Hours of light are told as far as photos tell them, and lamps that keep other hours are said by photos up to then."""

from datetime import datetime, timedelta

import pandas as pd
import pytest

from sproutlapse.growth.events import COLUMNS
from sproutlapse.growth.light_hours import (
    LampPhoto,
    hours_in_words,
    lamp_hours_events,
    light_days,
    with_lamp_events,
    witness,
)

MIDNIGHT = datetime(2026, 3, 1)


def season(days, *, every_h=1.0, on=6.0, off=22.0, start_h=0.0, otherwise=()):
    """Photos under a timer; `otherwise` are spans of hours since the first midnight in which it was the other way."""
    photos, hours = [], start_h
    while hours < 24 * days:
        lit = on <= hours % 24 < off
        if any(a <= hours < b for a, b in otherwise):
            lit = not lit
        when = MIDNIGHT + timedelta(hours=hours)
        photos.append(LampPhoto(when.isoformat(), when, lit))
        hours += every_h
    return photos


@pytest.mark.parametrize("every_h", [0.25, 0.5, 1.0])
def test_the_true_hours_lie_between_least_and_most(every_h):
    days = light_days(season(5, every_h=every_h, on=6.1, off=22.1, start_h=0.05))
    for day in days[1:-1]:
        assert day.least_h <= 16.0 <= day.most_h
        assert day.most_h - day.least_h == pytest.approx(2 * every_h)
        assert day.told
    assert "usually about 16 hours a day" in hours_in_words(days)


def test_photos_six_hours_apart_tell_no_hours():
    days = light_days(season(5, every_h=6, start_h=2))
    assert not any(day.told for day in days)
    assert hours_in_words(days) == ""
    assert all(day.least_h <= 16 <= day.most_h for day in days)


def test_what_no_photo_saw_counts_for_most_and_not_for_least():
    days = light_days(season(1, start_h=12))
    assert days[0].least_h == pytest.approx(9.0)
    assert days[0].most_h == pytest.approx(23.0)


def test_lamps_on_day_and_night_are_said_so():
    assert "day and night" in hours_in_words(light_days(season(3, on=0, off=24.1)))


def test_a_timer_that_keeps_its_hours_gives_no_event():
    assert lamp_hours_events(season(10)) == []
    assert lamp_hours_events(season(10, every_h=6, start_h=2)) == []


def test_lamps_switched_off_for_one_photo_give_no_event():
    assert lamp_hours_events(season(8, otherwise=[(24 * 5 + 12, 24 * 5 + 12.9)])) == []


@pytest.mark.parametrize("every_h", [0.5, 1.0, 3.0, 6.0])
def test_a_lamp_that_does_not_come_on_is_said_the_same_day_and_once(every_h):
    day = 24 * 5
    told = lamp_hours_events(season(8, every_h=every_h, start_h=2, otherwise=[(day + 6, day + 22)]))
    assert [one.event for one in told] == ["lamp did not come on"]
    assert told[0].first.when == MIDNIGHT + timedelta(hours=day) + timedelta(hours=8 if every_h in (3, 6) else 6)
    assert timedelta(hours=1) <= told[0].known.when - told[0].first.when <= timedelta(hours=max(every_h, 1))


def test_a_lamp_that_breaks_at_noon_went_off_and_comes_back_without_a_word():
    spans = [(24 * 5 + 12, 24 * 5 + 22), *((24 * d + 6, 24 * d + 22) for d in (6, 7, 8, 9))]
    told = lamp_hours_events(season(14, otherwise=spans))
    assert [one.event for one in told[:2]] == ["lamp went off", "lamp did not come on"]
    assert not any("night" in one.event for one in told)


def test_a_lamp_left_on_over_night_is_said_in_the_morning():
    told = lamp_hours_events(season(8, otherwise=[(24 * 5 + 22, 24 * 6 + 6)]))
    assert [(one.event, one.first.when.hour, one.known.when.hour) for one in told] == [("lamp on all night", 22, 6)]


def test_a_lamp_that_went_off_late_was_on_at_night():
    told = lamp_hours_events(season(8, otherwise=[(24 * 5 + 22, 24 * 6 + 2)]))
    assert [one.event for one in told] == ["lamp on at night"]


def test_events_of_a_part_of_the_photos_are_those_of_the_whole_up_to_then():
    spans = [(24 * 4 + 6, 24 * 4 + 15), (24 * 6 + 22, 24 * 7 + 6), (24 * 9 + 10, 24 * 9 + 13)]
    photos = season(12, every_h=1.5, otherwise=spans)
    whole = lamp_hours_events(photos)
    assert len(whole) >= 3
    for count in range(len(photos)):
        part = lamp_hours_events(photos[:count])
        assert part == [one for one in whole if one.known in photos[:count]]


def test_what_a_photo_tells_of_the_lamps():
    assert witness("") and witness("blurred: no edge is sharp") and witness("obstructed: something")
    assert witness("dark: the lamps seem to be off") is False
    assert witness("night picture (infrared): it has no colour") is False
    assert witness("damaged: cut short") is None
    assert witness("duplicate: same picture as a.jpg") is None
    assert witness("duplicate: same picture as a.jpg", first_dark=True) is False


def test_lamp_events_stand_among_the_others_when_they_could_be_said():
    told = lamp_hours_events(season(8, otherwise=[(24 * 5 + 6, 24 * 5 + 22)]))
    times = [MIDNIGHT + timedelta(days=d) for d in (2, 7)]
    table = pd.DataFrame([(t.isoformat(), t.isoformat(), "A", "emerged", "") for t in times], columns=COLUMNS)
    merged = with_lamp_events(table, told, {t.isoformat(): t for t in times})
    assert list(merged["event"]) == ["emerged", "lamp did not come on", "emerged"]
    assert list(merged["plant"]) == ["A", "", "A"]
    assert with_lamp_events(table, [], {}) is table


def lamps_of(lights, *, lit=True):
    """Photos an hour apart, six a day, with the light that each tells."""
    times = [MIDNIGHT + timedelta(days=k // 6, hours=8 + k % 6) for k in range(len(lights))]
    return [LampPhoto(when.isoformat(), when, lit, light) for when, light in zip(times, lights, strict=True)]


def test_light_is_told_against_the_first_day():
    days = light_days(lamps_of([50.0] * 6 + [40.0] * 6))
    assert [day.relative for day in days] == [1.0, 0.8]


def test_no_light_is_told_without_exposures_or_where_photos_of_a_day_do_not_agree():
    assert [day.relative for day in light_days(lamps_of([None] * 6))] == [None]
    assert [day.relative for day in light_days(lamps_of([20.0, 40.0, 30.0, 60.0, 50.0, 10.0]))] == [None]
