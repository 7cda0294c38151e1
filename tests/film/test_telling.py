"""What a film tells besides its pictures: scales, outlines, curve, moments, cards, a closer cut, side by side."""

from __future__ import annotations

import dataclasses
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from film_photos import POT, SIZE, Photo, pictures_of, take
from PIL import Image

from sproutlapse.errors import ResultsError
from sproutlapse.film.curve import Curve
from sproutlapse.film.look import SERIES, fitted, font
from sproutlapse.film.make import make_film
from sproutlapse.film.options import FilmOptions, Note, note_of
from sproutlapse.film.plan import Side, film_plan
from sproutlapse.film.told import Course, Happening, Told, ending, happenings
from sproutlapse.results import FrameRecord
from sproutlapse.tray import Plant, Tray, View

MM_PER_PX = 0.5
FIRST_UP = 3  # the photo in which the plant came up
HEIGHTS = [0, 0, 0, 8, 16, 24, 32, 40, 52, 64, 76, 88]


def known(records: list[FrameRecord], name: str = "shelf", heights: list[int] | None = None) -> Told:
    """Tables as the measuring would have made them of the drawn plant."""
    heights = heights or HEIGHTS
    tray = Tray(view=View.model_validate({"from": "side"}),
                plant=(Plant(name="A", box_px=(200, 0, 440, 300), soil_y_px=POT[1]),))  # fmt: skip
    rows = [
        {
            "frame": record.frame,
            "time": record.time,
            "plant": "A",
            "elapsed_h": record.elapsed_h,
            "height_mm": height * MM_PER_PX if height else np.nan,
            "height_sd_mm": 0.4 if height else np.nan,
            "height_px": float(height) if height else np.nan,
            "canopy_mm2": 0.0,
            "canopy_px": 0.0,
        }
        for record, height in zip(records, heights, strict=True)
    ]
    up = next(number for number, height in enumerate(heights) if height)
    events = [(records[up].time, records[up].time, "A", "emerged", "first seen at 4 mm"),
              (records[9].time, records[9].time, "A", "trimmed", "")]  # fmt: skip
    return Told(
        name, tray, pd.DataFrame(rows), pd.DataFrame(events, columns=["time", "known", "plant", "event", "detail"]),
        pd.DataFrame({"plant": ["A"], "emerged_by": [records[up].time],
                      "emerged_after": [records[up - 1].time if up else ""]}),
    )  # fmt: skip


@pytest.fixture
def grown(tmp_path: Path) -> tuple[list[FrameRecord], Told]:
    """A plant that comes up with the fourth photo."""
    records = take(tmp_path / "photos", [Photo(plant_px=height) for height in HEIGHTS])
    return records, known(records)


def once(**more) -> FilmOptions:
    return FilmOptions(seconds=len(HEIGHTS) / 24, caption=False, **more)


def differs(one: np.ndarray, other: np.ndarray, by: int = 60) -> np.ndarray:
    """Where two pictures of a film differ by what was drawn."""
    return np.abs(one.astype(int) - other).max(axis=2) > by


def test_a_scale_stands_beside_each_plant_as_tall_as_it_is(grown, tmp_path):
    records, told = grown
    plain = pictures_of(make_film(records, tmp_path / "plain.mp4", options=once()).path)
    drawn = pictures_of(make_film(records, tmp_path / "marks.mp4", options=once(heights=True), known=told).path)
    at = slice(219, 229)  # the scale's line, a tenth into the plant's place
    for number, height in enumerate(HEIGHTS):
        rows = np.flatnonzero(differs(plain[number], drawn[number])[:, at].any(axis=1))
        rows = rows[rows < POT[1] + 2]
        if not height:
            assert rows.size == 0
        else:
            assert rows.max() == pytest.approx(POT[1], abs=3)
    # The figure on top of it is brighter than anything on the board.
    top = drawn[-1][POT[1] - HEIGHTS[-1] - 40 : POT[1] - HEIGHTS[-1], 215:330]
    assert top.max() > 235


