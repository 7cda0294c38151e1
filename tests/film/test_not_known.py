"""What the measuring does not know the film does not make up: millimetres without a scale, ages of grown plants."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from film_photos import SIZE, Photo, pictures_of, take
from PIL import Image
from test_telling import HEIGHTS, known, once

from sproutlapse.film.make import make_film
from sproutlapse.film.options import FilmOptions
from sproutlapse.film.paint import Painter
from sproutlapse.film.plan import Side, film_plan
from sproutlapse.film.told import Told, emerged_h, ending
from sproutlapse.results import FrameRecord

GROWN = [height + 40 for height in HEIGHTS]


@pytest.fixture
def in_pixels(tmp_path: Path) -> tuple[list[FrameRecord], Told]:
    """A plant that comes up before a camera that sees no scale."""
    records = take(tmp_path / "photos", [Photo(plant_px=height) for height in HEIGHTS])
    told = known(records)
    return records, dataclasses.replace(told, measurements=told.measurements.assign(height_mm=np.nan))


@pytest.fixture
def grown_already(tmp_path: Path) -> tuple[list[FrameRecord], Told]:
    """A plant that stood in the first photo: plants.csv knows it, events.csv has nothing of its coming up."""
    records = take(tmp_path / "photos", [Photo(plant_px=height) for height in GROWN])
    told = known(records, heights=GROWN)
    return records, dataclasses.replace(told, events=told.events[told.events["event"] != "emerged"])


def test_without_a_scale_no_millimetres_are_drawn_and_that_is_said(in_pixels, tmp_path):
    records, told = in_pixels
    plan = film_plan([Side(records, told)], once(heights=True, then_and_now=True))
    assert plan.sides[0].marks == ()
    assert plan.notes[0].startswith("No scale is known of shelf, so --heights draws no millimetres there.")
    assert plan.notes[1].startswith("No scale is known of shelf, so then-and-now bears no rule in mm.")
    assert "pixels" in plan.notes[0]
    plain = pictures_of(make_film(records, tmp_path / "plain.mp4", options=once()).path)
    made = make_film(records, tmp_path / "film.mp4", options=once(heights=True, then_and_now=True), known=told)
    beside_plant = slice(0, 290), slice(205, 250)
    changed = pictures_of(made.path)[-1][beside_plant].astype(int) - plain[-1][beside_plant]
    assert np.abs(changed).max() < 60
    assert made.notes == plan.notes
    with Image.open(tmp_path / "then-and-now.jpg") as image:
        picture = np.asarray(image).astype(int)
    low = picture[SIZE[1] - 40 : SIZE[1] - 10, SIZE[0] + 300 :].min(axis=2)
    assert max(np.flatnonzero(row > 225).size for row in low) < 20


def test_pixels_are_not_drawn_into_a_curve_of_millimetres(in_pixels):
    records, told = in_pixels
    other = known(records, "window")
    options = FilmOptions(curve=True)
    plan = film_plan([Side(records, other), Side(records, told)], options)
    assert plan.notes[-1] == "The curve is in mm; measured otherwise and so not in it: shelf."
    assert plan.notes[0].startswith("No scale is known of shelf")
    assert len(Painter(plan, options)._all_courses("mm")) == 1


def test_a_scale_that_is_known_is_not_missed_before_anything_came_up(tmp_path):
    records = take(tmp_path / "photos", [Photo(plant_px=height) for height in HEIGHTS])
    told = known(records)
    bare = dataclasses.replace(told, measurements=told.measurements.head(3))
    assert not film_plan([Side(records[:3], bare)], FilmOptions(heights=True)).notes


def test_a_plant_that_stood_in_the_first_photo_came_up(grown_already):
    records, told = grown_already
    assert emerged_h(told) == emerged_h(told, "A") == records[0].elapsed_h
    assert ending(told, 0.4, records[-1].elapsed_h)[1] == "1 of 1 came up"
    plan = film_plan([Side(records, told)], FilmOptions(start_at="emergence"))
    assert plan.line.records[0] == records[0]


def test_a_plant_of_unknown_age_runs_in_step_from_when_it_was_seen_and_that_is_said(grown_already):
    records, told = grown_already
    other = dataclasses.replace(known(records), name="window")
    plan = film_plan([Side(records, told), Side(records, other)], FilmOptions())
    assert plan.notes == ("A of shelf stood there when first seen: age is counted from then.",)
    assert not film_plan([Side(records, told), Side(records, other)], FilmOptions(in_step="date")).notes
