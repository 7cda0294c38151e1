"""A film in place of a folder: each frame's picture, however it is packed and in whatever order it is asked for."""

from __future__ import annotations

import io
import os
import random
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image
from reels import number_in, numbered, spoil, write_jpegs, write_reel

from sproutlapse.errors import PhotosError
from sproutlapse.frames import decode, reel

PICTURES = [numbered(number) for number in range(1, 31)]
# What cameras and encoders do: key frames far apart and near, frames built on later ones, open groups, no such thing.
KINDS = {
    "far.mp4": {"gop": 250, "preset": "fast"},
    "near.mov": {"gop": 6, "preset": "fast"},
    "open.mp4": {"gop": 8, "preset": "fast", "x264-params": "open-gop=1:bframes=3:scenecut=0"},
    "later.avi": {"gop": 12, "preset": "fast"},
    "plain.avi": {"gop": 7},
    "other.avi": {"codec": "mpeg4"},
    "each.mov": {"codec": "mjpeg"},
}


@pytest.fixture(scope="module", params=KINDS)
def film(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A film of thirty numbered frames."""
    return write_reel(tmp_path_factory.mktemp("film") / request.param, PICTURES, **KINDS[request.param])


def picture_of(film: Path, number: int) -> np.ndarray:
    """As the rest of the project reads it."""
    path = film / reel.frame_name(number)
    return decode.decode(decode.read_bytes(path), path.name)


def test_each_frame_shows_its_number(film):
    assert reel.count(film) == 30
    assert [number_in(picture_of(film, number)) for number in range(1, 31)] == list(range(1, 31))
    assert np.abs(picture_of(film, 17).astype(float) - PICTURES[16]).mean() < 6
    data = reel.picture(film, 17)
    assert decode.size_of(data, "frame-000017") == (112, 96)
    assert decode.decode(data, "frame-000017", shrink=2).shape == (48, 56, 3)


def test_a_frame_is_the_same_in_whatever_order_it_is_asked_for(film):
    straight = [reel.picture(film, number) for number in range(1, 31)]
    asked = [random.Random(3).randint(1, 30) for _ in range(20)]
    assert all(reel.picture(film, number) == straight[number - 1] for number in [30, 1, 2, 29, *asked])
    with ThreadPoolExecutor(2) as threads:
        assert list(threads.map(lambda number: reel.picture(film, number), range(1, 31))) == straight


def test_in_order_nothing_is_decoded_twice(tmp_path, monkeypatch):
    film = write_reel(tmp_path / "bed.mp4", PICTURES, gop=250, preset="fast")
    reel.count(film)
    fed = []
    decoded = reel.decoded
    monkeypatch.setattr(reel, "decoded", lambda codec, packet: fed.append(packet) or decoded(codec, packet))
    for number in range(1, 31):
        reel.picture(film, number)
    assert len([packet for packet in fed if packet is not None]) == 30


def test_a_later_key_frame_is_gone_to_at_once(tmp_path, monkeypatch):
    film = write_reel(tmp_path / "bed.mp4", PICTURES, gop=5, **{"x264-params": "scenecut=0"})
    assert number_in(picture_of(film, 1)) == 1
    fed = []
    decoded = reel.decoded
    monkeypatch.setattr(reel, "decoded", lambda codec, packet: fed.append(packet) or decoded(codec, packet))
    assert number_in(picture_of(film, 27)) == 27
    assert len(fed) <= 3  # the key frame 26 and 27


def test_motion_jpeg_is_handed_on_as_it_is_stored(tmp_path):
    jpegs = []
    for picture in PICTURES[:5]:
        data = io.BytesIO()
        Image.fromarray(picture).save(data, "JPEG", quality=93)
        jpegs.append(data.getvalue())
    for ending in ("avi", "mov"):
        film = write_jpegs(tmp_path / f"bed.{ending}", jpegs, (112, 96))
        assert [reel.picture(film, number) for number in (1, 2, 3, 4, 5, 2)] == [*jpegs, jpegs[1]]


@pytest.mark.parametrize("height, told, expected", [(96, None, 5), (720, None, 1), (96, 1, 1), (720, 5, 5)])
def test_colours_are_read_by_the_matrix_that_is_told_or_usual_for_the_height(tmp_path, height, told, expected):
    colours = np.array([(200, 40, 40), (40, 160, 60), (50, 60, 190), (250, 250, 250)], np.uint8)
    picture = np.repeat(np.repeat(colours[None], 28, axis=1), height, axis=0)
    space = told or expected
    film = write_reel(tmp_path / "bed.mp4", [picture] * 2, space=space, tell=told is not None)
    seen = picture_of(film, 2)
    assert np.abs(seen[height // 2, 14::28].astype(int) - colours).max() <= 4


@pytest.mark.parametrize("limited", [True, False])
def test_black_and_white_are_what_the_film_says(tmp_path, limited):
    picture = np.repeat(np.repeat(np.array([[(0,) * 3, (255,) * 3, (128,) * 3]], np.uint8), 32, axis=1), 96, axis=0)
    film = write_reel(tmp_path / "bed.mp4", [picture] * 2, limited=limited, tell=True)
    assert np.abs(picture_of(film, 1)[48, 16::32].astype(int) - picture[48, 16::32]).max() <= 2


@pytest.mark.parametrize("degrees", [90, 180, -90])
@pytest.mark.parametrize("codec", ["libx264", "mjpeg"])
def test_a_film_on_its_side_is_set_upright(tmp_path, degrees, codec):
    film = write_reel(tmp_path / "bed.mp4", PICTURES[:2], codec, rotation=degrees)
    upright = np.rot90(PICTURES[1], degrees // 90)
    assert np.abs(picture_of(film, 2).astype(float) - upright).mean() < 6


def test_pixels_that_are_not_square_come_out_square(tmp_path):
    film = write_reel(tmp_path / "bed.mp4", PICTURES[:2], **{"x264-params": "sar=2/1"})
    assert picture_of(film, 1).shape == (96, 224, 3)


@pytest.mark.parametrize("name", ["bed.mp4", "bed.avi"])
def test_a_broken_frame_and_those_built_on_it_are_damaged_up_to_the_next_key_frame(tmp_path, name):
    film = write_reel(tmp_path / name, PICTURES, gop=10, **{"x264-params": "scenecut=0:bframes=0"})
    whole = [reel.picture(film, number) for number in range(1, 31)]
    spoil(film, 13)
    now = [reel.picture(film, number) for number in range(1, 31)]
    why = {number: reel.lost(data) for number, data in enumerate(now, start=1) if reel.lost(data)}
    assert sorted(why) == list(range(14, 21))
    assert why[14] == "its data in the film are broken"
    assert why[20] == "it is built on frame-000014, whose data are broken"
    assert [data for data in now if not reel.lost(data)] == whole[:13] + whole[20:]
    assert reel.picture(film, 20) == now[19]  # also when asked for alone
    with pytest.raises(decode.Damaged, match="built on frame-000014"):
        decode.decode(now[19], "frame-000020")
    assert len(set(now)) == 30  # no two damaged ones count as copies of each other


def test_a_broken_jpeg_in_a_film_is_damaged_alone(tmp_path):
    film = write_reel(tmp_path / "bed.avi", PICTURES[:6], "mjpeg")
    spoil(film, 2)
    for number in (1, 2, 4, 5, 6):
        assert number_in(picture_of(film, number)) == number
    with pytest.raises(decode.Damaged):
        picture_of(film, 3)


@pytest.mark.parametrize("more", [{"preset": "ultrafast"}, {"preset": "fast"}])
def test_of_a_film_cut_short_what_is_there_keeps_its_number_and_the_rest_is_damaged(tmp_path, more):
    film = write_reel(tmp_path / "bed.mp4", PICTURES, gop=250, container={"movflags": "faststart"}, **more)
    data = film.read_bytes()
    film.write_bytes(data[: len(data) * 6 // 10])
    assert reel.count(film) == 30
    seen = [reel.picture(film, number) for number in range(1, 31)]
    there = [number for number, data in enumerate(seen, start=1) if not reel.lost(data)]
    assert there == list(range(1, len(there) + 1)) and 8 < len(there) < 25
    assert [number_in(picture_of(film, number)) for number in there] == there
    assert reel.lost(seen[-1]) == "the film was cut short, and this frame is not in it"
    assert any("was cut short: of the 30 frames" in line for line in reel.told(film))


def test_an_avi_cut_short_gives_what_is_there(tmp_path):
    film = write_reel(tmp_path / "bed.avi", PICTURES, "mjpeg")
    data = film.read_bytes()
    film.write_bytes(data[: len(data) // 2])
    count = reel.count(film)
    assert 8 < count < 20
    assert [number_in(picture_of(film, number)) for number in range(1, count)] == list(range(1, count))
    assert reel.lost(reel.picture(film, count)) == "the film ends in the middle of this frame"
    assert any("was cut short" in line for line in reel.told(film))


def test_a_film_that_was_never_finished_is_named(tmp_path):
    film = write_reel(tmp_path / "bed.mp4", PICTURES)
    film.write_bytes(film.read_bytes()[:4000])
    with pytest.raises(PhotosError, match="table of contents, which the camera writes last, is missing"):
        reel.count(film)


@pytest.mark.parametrize("content, why", [(b"", "empty"), (b"#EXTM3U\nhttp://x/y.ts\n" * 9, "neither as an MP4")])
def test_what_is_no_film_is_named(tmp_path, content, why):
    film = tmp_path / "bed.mp4"
    film.write_bytes(content)
    with pytest.raises(PhotosError, match=why) as told:
        reel.count(film)
    assert "What to do" in str(told.value)


def test_a_film_without_pictures_is_named(tmp_path):
    with av.open(str(tmp_path / "bed.mp4"), "w") as film:
        stream = film.add_stream("aac", rate=8000)
        sound = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), format="fltp", layout="mono")
        sound.sample_rate = 8000
        film.mux(stream.encode(sound))
        film.mux(stream.encode())
    with pytest.raises(PhotosError, match="no moving pictures"):
        reel.count(tmp_path / "bed.mp4")


def test_sound_is_passed_over_and_of_several_streams_the_first_is_taken(tmp_path):
    with_sound = write_reel(tmp_path / "a.mp4", PICTURES[:4], extra="sound")
    assert reel.told(with_sound) == []
    two = write_reel(tmp_path / "b.mp4", PICTURES[:4], extra="second")
    assert reel.told(two) == ["b.mp4 holds 2 picture streams; the first was taken."]
    for film in (with_sound, two):
        assert reel.count(film) == 4
        assert [number_in(picture_of(film, number)) for number in range(1, 5)] == [1, 2, 3, 4]


def test_a_film_that_grew_is_read_anew(tmp_path):
    film = write_reel(tmp_path / "bed.mp4", PICTURES[:4])
    assert reel.count(film) == 4
    write_reel(tmp_path / "more.mp4", PICTURES[:9])
    (tmp_path / "more.mp4").replace(film)
    assert reel.count(film) == 9
    assert number_in(picture_of(film, 9)) == 9


def test_a_film_that_went_is_named(tmp_path):
    film = write_reel(tmp_path / "bed.mp4", PICTURES[:4])
    reel.count(film)
    film.rename(tmp_path / "away.mp4")
    with pytest.raises(PhotosError, match="cannot be read"):
        reel.picture(film, 1)


@pytest.mark.skipif(sys.platform in {"darwin", "win32"}, reason="names there are always text")
def test_a_name_that_is_no_text_does_no_harm(tmp_path):
    film = Path(os.fsdecode(os.fsencode(tmp_path) + b"/b\xe4d: 1%03d.mp4"))
    write_reel(tmp_path / "bed.mp4", PICTURES[:4]).rename(film)
    assert number_in(picture_of(film, 3)) == 3


def test_only_a_path_below_a_film_is_a_frame(tmp_path):
    assert reel.frame_of(Path("a/bed.MP4/frame-000123")) == (Path("a/bed.MP4"), 123)
    assert reel.frame_of(Path("a/bed.mp4/frame-000123.jpg")) is None
    assert reel.frame_of(Path("a/bed/frame-000123")) is None
    assert reel.file_of(Path("a/bed.mp4/frame-000123")) == Path("a/bed.mp4")
    assert reel.file_of(Path("a/bed/IMG_1.JPG")) == Path("a/bed/IMG_1.JPG")
