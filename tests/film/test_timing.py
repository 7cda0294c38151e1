"""Which photo stands where in the film, how long it is, and what the caption says."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from sproutlapse.errors import ResultsError
from sproutlapse.film.options import FilmOptions
from sproutlapse.film.timing import exact_rate, held_pictures, sentence, shots, stretched
from sproutlapse.results import FrameRecord

START = datetime(2026, 2, 27, 22, 0)


def record(hours: float, *, time: str | None = None, used: bool = True) -> FrameRecord:
    written = time or (START + timedelta(hours=hours)).isoformat()
    return FrameRecord("a.jpg", Path("a.jpg"), written, hours, used, "" if used else "dark", size=(640, 480))


def test_the_first_photo_is_on_day_one_and_the_day_turns_at_midnight():
    made = shots([record(hour) for hour in range(4)], FilmOptions())
    assert [shot.day for shot in made] == ["Day 1", "Day 1", "Day 2", "Day 2"]
    assert made[0].moment == "27 Feb 2026, 22:00"
    assert made[3].moment == "28 Feb 2026, 01:00"


def test_days_can_be_counted_from_sowing():
    made = shots([record(0), record(72)], FilmOptions(day_zero=date(2026, 2, 20)))
    assert [shot.day for shot in made] == ["Day 7", "Day 10"]


def test_a_clock_that_was_reset_does_not_send_the_caption_to_another_year():
    made = shots([record(0), record(1, time="2000-01-01T00:00:00"), record(2)], FilmOptions())
    assert made[1].moment == "27 Feb 2026, 23:00"


def test_summer_time_is_shown_as_the_clock_showed_it():
    zone = [record(0, time="2026-03-29T01:00:00+01:00"), record(1, time="2026-03-29T03:00:00+02:00")]
    assert [shot.moment for shot in shots(zone, FilmOptions())] == ["29 Mar 2026, 01:00", "29 Mar 2026, 03:00"]


def test_the_line_grows_with_true_time_and_not_with_the_number_of_photos():
    made = shots([record(0), record(1), record(10)], FilmOptions())
    assert [shot.progress for shot in made] == pytest.approx([0.0, 0.1, 1.0])


def test_a_night_without_photos_is_held_for_its_hours():
    hours = np.array([0.0, 1, 2, 10, 11, 12])
    assert held_pictures(hours).tolist() == [1, 1, 8, 1, 1, 1]
    assert held_pictures(np.array([3.0])).tolist() == [1]


def test_an_asked_for_length_is_kept_and_shared_out_evenly():
    shares = stretched(np.ones(60, dtype=np.int64), 240)
    assert set(shares.tolist()) == {4}
    fewer = stretched(np.ones(2016, dtype=np.int64), 240)
    assert fewer.sum() == 240
    assert set(fewer.tolist()) == {0, 1}
    made = shots([record(hour) for hour in range(2016)], FilmOptions(seconds=10))
    assert sum(shot.repeats for shot in made) == len(made) == 240


def test_broadcast_rates_are_exact():
    assert exact_rate(24) == 24
    assert exact_rate(29.97) == Fraction(30000, 1001)
    assert exact_rate(12.5) == Fraction(25, 2)


def test_the_sentence_says_how_long_and_why():
    assert sentence(336, 224, 224, FilmOptions()) == "336 photos, 224 by light: 9.3 s at 24 a second"
    assert sentence(1, 1, 24, FilmOptions(seconds=1)) == "1 photo: 1.0 s at 24 a second, as asked"


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"fps": 0.0}, "film pictures a second"),
        ({"fps": float("nan")}, "film pictures a second"),
        ({"fps": 240.0}, "1 to 60"),
        ({"seconds": -3.0}, "length of the film"),
        ({"height_px": 50}, "120 to 2160"),
        ({"gaps": "blend"}, '"skip" or "hold"'),
    ],
)
def test_options_that_cannot_be_are_refused_in_plain_words(wrong, said):
    with pytest.raises(ResultsError, match=said):
        FilmOptions(**wrong)
