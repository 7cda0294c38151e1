"""A film of real JPEG photos, decoded again: its form, steadiness, light and caption, and what cannot be filmed."""

from __future__ import annotations

import dataclasses
import sys
from pathlib import Path

import av
import numpy as np
import pytest
from film_photos import POT, Photo, edge_along, matrix_of, pictures_of, steps_percent, take
from PIL import Image

from sproutlapse.errors import PhotosError, ResultsError
from sproutlapse.film.light import srgb_decoded, srgb_encoded
from sproutlapse.film.make import make_film
from sproutlapse.film.options import FilmOptions
from sproutlapse.film.plan import Side, film_plan

GROWING = [Photo(plant_px=4 * hour) for hour in range(1, 13)]
PLAIN = FilmOptions(caption=False)


def once(photos: int, **more) -> FilmOptions:
    """A film that shows each of so many photos for one picture, so that steps from picture to picture all count."""
    return FilmOptions(seconds=photos / 24, **more)


def test_a_growing_plant_becomes_a_film_that_plays_everywhere(tmp_path):
    summary = make_film(take(tmp_path, GROWING), tmp_path / "film.mp4")
    with av.open(str(tmp_path / "film.mp4")) as container:
        video = container.streams.video[0]
        pts = [frame.pts * frame.time_base for frame in container.decode(video)]
        context = video.codec_context
        assert (video.codec.name, context.pix_fmt, video.average_rate) == ("h264", "yuv420p", 24)
        assert (context.colorspace, context.color_primaries, context.color_trc, context.color_range) == (1, 1, 1, 1)
        assert (context.width, context.height) == (summary.width, summary.height)
    assert np.allclose(np.diff([float(at) for at in pts]), 1 / 24, atol=1e-4)
    assert len(pts) == summary.frames == 8 * len(GROWING)
    assert summary.seconds == pytest.approx(4.0)
    assert summary.sentence == "12 photos: 4.0 s at 24 a second, each photo for 8 pictures"
    assert summary.width % 2 == summary.height % 2 == 0
    assert summary.width == 640


def test_two_films_of_the_same_photos_are_the_same_bytes(tmp_path):
    records = take(tmp_path, GROWING)
    make_film(records, tmp_path / "a.mp4")
    make_film(records, tmp_path / "b.mp4")
    assert (tmp_path / "a.mp4").read_bytes() == (tmp_path / "b.mp4").read_bytes()


def test_dark_photos_are_left_out_and_the_sentence_says_so(tmp_path):
    photos = [dataclasses.replace(photo, used=number % 3 > 0) for number, photo in enumerate(GROWING)]
    summary = make_film(take(tmp_path, photos), tmp_path / "film.mp4")
    # Three of four gaps are nights; the one photo after the other stands for the hour that is missing, too.
    assert summary.frames == len(pictures_of(summary.path)) == 64
    assert summary.sentence.startswith("12 photos, 8 by light: 2.7 s at 24 a second, each photo for 8 pictures, nights")


def test_flicker_of_the_lamp_is_gone_from_the_board(tmp_path):
    rng = np.random.default_rng(5)
    photos = [Photo(gains=tuple(rng.uniform(0.92, 1.08) * np.ones(3)), plant_px=3 * n) for n in range(30)]
    records = take(tmp_path, photos)
    # What the measuring knows of the light is itself only good to a percent.
    rough = [dataclasses.replace(r, gains=tuple(np.array(r.gains) * rng.normal(1, 0.01, 3))) for r in records]
    film = pictures_of(make_film(rough, tmp_path / "film.mp4", options=once(30)).path)
    for box in ((20, 20, 220, 200), (420, 20, 620, 200), (20, 250, 220, 450), (420, 250, 620, 450)):
        assert np.percentile(steps_percent(film, box), 95) < 0.3


def test_light_that_drifts_slowly_or_turns_pink_is_evened_to_one_level(tmp_path):
    photos = [Photo(gains=(1 + 0.004 * n, 1 - 0.004 * n, 1.0 + 0.002 * n), plant_px=2 * n) for n in range(30)]
    film = pictures_of(make_film(take(tmp_path, photos), tmp_path / "film.mp4", options=once(30)).path)
    board = np.array([picture[20:200, 20:220].mean((0, 1)) for picture in film])
    # One step of the film's colour planes is two steps of blue, so single pictures may differ by a part of that.
    assert np.ptp(board, axis=0).max() < 1.2
    assert np.abs(board[:8].mean(0) - board[-8:].mean(0)).max() < 0.3


def test_light_that_changes_on_one_side_only_is_evened_too(tmp_path):
    records = take(tmp_path, [Photo(plant_px=20)] * 12)
    for number, record in enumerate(records):
        if number % 2:
            _shade(record.path, strength=0.10)
    film = pictures_of(make_film(records, tmp_path / "film.mp4", options=once(12)).path)
    for box in ((20, 20, 200, 200), (440, 20, 620, 200)):
        assert np.percentile(steps_percent(film, box), 95) < 0.5


