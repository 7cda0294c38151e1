"""Films held against what is written outside: H.264 levels, film arithmetic, even sizes, the boxes of an MP4."""

from __future__ import annotations

import json
import shutil
import struct
import subprocess
from pathlib import Path

import av
import numpy as np
import pytest
from film_photos import Photo, take

from sproutlapse.film.encode import TO_YUV, yuv420
from sproutlapse.film.layout import Bands, lay_out
from sproutlapse.film.levels import lowest_level, macroblocks
from sproutlapse.film.light import srgb_decoded, srgb_encoded
from sproutlapse.film.make import make_film
from sproutlapse.film.options import FilmOptions
from sproutlapse.film.timing import film_seconds

# Handbook 7.3: photos, and the film's length in seconds at 24, 25 and 30 pictures a second.
FILM_LENGTHS = [
    (336, 14.000, 13.440, 11.200),  # hourly, 14 days
    (337, 14.042, 13.480, 11.233),  # both ends kept
    (2016, 84.000, 80.640, 67.200),  # every 10 minutes, 14 days
]

# Handbook 7.4, from ITU-T H.264 table A-1: size, rate, macroblocks in a picture and a second, and lowest level.
LEVELS = [
    (1280, 720, 30, 3_600, 108_000, "3.1"),
    (1920, 1080, 24, 8_160, 195_840, "4.0"),
    (1920, 1080, 25, 8_160, 204_000, "4.0"),
    (1920, 1080, 30, 8_160, 244_800, "4.0"),
    (1920, 1080, 60, 8_160, 489_600, "4.2"),
    (2560, 1440, 30, 14_400, 432_000, "5.0"),
    (3840, 2160, 24, 32_400, 777_600, "5.1"),
    (3840, 2160, 30, 32_400, 972_000, "5.1"),
    (3840, 2160, 60, 32_400, 1_944_000, "5.2"),
    (4032, 3024, 24, 47_628, 1_143_072, None),
    (6000, 4000, 24, 93_750, 2_250_000, None),
]


@pytest.mark.parametrize(("photos", "at_24", "at_25", "at_30"), FILM_LENGTHS)
def test_film_arithmetic(photos, at_24, at_25, at_30):
    assert [round(film_seconds(photos, fps), 3) for fps in (24, 25, 30)] == [at_24, at_25, at_30]


@pytest.mark.parametrize("row", LEVELS)
def test_h264_levels(row):
    width, height, fps, blocks, a_second, level = row
    assert macroblocks(width, height) == blocks
    assert blocks * fps == a_second
    assert lowest_level(width, height, fps) == level


@pytest.mark.parametrize("photo", [(4032, 3024), (3024, 4032), (1280, 960), (6000, 1200), (533, 400)])
@pytest.mark.parametrize("fps", [24, 30, 60])
@pytest.mark.parametrize("band", [0.0, 0.068])
def test_every_film_fits_a_common_level_and_is_even_and_not_enlarged(photo, fps, band):
    for height_px, highest in ((None, 4.0 if fps <= 30 else 4.2), (2160, 5.1 if fps <= 30 else 5.2)):
        place = lay_out([photo], Bands(caption=band), FilmOptions(fps=fps, height_px=height_px))
        (width, height), picture = place.size, place.pictures[0][3]
        assert width % 2 == picture % 2 == height % 2 == 0  # handbook 7.5: 4:2:0 needs even sides
        assert width <= photo[0]
        assert picture <= photo[1]
        assert height <= (height_px or 1080)
        assert abs(width * photo[1] / photo[0] - picture) <= 2
        assert float(lowest_level(width, height, fps)) <= highest


def test_even_size_by_cutting_the_odd_row():
    # Handbook 7.5: 2239 x 2274 and 533 x 400 are refused by an encoder; floor(w/2)*2 is the cut.
    assert lay_out([(533, 400)], Bands(), FilmOptions()).size[0] == 532