def test_an_outline_appears_with_the_sprout_and_goes_around_it(grown, tmp_path):
    records, told = grown
    plain = pictures_of(make_film(records, tmp_path / "plain.mp4", options=once()).path)
    drawn = pictures_of(make_film(records, tmp_path / "lines.mp4", options=once(outlines=True), known=told).path)
    above = slice(0, POT[1] - 4)
    changed = [int(differs(a, b)[above].sum()) for a, b in zip(plain, drawn, strict=True)]
    assert max(changed[:FIRST_UP]) == 0
    assert min(changed[FIRST_UP + 1 :]) > 20
    # The plant itself stays to be seen.
    up = POT[1] - HEIGHTS[-1]
    inside = differs(plain[-1], drawn[-1])[up + 6 : up + 24, 290:350]
    assert inside.mean() < 0.05


def test_the_curve_draws_itself_and_is_never_ahead_of_time(grown, tmp_path):
    records, told = grown
    made = make_film(records, tmp_path / "film.mp4", options=once(curve=True), known=told)
    film = pictures_of(made.path)
    panel = [picture[SIZE[1] + 2 :] for picture in film]
    colour = np.array(SERIES[0], dtype=int)
    reach = []
    for picture in panel:
        columns = np.flatnonzero((np.abs(picture.astype(int) - colour).max(axis=2) < 60).any(axis=0))
        reach.append(int(columns.max()) if columns.size else 0)
    assert max(reach[:FIRST_UP]) == 0
    assert np.all(np.diff(reach[FIRST_UP + 1 :]) > 0)
    for number in range(FIRST_UP + 1, len(film)):
        assert reach[number] <= made.width * number / (len(film) - 1) + 0.06 * made.width


def test_moments_are_told_when_they_happen_and_as_subtitles(grown, tmp_path):
    records, told = grown
    options = FilmOptions(moments=True, notes=(Note(datetime(2026, 3, 1, 15, 0), "fed <a little>"),))
    made = make_film(records, tmp_path / "film.mp4", options=options, known=told)
    film = pictures_of(made.path)
    strip = [picture[-30:].max(axis=2).astype(int) for picture in film]
    assert strip[8 * FIRST_UP - 6].max() < 80
    assert strip[8 * FIRST_UP + 2].max() > 120
    text = (tmp_path / "film.vtt").read_text(encoding="utf-8")
    assert text.splitlines()[0] == "WEBVTT"
    # The fourth photo begins with picture 24, a second into the film.
    assert "00:00:01.000 --> 00:00:02.000\nDay 1, 1 Mar 2026, 12:00: A came up" in text
    assert "fed &lt;a little&gt;" in text
    assert "A was cut back" in text


def test_several_that_come_up_at_once_are_told_together(grown):
    records, told = grown
    again = told.events.assign(plant="B")
    more = dataclasses.replace(told, events=pd.concat([told.events, again]))
    assert happenings(more)[0] == Happening(records[FIRST_UP].elapsed_h, "A and B came up")


def test_notes_are_read_as_a_person_types_them():
    assert note_of("2026-03-05 potted on") == Note(datetime(2026, 3, 5), "potted on")
    assert note_of("2026-03-05 14:30: potted on") == Note(datetime(2026, 3, 5, 14, 30), "potted on")
    with pytest.raises(ResultsError, match="does not begin with a date"):
        note_of("potted on yesterday")


def test_cards_stand_before_and_after_and_the_sentence_says_so(grown, tmp_path):
    records, told = grown
    made = make_film(records, tmp_path / "film.mp4", options=once(title="My shelf", end_card=True), known=told)
    film = pictures_of(made.path)
    assert made.frames == len(film) == 48 + 12 + 72
    assert made.sentence.endswith("and 5 s of cards")
    assert film[0].mean() < 0.5 * film[50].mean()
    assert film[-1].mean() < 0.5 * film[50].mean()
    assert film[0].max() > 220