def _shade(path: Path, strength: float) -> None:
    picture = np.asarray(Image.open(path)) / 255.0
    ramp = 1 - strength * np.linspace(0, 1, picture.shape[1])[None, :, None]
    values = np.round(255 * srgb_encoded(srgb_decoded(picture) * ramp)).astype(np.uint8)
    Image.fromarray(values).save(path, quality=93)


def test_watered_soil_stays_darker_and_does_not_change_the_light(tmp_path):
    dry, wet = Photo(plant_px=20), Photo(plant_px=20)
    records = take(tmp_path, [dry] * 6 + [wet] * 6)
    for record in records[6:]:
        _darken(record.path, (0, 440, 640, 480), 0.6)
    film = pictures_of(make_film(records, tmp_path / "film.mp4", options=once(12)).path)
    soil = np.array([picture[450:475, 20:620].mean() for picture in film])
    board = np.array([picture[20:200, 20:220].mean() for picture in film])
    assert soil[5] - soil[6] > 25
    assert soil[5] - soil[-1] > 25
    assert np.ptp(board) < 0.8


def _darken(path: Path, box: tuple[int, int, int, int], share: float) -> None:
    picture = np.array(Image.open(path))
    left, top, right, bottom = box
    picture[top:bottom, left:right] = np.round(picture[top:bottom, left:right] * share)
    Image.fromarray(picture).save(path, quality=93)


def test_a_bumped_camera_leaves_no_jump_and_no_black_border(tmp_path):
    bumps = [(0.0, 0.0, 0.0)] * 4 + [(11.6, -5.3, 1.0)] * 4 + [(-3.4, 7.7, -0.6)] * 4
    photos = [Photo(bump=(x, y), turn_deg=turn, plant_px=20) for x, y, turn in bumps]
    records = take(tmp_path, photos, noise=0.8)
    film = pictures_of(make_film(records, tmp_path / "film.mp4", options=once(12, caption=False)).path)
    plan = film_plan([Side(records)], PLAIN)
    left, top = POT[:2]
    at = plan.sides[0].lane.matrices[0] @ [left, top, 1]
    rows, columns = slice(int(at[1]) + 30, int(at[1]) + 90), slice(int(at[0]) - 20, int(at[0]) + 20)
    across = [edge_along(picture[rows, columns, 1].astype(float).mean(0)) for picture in film]
    flat, tall = slice(int(at[0]) + 15, int(at[0]) + 50), slice(int(at[1]) - 20, int(at[1]) + 20)
    down = [edge_along(picture[tall, flat, 1].astype(float).mean(1)) for picture in film]
    assert np.ptp(across) < 0.3
    assert np.ptp(down) < 0.3
    for picture in film:
        rim = np.concatenate([picture[:2].reshape(-1, 3), picture[-2:].reshape(-1, 3), picture[:, :2].reshape(-1, 3)])
        assert rim.min() > 100


def test_a_camera_put_elsewhere_is_shown_as_it_is_and_said(tmp_path):
    photos = [Photo()] * 6 + [Photo(bump=(500.0, 20.0))] * 2
    summary = make_film(take(tmp_path, photos), tmp_path / "film.mp4", options=PLAIN)
    assert (summary.width, summary.height, summary.frames) == (640, 480, 64)
    assert "2 photos show another view" in summary.notes[0]


def test_the_caption_changes_only_its_band_and_hides_nothing(tmp_path):
    records = take(tmp_path, [Photo(plant_px=30)] * 3)
    bare = make_film(records, tmp_path / "bare.mp4", options=PLAIN)
    said = make_film(records, tmp_path / "said.mp4")
    assert said.width == bare.width
    assert said.height > bare.height
    for with_words, without in zip(pictures_of(said.path), pictures_of(bare.path), strict=True):
        picture, band = with_words[: bare.height - 8], with_words[bare.height + 8 :]
        assert np.abs(picture.astype(int) - without[: bare.height - 8]).mean() < 1.0
        assert band.min() < 60
        assert band.max() > 200


