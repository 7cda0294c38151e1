"""Outlines and heights over the latest photo stand where the plants stand."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from sproutlapse.report.colours import SERIES, rgb_of
from sproutlapse.report.pictures import contact_sheet, latest_photo, photo_of
from sproutlapse.results import Results

MakeResults = Callable[..., Results]


def pixels_of(jpeg: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(jpeg)) as picture:
        return np.asarray(picture.convert("RGB"), dtype=int)


def test_tags_carry_name_and_height_above_each_plant_that_is_up(make_results: MakeResults) -> None:
    photo = latest_photo(make_results())
    assert photo is not None
    assert [(t.name, t.text) for t in photo.tags] == [("A", "100 mm"), ("<b>B</b> & co", "90 mm")]
    tall = photo.tags[1]
    assert tall.left == pytest.approx(0.5, abs=0.02)
    assert tall.top == pytest.approx((240 - 180) / 300, abs=0.02)


def test_outline_has_the_plants_colour_and_leaves_the_stem_free(make_results: MakeResults) -> None:
    photo = latest_photo(make_results())
    assert photo is not None
    pixels = pixels_of(photo.jpeg)
    x = round(400 / 6)
    stem = pixels[150, x]
    assert stem[1] > stem[0] + 30
    near = pixels[150, x - 12 : x + 13]
    assert np.abs(near - rgb_of(SERIES[0])).sum(axis=1).min() < 140  # a line of one pixel pales in a JPEG


def test_height_line_reaches_from_the_soil_to_the_top(make_results: MakeResults) -> None:
    photo = latest_photo(make_results())
    assert photo is not None
    pixels = pixels_of(photo.jpeg)
    right = round(400 / 6) + 9 + round(0.012 * 400)
    drawn = np.abs(pixels[:, right - 2 : right + 3] - rgb_of(SERIES[0])).sum(axis=2).min(axis=1) < 100
    rows = np.flatnonzero(drawn)
    assert rows.min() == pytest.approx(40, abs=4)
    assert rows.max() == pytest.approx(240, abs=4)


def test_height_line_follows_a_camera_that_moved(make_results: MakeResults) -> None:
    results = make_results()
    last = results.frames[-1]
    # This frame's pixels lie 20 rows lower than the first frame's: its soil line is at 260.
    moved = replace(last, to_reference=np.array([[1.0, 0, 0], [0, 1, -20]]))
    photo = latest_photo(replace(results, frames=(*results.frames[:-1], moved)))
    assert photo is not None
    right = round(400 / 6) + 9 + round(0.012 * 400)
    strip = pixels_of(photo.jpeg)[:, right - 2 : right + 3]
    rows = np.flatnonzero(np.abs(strip - rgb_of(SERIES[0])).sum(axis=2).min(axis=1) < 100)
    assert rows.max() == pytest.approx(260, abs=4)


def test_a_photo_that_is_gone_gives_way_to_the_one_before(make_results: MakeResults) -> None:
    results = make_results()
    results.frames[-1].path.unlink()
    photo = latest_photo(results)
    assert photo is not None
    assert photo.frame.frame == results.frames[-2].frame


def test_photos_keep_their_bytes(make_results: MakeResults) -> None:
    results = make_results()
    before = [frame.path.read_bytes() for frame in results.frames]
    latest_photo(results)
    contact_sheet(results)
    assert [frame.path.read_bytes() for frame in results.frames] == before


def test_large_photo_is_brought_to_width(make_results: MakeResults) -> None:
    frame = make_results().frames[0]
    rgb = photo_of(frame, 100)
    assert rgb is not None
    assert rgb.shape == (75, 100, 3)


def test_dark_frames_are_not_in_the_contact_sheet(make_results: MakeResults) -> None:
    results = make_results(dark=3)
    assert "P0003.JPG" not in {photo.frame.frame for photo in contact_sheet(results)}