def test_then_and_now_bears_a_rule_that_is_true(grown, tmp_path):
    records, told = grown
    make_film(records, tmp_path / "film.mp4", options=once(then_and_now=True), known=told)
    with Image.open(tmp_path / "then-and-now.jpg") as image:
        picture = np.asarray(image).astype(int)
    assert picture.shape[1] > 2 * SIZE[0]
    low = picture[SIZE[1] - 40 : SIZE[1] - 10, SIZE[0] + 300 :].min(axis=2)
    longest = max(np.flatnonzero(row > 225).size for row in low)
    assert longest * MM_PER_PX == pytest.approx(50, abs=2)  # the longest nice rule that fits a third of the picture


def test_the_poster_is_the_last_picture(grown, tmp_path):
    records, told = grown
    film = pictures_of(make_film(records, tmp_path / "film.mp4", options=once(), known=told).path)
    with Image.open(tmp_path / "film.jpg") as image:
        assert np.abs(np.asarray(image).astype(int) - film[-1]).mean() < 2


@pytest.mark.parametrize("shape", ["source", "16:9", "9:16", "1:1"])
def test_a_closer_cut_never_leaves_the_picture_and_glides(grown, shape):
    records, told = grown
    plan = film_plan([Side(records, told, "A")], once(shape=shape))
    side = plan.sides[0]
    corners = []
    for matrix in side.lane.matrices:
        back = np.linalg.inv(np.vstack([matrix, [0, 0, 1]]))
        w, h = side.lane.size
        seen = np.array([[-0.5, -0.5, 1], [w - 0.5, h - 0.5, 1]]) @ back[:2].T
        assert seen[0].min() >= -0.51
        assert seen[1][0] <= SIZE[0] - 0.49
        assert seen[1][1] <= SIZE[1] - 0.49
        # The plant is in it, and the picture is not enlarged.
        assert seen[0][0] < 280
        assert seen[1][0] > 360
        assert seen[0][1] < POT[1] - 88
        assert seen[1][0] - seen[0][0] >= w - 1.5
        corners.append(seen.ravel())
    assert np.abs(np.diff(corners, axis=0)).max() < 0.05 * SIZE[0]


def test_light_is_even_in_a_closer_cut_too(tmp_path):
    rng = np.random.default_rng(4)
    photos = [
        Photo(gains=(gain, gain, gain), plant_px=h) for gain, h in zip(rng.uniform(0.9, 1.1, 12), HEIGHTS, strict=True)
    ]
    records = take(tmp_path / "photos", photos)
    film = pictures_of(
        make_film(records, tmp_path / "film.mp4", options=once(plants=("A",)), known=known(records)).path
    )
    board = np.array([picture[10:60, 10:60].mean() for picture in film])
    assert np.ptp(board) < 1.0


def test_a_plant_that_is_not_there_is_named_with_those_that_are(grown, tmp_path):
    records, told = grown
    with pytest.raises(ResultsError, match=r'no plant "Z"(?s:.)*choose one of: A'):
        make_film(records, tmp_path / "film.mp4", options=once(plants=("Z",)), known=told)
    assert not (tmp_path / "film.mp4").exists()


def test_two_trays_run_in_step_by_age(grown, tmp_path):
    records, told = grown
    other = take(tmp_path / "other", [Photo(plant_px=height) for height in HEIGHTS], hours=1.0)
    beside = Side(other, known(other, "window"))
    made = make_film(records, tmp_path / "film.mp4", options=FilmOptions(caption=True), known=told, beside=[beside])
    film = pictures_of(made.path)
    assert made.width % 2 == made.height % 2 == 0
    half = made.width // 2
    left, right = film[-1][60:-60, : half - 10], film[-1][60:-60, half + 10 :]
    assert np.abs(left[:, :-6].mean() - right.mean()) < 3
    assert made.frames == len(film) == 96
    assert not made.notes
    plan = film_plan([Side(records, told), beside], FilmOptions())
    assert plan.sides[0].line.moments[0].clock == "since coming up"


