"""When the frames of a film were taken."""

from datetime import datetime
from pathlib import Path

import pytest
from reels import numbered, write_reel

from sproutlapse.errors import PhotosError, SproutlapseError
from sproutlapse.frames import reel_times
from sproutlapse.frames.find import photos
from sproutlapse.frames.reel_times import FilmTimes, film_times

PICTURES = [numbered(number) for number in range(1, 6)]
MARCH = datetime(2026, 3, 1, 9)


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A film that does not tell its date."""
    return write_reel(tmp_path_factory.mktemp("film") / "bed.mp4", PICTURES)


@pytest.mark.parametrize(
    "text, when, offset",
    [
        ("2026-03-01 09:00", MARCH, ""),
        ("2026-03-01T09:00:00", MARCH, ""),
        (" 2026-03-01 09 ", MARCH, ""),
        ("2026-03-01T09:00:00+01:00", MARCH, "+01:00"),
    ],
)
def test_a_beginning_is_a_day_with_its_time(text, when, offset):
    assert film_times(text, 60) == FilmTimes(when, offset, 60)


@pytest.mark.parametrize("text", ["2026-03-01", "tomorrow", "09:00", "1.3.2026 9:00", ""])
def test_anything_else_is_no_beginning(text):
    with pytest.raises(SproutlapseError, match="no day with its time") as told:
        film_times(text, 60)
    assert told.value.exit_code == 2


def test_times_go_by_the_number_exactly(film):
    files = photos(film, film_times("2026-03-01 09:00", 12.5))
    assert [file.frame for file in files] == [f"frame-00000{n}" for n in range(1, 6)]
    assert [str(file.when)[11:] for file in files] == ["09:00:00", "09:12:30", "09:25:00", "09:37:30", "09:50:00"]
    assert {(file.size_bytes, file.mtime_ns) for file in files} == {(film.stat().st_size, film.stat().st_mtime_ns)}
    # A year of hours, and an interval that no number of seconds divides.
    assert FilmTimes(MARCH, "", 60).at(8761) == datetime(2027, 3, 1, 9)
    assert abs((FilmTimes(MARCH, "", 20 / 3).at(2161) - datetime(2026, 3, 11, 9)).total_seconds()) < 0.001


def test_what_is_missing_is_asked_for_by_the_name_of_its_option(film):
    with pytest.raises(PhotosError, match="--every") as told:
        photos(film, film_times("2026-03-01 09:00", None))
    assert "--every 60" in told.value.remedy
    with pytest.raises(PhotosError, match="--begins"):
        photos(film, film_times(None, 60))
    with pytest.raises(PhotosError, match="--every"):
        photos(film)


def test_times_of_a_film_are_refused_for_photos(tmp_path):
    with pytest.raises(PhotosError, match="photos carry their own times"):
        photos(tmp_path, film_times(None, 60))


def test_a_film_that_ends_after_the_calendar_is_refused(film):
    with pytest.raises(PhotosError, match="beyond the year 9999"):
        photos(film, film_times("2026-03-01 09:00", 1e10))


def test_without_a_beginning_the_films_own_date_is_taken_and_told(tmp_path):
    film = write_reel(tmp_path / "bed.mp4", PICTURES, metadata={"creation_time": "2026-03-01T08:00:00.000000Z"})
    files = photos(film, film_times(None, 60))
    assert files[1].when == datetime(2026, 3, 1, 9)
    (told,) = reel_times.told_of_times(film, film_times(None, 60))
    assert "2026-03-01 08:00:00" in told and "UTC" in told and "--begins" in told
    assert reel_times.told_of_times(film, film_times("2026-03-01 09:00", 60)) == []


def test_a_date_that_no_camera_can_have_meant_is_not_taken(tmp_path):
    film = write_reel(tmp_path / "bed.mp4", PICTURES, metadata={"creation_time": "1970-01-02T00:00:00Z"})
    with pytest.raises(PhotosError, match="does not tell when it begins"):
        photos(film, film_times(None, 60))


def test_another_kind_of_file_is_named_with_what_can_be_given(tmp_path):
    (tmp_path / "bed.mkv").write_bytes(b"x")
    with pytest.raises(PhotosError, match=r"a folder of photos or a film \(.mp4, .m4v, .mov, .avi\) is needed"):
        photos(tmp_path / "bed.mkv")
