"""Shapes, sizes and kinds of film, each read back from the file that was written."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import av
import numpy as np
import pytest
from film_photos import POT, Photo, pictures_of, take
from PIL import Image

from sproutlapse.errors import ResultsError
from sproutlapse.film import encode
from sproutlapse.film.layout import Bands, crop_toward, lay_out
from sproutlapse.film.make import make_film
from sproutlapse.film.options import FilmOptions
from sproutlapse.film.subtitles import webvtt

PHOTOS = [Photo(plant_px=20 * n) for n in range(1, 5)]


@pytest.mark.parametrize("kind", ["webp", "gif"])
def test_a_moving_picture_for_chats_shows_the_plant_at_its_rate(tmp_path: Path, kind):
    options = FilmOptions(kind=kind, fps=12.5, seconds=0.64, height_px=240)
    made = make_film(take(tmp_path, PHOTOS), tmp_path / f"film.{kind}", options=options)
    with Image.open(made.path) as film:
        assert film.size == (made.width, made.height)
        assert film.info.get("loop") == 0
        length = 0
        for number in range(film.n_frames):
            film.seek(number)
            film.load()
            length += film.info["duration"]
        last = np.asarray(film.convert("RGB")).astype(int)
    assert length == pytest.approx(640, abs=10)
    scale = made.width / 640
    plant = last[round(230 * scale) : round(290 * scale), round(316 * scale) : round(324 * scale)]
    assert (plant[:, :, 1] - plant[:, :, 0]).mean() > 25
    board = last[10:80, 10:80]
    assert np.abs(board.mean((0, 1)) - [200, 198, 194]).max() < 8
    assert [path.name for path in tmp_path.iterdir() if ".part" in path.name] == []


@pytest.mark.parametrize(("shape", "ratio"), [("16:9", 16 / 9), ("9:16", 9 / 16), ("1:1", 1.0)])
def test_a_shape_is_kept_without_cutting_off_or_stretching(tmp_path: Path, shape, ratio):
    options = FilmOptions(shape=shape, seconds=4 / 24)
    made = make_film(take(tmp_path, PHOTOS), tmp_path / "film.mp4", options=options)
    last = pictures_of(made.path)[-1].astype(int)
    assert (made.width, made.height) == last.shape[1::-1]
    assert made.width / made.height == pytest.approx(ratio, abs=0.01)
    assert made.width % 2 == made.height % 2 == 0
    # The pot is as wide as it is high in the drawing, and so it is in the film.
    dark = last.max(axis=2) < 45
    pot = dark & (last[:, :, 1] - last[:, :, 0] < 6)
    assert pot.any()
    green = (last[:, :, 1] - last[:, :, 0] > 25) & (last[:, :, 0] < 100)
    rows, columns = np.flatnonzero(green.any(1)), np.flatnonzero(green.any(0))
    assert np.ptp(columns) / max(np.ptp(rows), 1) == pytest.approx(80 / 80, abs=0.12)


def test_square_pixels_constant_rate_and_colours_are_said_in_the_file(tmp_path: Path):
    made = make_film(take(tmp_path, PHOTOS), tmp_path / "film.mp4", options=FilmOptions(fps=25))
    with av.open(str(made.path)) as container:
        video = container.streams.video[0]
        assert video.sample_aspect_ratio == 1
        assert video.average_rate == video.guessed_rate == 25
        said = video.codec_context
        # H.273: 1 is BT.709 for primaries, transfer and matrix; limited range is 1 in the library that reads it.
        assert (said.color_primaries, said.color_trc, said.colorspace, said.color_range) == (1, 1, 1, 1)
        times = [float(frame.pts * frame.time_base) for frame in container.decode(video)]
    assert np.allclose(np.diff(times), 0.04, atol=1e-6)


def test_a_film_is_never_larger_than_the_photos():
    for shape in ("source", "16:9", "9:16", "1:1"):
        place = lay_out([(1280, 960)], Bands(caption=0.068), FilmOptions(height_px=2160, shape=shape))
        assert place.pictures[0][2] <= 1280
        assert place.pictures[0][3] <= 960


def test_a_crop_for_a_shape_keeps_all_plants():
    crop, keep = (0.0, 0.0, 1280.0, 960.0), (700.0, 200.0, 400.0, 500.0)
    left, top, width, height = crop_toward(crop, keep, 9 / 16, 0.07)
    assert left <= 700
    assert left + width >= 1100
    assert (top, height) == (0.0, 960.0)
    assert width / height == pytest.approx(1 / (16 / 9 - 0.07), abs=1e-6)
    wide = crop_toward(crop, (0.0, 100.0, 1280.0, 800.0), 16 / 9, 0.07)
    assert wide[3] == 800.0


def test_side_by_side_is_as_high_as_the_lower_one():
    place = lay_out([(1280, 960), (600, 800)], Bands(header=0.05, caption=0.068), FilmOptions())
    (left, top, width, height), (right, other_top, other_width, other_height) = place.pictures
    assert (top, height) == (other_top, other_height)
    assert right > left + width
    assert width / height == pytest.approx(1280 / 960, abs=0.01)
    assert other_width / other_height == pytest.approx(600 / 800, abs=0.01)
    assert height <= 800


def test_a_library_without_the_encoder_says_which_kinds_it_can_write(tmp_path: Path, monkeypatch):
    (tmp_path / "film.mp4").write_bytes(b"the film of yesterday")
    monkeypatch.setitem(encode.ENCODERS, "mp4", "no_such_encoder")
    with pytest.raises(ResultsError, match=r"cannot write mp4(?s:.)*--format webp"):
        make_film(take(tmp_path / "photos", PHOTOS), tmp_path / "film.mp4")
    assert (tmp_path / "film.mp4").read_bytes() == b"the film of yesterday"


def test_photos_of_several_sizes_make_one_film(tmp_path: Path):
    records = take(tmp_path, PHOTOS)
    with Image.open(records[2].path) as image:
        image.crop((0, 0, 600, 450)).save(records[2].path, quality=93)
    records[2] = dataclasses.replace(records[2], size=(600, 450), labels_png=None)
    made = make_film(records, tmp_path / "film.mp4", options=FilmOptions(caption=False, seconds=4 / 24))
    film = pictures_of(made.path)
    assert (made.width, made.height) == (600, 450)
    left, top = POT[:2]
    assert film[2][top + 30 : top + 60, left + 20 : left + 100].mean() < 60


def test_subtitles_follow_the_standard():
    # W3C WebVTT, 4.1: the signature, an empty line, cues of "hh:mm:ss.ttt --> hh:mm:ss.ttt" and text without < and &.
    text = webvtt([(0.5, "A & B came up"), (1.0, "cut back"), (3725.25, "late")], 3730.0)
    assert text == (
        "WEBVTT\n\n00:00:00.500 --> 00:00:01.300\nA &amp; B came up\n\n00:00:01.000 --> 00:00:04.000\ncut back\n\n"
        "01:02:05.250 --> 01:02:08.250\nlate\n"
    )
    assert webvtt([], 10.0) == "WEBVTT\n"