def test_the_movie_header_stands_before_the_media(tmp_path):
    # ISO/IEC 14496-12: a box is a 32-bit size and four letters; size 1: a 64-bit size follows; ftyp comes first.
    out = tmp_path / "film.mp4"
    make_film(take(tmp_path, [Photo(plant_px=5 * n) for n in range(1, 6)]), out)
    boxes = top_level_boxes(out)
    assert boxes[0] == "ftyp"
    assert boxes.index("moov") < boxes.index("mdat")


def test_the_written_level_is_the_lowest_that_fits(tmp_path):
    out = tmp_path / "film.mp4"
    summary = make_film(take(tmp_path, [Photo()] * 3), out, options=FilmOptions(fps=25))
    with av.open(str(out)) as container:
        # ISO/IEC 14496-15, 5.3.3.1: avcC holds version, profile, compatibility, level x 10.
        level = container.streams.video[0].codec_context.extradata[3] / 10
    assert level == float(lowest_level(summary.width, summary.height, 25))


@pytest.mark.skipif(shutil.which("ffprobe") is None, reason="ffprobe is not here")
def test_another_program_reads_the_film_as_it_is_meant(tmp_path):
    # H.273: "tv" is limited range; ISO/IEC 14496-12: sample aspect 1:1 are square pixels.
    out = tmp_path / "film.mp4"
    summary = make_film(take(tmp_path, [Photo(plant_px=9 * n) for n in range(1, 5)]), out, options=FilmOptions(fps=25))
    command = ["ffprobe", "-v", "error", "-count_frames", "-show_streams", "-of", "json", str(out)]
    told = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)["streams"][0]
    assert (told["codec_name"], told["pix_fmt"], told["color_range"]) == ("h264", "yuv420p", "tv")
    assert {told["color_space"], told["color_transfer"], told["color_primaries"]} == {"bt709"}
    assert (told["width"], told["height"]) == (summary.width, summary.height)
    assert told["sample_aspect_ratio"] == "1:1"
    assert told["r_frame_rate"] == told["avg_frame_rate"] == "25/1"
    assert int(told["nb_read_frames"]) == summary.frames


def top_level_boxes(path: Path) -> list[str]:
    data, at, names = path.read_bytes(), 0, []
    while at < len(data):
        size, name = struct.unpack(">I4s", data[at : at + 8])
        if size == 1:
            (size,) = struct.unpack(">Q", data[at + 8 : at + 16])
        names.append(name.decode("ascii"))
        at += size or len(data) - at
    return names


def test_srgb_values():
    # Handbook 1.5 (IEC 61966-2-1).
    assert srgb_decoded(np.array([0.5, 128 / 255, 200 / 255])) == pytest.approx(
        [0.214041140, 0.215860500, 0.577580440], abs=1e-9
    )
    assert srgb_encoded(np.array([0.18, 0.5])) == pytest.approx([0.461356130, 0.735356983], abs=1e-9)
    assert srgb_decoded(np.array(0.04045)) == pytest.approx(0.0031308050, abs=1e-9)


def test_bt709_in_limited_range():
    # ITU-R BT.709-6: luma coefficients; 8-bit levels black 16, white 235, no colour 128, colour 16 to 240.
    corners = np.array([[0, 0, 0], [255, 255, 255], [255, 0, 0], [0, 0, 255]], dtype=float)
    y, cb, cr = TO_YUV[:, :3] @ corners.T + TO_YUV[:, 3:]
    assert y == pytest.approx([16, 235, 16 + 219 * 0.2126, 16 + 219 * 0.0722])
    assert cb[:2] == pytest.approx([128, 128])
    assert (cr[2], cb[3]) == pytest.approx((240, 240))
    planes = yuv420(np.full((16, 16, 3), 255, np.float32))
    assert planes.shape == (24, 16)
    assert set(planes[:16].ravel()) == {235}