def test_photos_larger_than_the_film_are_decoded_small_and_shown_whole(tmp_path):
    records = take(tmp_path, GROWING[:3])
    summary = make_film(records, tmp_path / "film.mp4", options=FilmOptions(height_px=240, caption=False))
    assert (summary.width, summary.height) == (320, 240)
    film = pictures_of(summary.path)
    left, top, right, bottom = (v // 2 for v in POT)
    assert film[0][top + 10 : bottom - 10, left + 10 : right - 10].mean() < 60
    assert film[0][:, :20].mean() > 150


def test_gaps_can_be_held_so_that_time_runs_evenly(tmp_path):
    photos = take(tmp_path, GROWING)
    for number in (4, 5, 6):
        photos[number] = dataclasses.replace(photos[number], used=False, reason="blurred")
    summary = make_film(photos, tmp_path / "film.mp4")
    film = pictures_of(summary.path)
    assert summary.frames == len(film) == 96
    assert summary.sentence.endswith("24 pictures held where photos are missing")
    # The plant stands still while photos are missing, and the clock below says so.
    area = slice(0, 480)
    assert np.abs(film[34][area].astype(int) - film[54][area]).mean() < 0.6
    assert np.abs(film[34][480:].astype(int) - film[50][480:]).max() > 100


def test_gaps_can_be_led_over(tmp_path):
    photos = take(tmp_path, GROWING)
    for number in range(3, 9):
        photos[number] = dataclasses.replace(photos[number], used=False, reason="blurred")
    film = pictures_of(make_film(photos, tmp_path / "film.mp4", options=FilmOptions(caption=False, gaps="blend")).path)
    plant = [picture[240:320, 270:370].astype(int) for picture in film]
    to_come = [np.abs(now - plant[74]).mean() for now in plant[20:72:8]]
    gone_by = [np.abs(now - plant[16]).mean() for now in plant[20:72:8]]
    assert np.all(np.diff(to_come) < 0)
    assert np.all(np.diff(gone_by) > 0)
    board = np.array([picture[20:200, 20:220].mean() for picture in film])
    assert np.ptp(board) < 0.8


def test_one_photo_and_two_photos_still_make_a_film(tmp_path):
    records = take(tmp_path, GROWING[:2])
    assert len(pictures_of(make_film(records[:1], tmp_path / "one.mp4").path)) == 8
    assert len(pictures_of(make_film(records, tmp_path / "two.mp4").path)) == 16
    slow = make_film(records[:1], tmp_path / "long.mp4", options=FilmOptions(seconds=1))
    assert slow.frames == len(pictures_of(slow.path)) == 24


def test_progress_is_told_photo_by_photo(tmp_path):
    told = []
    make_film(take(tmp_path, GROWING[:3]), tmp_path / "film.mp4", progress=lambda done, of: told.append((done, of)))
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_photos_of_an_odd_size_make_an_even_film(tmp_path):
    records = take(tmp_path, GROWING[:2])
    for number, record in enumerate(records):
        _crop(record.path, (633, 475))
        records[number] = dataclasses.replace(record, size=(633, 475), labels_png=None)
    summary = make_film(records, tmp_path / "film.mp4", options=PLAIN)
    assert (summary.width, summary.height) == (632, 474)


def _crop(path: Path, size: tuple[int, int]) -> None:
    picture = np.array(Image.open(path))[: size[1], : size[0]]
    Image.fromarray(picture).save(path, quality=93)


def test_without_a_usable_photo_the_reasons_are_named(tmp_path):
    records = take(tmp_path, [Photo(used=False)] * 3)
    with pytest.raises(PhotosError, match=r"none of the 3 photos.*\n.*dark"):
        make_film(records, tmp_path / "film.mp4")
    assert not (tmp_path / "film.mp4").exists()


def test_a_photo_gone_since_measuring_is_named_and_the_old_film_stays(tmp_path):
    photos = take(tmp_path / "photos", GROWING)
    out = tmp_path / "film.mp4"
    make_film(photos, out)
    before = out.read_bytes()
    photos[7].path.unlink()
    with pytest.raises(PhotosError, match=r"IMG_0008\.JPG"):
        make_film(photos, out)
    photos[7].path.write_bytes(photos[6].path.read_bytes()[:2000])
    with pytest.raises(PhotosError, match=r"IMG_0008\.JPG"):
        make_film(photos, out)
    assert out.read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir() if path.is_file()) == ["film.jpg", "film.mp4"]


def test_a_photo_that_changed_its_size_is_named(tmp_path):
    records = take(tmp_path, GROWING[:3])
    _crop(records[1].path, (320, 200))
    with pytest.raises(PhotosError, match="640 by 480 pixels when it was measured and is 320 by 200 now"):
        make_film(records, tmp_path / "film.mp4")


def test_a_folder_that_is_not_there_is_a_plain_message(tmp_path):
    with pytest.raises(ResultsError, match="could not be written"):
        make_film(take(tmp_path, GROWING[:2]), tmp_path / "nowhere" / "film.mp4")


@pytest.mark.skipif(sys.platform == "win32", reason="a limit on file sizes is a thing of Unix")
def test_a_disk_that_fills_up_leaves_the_old_film_and_nothing_else(tmp_path):
    import resource  # noqa: PLC0415
    import signal  # noqa: PLC0415

    photos = take(tmp_path / "photos", GROWING, noise=12)
    out = tmp_path / "film.mp4"
    out.write_bytes(b"the film of yesterday")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    ignored = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, hard))
    try:
        with pytest.raises(ResultsError, match=r"could not be written(?s:.)*free some space"):
            make_film(photos, out)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, ignored)
    assert out.read_bytes() == b"the film of yesterday"
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["film.mp4"]


def test_the_records_matrix_takes_the_photo_to_the_reference():
    photo = Photo(bump=(3.0, -2.0))
    assert matrix_of(photo) @ [10, 10, 1] == pytest.approx([7.0, 12.0])