def test_heights_are_not_asked_of_a_camera_that_looks_down(grown, tmp_path):
    records, told = grown
    looking_down = Tray(view=View.model_validate({"from": "above"}), plant=told.tray.plants)
    above = dataclasses.replace(told, name="tray", tray=looking_down)
    with pytest.raises(ResultsError, match="looks down sees no heights"):
        make_film(records, tmp_path / "film.mp4", options=once(heights=True), known=above)


def test_words_that_are_too_long_are_cut_between_words():
    assert fitted("A came up", 14, 400) == "A came up"
    short = fitted("the tray was turned and watered from below", 14, 150)
    assert short.endswith("…")
    assert font(14).getlength(short) <= 150


def test_without_tables_what_needs_them_is_refused(grown, tmp_path):
    records, _told = grown
    with pytest.raises(ResultsError, match="needs the tables"):
        make_film(records, tmp_path / "film.mp4", options=once(curve=True))


def test_a_closer_cut_of_few_pixels_says_why(grown):
    records, told = grown
    plan = film_plan([Side(records, told, "A")], once(plants=("A",)))
    assert plan.notes == (f"The closer cut is {plan.place.size[0]} pixels wide: the photos hold no more there.",)


def test_subtitles_of_an_earlier_film_go_with_it(grown, tmp_path):
    records, told = grown
    make_film(records, tmp_path / "film.mp4", options=once(), known=told)
    assert (tmp_path / "film.vtt").is_file()
    made = make_film(records[:3], tmp_path / "film.mp4", options=once(), known=told)
    assert not (tmp_path / "film.vtt").exists()
    assert [path.name for path in made.beside] == ["film.jpg"]


def test_two_trays_run_in_step_by_date(grown):
    records, told = grown
    later = [dataclasses.replace(record, time=_later(record.time, hours=3)) for record in records]
    plan = film_plan([Side(records, told), Side(later, known(later, "window"))], FilmOptions(in_step="date"))
    first, second = plan.sides[0].line, plan.sides[1].line
    for one, other in zip(first.moments, second.moments, strict=True):
        here, there = first.records[one.shot].time, second.records[other.shot].time
        # The other tray's first photo is held until its clock is reached.
        assert there <= here or there == later[0].time


def _later(time: str, hours: int) -> str:
    return (datetime.fromisoformat(time) + timedelta(hours=hours)).isoformat()


def test_a_tray_in_which_nothing_came_up_runs_by_date_only(grown):
    records, told = grown
    bare = dataclasses.replace(told, name="bare", plants=told.plants.assign(emerged_by="", emerged_after=""))
    with pytest.raises(ResultsError, match="take --in-step date"):
        film_plan([Side(records, told), Side(records, bare)], FilmOptions())


def test_the_curve_of_a_part_shows_that_part_only():
    course = Course("A", 0, np.arange(10.0), np.arange(1.0, 11.0), np.full(10, np.nan))
    hours, progress = np.array([3.0, 4.0, 5.0, 6.0]), np.array([0.0, 1 / 3, 2 / 3, 1.0])
    panel = Curve((600, 120), [course], hours, progress, "mm").drawn(1.0).astype(int)
    drawn = (np.abs(panel - np.array(SERIES[0])).max(axis=2) < 40).any(axis=0)
    assert drawn[:4].all()
    # One height in each column: no line falls from what lies beyond the film's end.
    tall = (np.abs(panel - np.array(SERIES[0])).max(axis=2) < 40)[:, 400:560].sum(axis=0)
    assert tall.max() <= 8


def test_the_end_card_tells_how_it_stood_when_the_film_ends(grown):
    records, told = grown
    assert ending(told, 0.4, records[2].elapsed_h) == ["10 hours", "0 of 1 came up"]
    assert ending(told, 0.4, records[5].elapsed_h)[1:] == ["1 of 1 came up", "tallest: A, 12.0 mm, give or take 0.8"]
