"""What the film says of moments: long enough to be read, no longer than it is true, and never cut in the middle."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from film_photos import Photo, take
from test_telling import HEIGHTS, known

from sproutlapse.film import caption
from sproutlapse.film.curve import Curve
from sproutlapse.film.look import GROUND, MARGIN, SMALL, font
from sproutlapse.film.news import News, lines_needed, lines_of
from sproutlapse.film.options import FilmOptions
from sproutlapse.film.paint import Painter
from sproutlapse.film.plan import Side, film_plan
from sproutlapse.film.told import Course, Happening

WATERED = Happening(10.0, "Watered")
FPS = 24


def told_for(news: News, pictures: int, text: str) -> list[int]:
    return [number for number in range(pictures) if text in sum(news.at(number), ())]


@pytest.mark.parametrize(
    ("span_h", "seconds"),
    [
        (0.05, 2.5),  # a slow film: two and a half seconds are three hours
        (0.25, 2.0),  # twelve hours
        (1.0, 1.2),  # a swift film, in which twelve hours could not be read
    ],
)
def test_watered_stands_no_longer_than_it_is_news_and_can_be_read(span_h, seconds):
    hours = np.arange(600) * span_h
    shown = told_for(News([WATERED], hours, span_h, FPS), 600, "Watered")
    assert len(shown) == pytest.approx(seconds * FPS, abs=2)
    assert hours[shown[0]] == pytest.approx(10.0, abs=span_h)
    assert shown == list(range(shown[0], shown[-1] + 1))


def test_what_comes_right_after_leaves_the_first_time_to_be_read():
    news = News([WATERED, Happening(11.0, "A came up")], np.arange(200.0), 1.0, FPS)
    assert news.at(15) == (("A came up",), ("Watered",))
    assert len(told_for(news, 200, "Watered")) == len(told_for(news, 200, "A came up")) == 29


def test_long_news_takes_a_second_line_and_ends_with_a_whole_sentence():
    up = [Happening(5.0, f"All of the {crop} are up") for crop in ("purple basil", "curly kale", "garden cress")]
    assert lines_needed([WATERED], 1.0) == 1
    assert lines_needed([Happening(1.0, "Lamp too near " + "the climbing French beans " * 2)], 1.0) == 2
    assert lines_needed(up, 1.0) == 2
    for width in (240, 606, 1080):
        letters = max(8, round(width * SMALL))
        room = width * (1 - 2 * MARGIN)
        lines = lines_of([one.text for one in up], ["Watered"], room, letters, 2)
        assert all(font(letters).getlength(line) <= room for line in lines)
        assert " ".join(lines) in {
            " · ".join(["Watered", *(one.text for one in up)]),
            " · ".join([one.text for one in up]),
            "All of the purple basil are up · All of the curly kale are up · and 1 more",
        }
        strip = caption.strip(width, round((caption.STRIP + caption.STRIP_MORE) * width), [one.text for one in up])
        ink = (strip != GROUND).any(axis=2)
        assert ink[: round(0.055 * width)].any()
        assert ink[round(0.058 * width) :].any()
        assert not ink[-1].any()
        assert not ink[:, -max(2, round(0.5 * MARGIN * width)) :].any()


def test_names_at_the_curves_end_keep_off_the_edge():
    course = Course("watercress", 0, np.arange(10.0), np.arange(1.0, 11.0), np.full(10, np.nan))
    hours = np.arange(10.0)
    panel = Curve((600, 120), [course], hours, hours / 9, "mm")
    names = panel.drawn(1.0).astype(int)
    letters = (np.abs(names - panel.drawn(0.001).astype(int)).max(axis=2) > 60)[:, 600 - round(MARGIN * 600) + 2 :]
    # Beyond the margin there is the line alone: a few rows, not the height of letters.
    assert letters.any(axis=1).sum() <= 12


def test_over_photos_that_have_ended_the_films_days_do_not_run_on_unsaid(tmp_path):
    records = take(tmp_path / "photos", [Photo(plant_px=height) for height in HEIGHTS], hours=24.0)
    told = known(records)
    few = records[:8]
    short = dataclasses.replace(told, name="window", measurements=told.measurements.head(8))
    for step in ("age", "date"):
        options = FilmOptions(in_step=step)
        plan = film_plan([Side(records, told), Side(few, short)], options)
        painter = Painter(plan, options)
        moments = plan.line.moments
        for number, moment in enumerate(moments):
            after = moment.hours > few[-1].elapsed_h + 1.6 * 24
            last = [m.day for m in moments if m.hours <= few[-1].elapsed_h + 0.1][-1]
            assert painter._asides(number) == ["", f", until {last.lower()}" if after else ""]
        assert len({painter.key(number)[-2] for number in range(len(moments))}) == 2
