"""Which photo stands where in the film, how long it is, and what the caption says."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from sproutlapse.errors import ResultsError
from sproutlapse.film.options import FilmOptions
from sproutlapse.film.timing import exact_rate, sentence, timeline
from sproutlapse.results import FrameRecord

START = datetime(2026, 2, 27, 22, 0)


def record(hours: float, *, time: str | None = None, used: bool = True) -> FrameRecord:
    written = time or (START + timedelta(hours=hours)).isoformat()
    return FrameRecord("a.jpg", Path("a.jpg"), written, hours, used, "" if used else "dark", size=(640, 480))


def captions(frames, options: FilmOptions | None = None) -> list[tuple[str, str]]:
    """Day and clock of each photo, once."""
    moments = timeline(frames, options or FilmOptions()).moments
    return list(dict.fromkeys((moment.day, moment.clock) for moment in moments))


def by_day(days: int, hours=range(7, 22), **more) -> list[FrameRecord]:
    """A photo an hour by day, from midnight on counted."""
    return [record(24 * day + hour, **more) for day in range(days) for hour in hours]


def test_the_first_photo_is_on_day_one_and_the_day_turns_at_midnight():
    made = captions([record(hour) for hour in range(4)])
    assert [day for day, _clock in made] == ["Day 1", "Day 1", "Day 2", "Day 2"]
    assert made[0][1] == "27 Feb 2026, 22:00"
    assert made[3][1] == "28 Feb 2026, 01:00"


def test_days_can_be_counted_from_sowing():
    made = captions([record(0), record(72)], FilmOptions(day_zero=date(2026, 2, 20)))
    assert [day for day, _clock in made] == ["Day 7", "Day 10"]


def test_a_clock_that_was_reset_does_not_send_the_caption_to_another_year():
    made = captions([record(0), record(1, time="2000-01-01T00:00:00"), record(2)])
    assert made[1][1] == "27 Feb 2026, 23:00"


def test_summer_time_is_shown_as_the_clock_showed_it():
    zone = [record(0, time="2026-03-29T01:00:00+01:00"), record(1, time="2026-03-29T03:00:00+02:00")]
    assert [clock for _day, clock in captions(zone)] == ["29 Mar 2026, 01:00", "29 Mar 2026, 03:00"]


def test_every_film_picture_stands_for_the_same_span_of_time():
    hours = [0.0, 1.01, 1.98, 3.0, 4.02, 9.0, 10.0, 11.0]
    line = timeline([record(hour) for hour in hours], FilmOptions(seconds=1.0))
    assert np.allclose(np.diff([moment.hours for moment in line.moments]), line.span_h, atol=0.1)
    line = timeline([record(hour) for hour in hours], FilmOptions())
    assert line.shares() == [8, 8, 8, 8, 40, 8, 8, 8]


def test_the_line_grows_with_true_time_and_not_with_the_number_of_photos():
    line = timeline([record(0), record(1), record(2), record(12)], FilmOptions())
    first = {moment.shot: moment.progress for moment in reversed(line.moments)}
    assert [first[shot] for shot in range(4)] == pytest.approx([0.0, 0.08, 0.16, 0.93], abs=0.02)


def test_a_gap_is_held_and_the_clock_runs_on_and_says_so():
    line = timeline([record(hour) for hour in (0, 1, 2, 6, 7)], FilmOptions())
    assert line.shares() == [8, 8, 32, 8, 8]
    standing, held = line.moments[16:24], line.moments[24:48]
    assert {(moment.mark, moment.clock) for moment in standing} == {("", "28 Feb 2026, 00:00")}
    assert {moment.mark for moment in held} == {"held"}
    assert held[-1].clock == "28 Feb 2026, 03:52"
    assert line.moments[48].mark == ""
    assert sentence([record(0)] * 5, line, FilmOptions()).endswith("24 pictures held where photos are missing")


def test_a_gap_is_led_over_on_request_and_says_so():
    line = timeline([record(hour) for hour in (0, 1, 2, 6, 7)], FilmOptions(gaps="blend"))
    shares = [moment.toward for moment in line.moments if moment.mark == "blended"]
    assert np.all(np.diff(shares) > 0)
    assert 0 < shares[0] < 0.05
    assert 0.95 < shares[-1] < 1
    assert line.moments[48].toward == 0


def test_nights_are_left_out_held_or_shown():
    frames = [record(hour, used=7 <= (hour + 22) % 24 < 22) for hour in range(9, 9 + 24 * 4)]
    light = sum(frame.used for frame in frames)
    without = timeline(frames, FilmOptions())
    assert len(without.moments) == light * without.hold
    assert not any(moment.mark for moment in without.moments)
    assert without.nights_out
    held = timeline(frames, FilmOptions(night="hold"))
    night = [moment for moment in held.moments if moment.mark == "night"]
    assert len(held.moments) > len(night) > 20
    used = [frame.elapsed_h for frame in frames if frame.used]
    assert len(held.moments) / held.hold == used[-1] - used[0] + 1
    shown = timeline(frames, FilmOptions(night="show"))
    assert any(not frame.used for frame in shown.records)
    assert {moment.mark for moment in shown.moments if not shown.records[moment.shot].used} == {"night"}


def test_a_camera_that_only_works_by_day_has_nights_too():
    line = timeline(by_day(4), FilmOptions())
    assert line.nights_out
    assert set(line.shares()) == {line.hold}
    held = timeline(by_day(4), FilmOptions(night="hold"))
    assert held.marked("night") > 0
    # One long gap is no night: it is held, and the caption says so.
    assert timeline([record(hour) for hour in (*range(20), *range(30, 60))], FilmOptions()).marked("held") > 0


def test_a_short_folder_makes_a_film_that_can_be_watched():
    for photos, hold in ((12, 8), (60, 4), (150, 2), (300, 1), (2016, 1)):
        line = timeline([record(hour) for hour in range(photos)], FilmOptions())
        assert line.hold == hold
        assert len(line.moments) == photos * hold
    assert timeline([record(hour) for hour in range(60)], FilmOptions(fps=6)).hold == 1


def test_an_asked_for_length_is_kept_and_shared_out_evenly():
    shares = timeline([record(hour) for hour in range(60)], FilmOptions(seconds=10)).shares()
    assert set(shares) == {4}
    line = timeline([record(hour) for hour in range(2016)], FilmOptions(seconds=10))
    assert len(line.moments) == len(line.records) == 240


def test_a_part_is_chosen_by_date_by_day_number_or_from_the_first_sprout_on():
    frames = [record(hour) for hour in range(0, 24 * 8, 2)]
    part = timeline(frames, FilmOptions(since="2026-03-01", until="2026-03-02")).records
    assert (part[0].time, part[-1].time) == ("2026-03-01T00:00:00", "2026-03-02T22:00:00")
    part = timeline(frames, FilmOptions(since="2026-03-01 13:00", until="4")).records
    assert (part[0].time, part[-1].time) == ("2026-03-01T14:00:00", "2026-03-02T22:00:00")
    part = timeline(frames, FilmOptions(start_at="emergence"), emerged_h=60.0).records
    assert part[0].elapsed_h == 48.0
    # Days are counted on from the first photo, whatever part is shown.
    assert timeline(frames, FilmOptions(since="3")).moments[0].day == "Day 3"


def test_a_part_without_photos_names_those_there_are():
    with pytest.raises(ResultsError, match=r"no usable photo(?s:.)*2026-02-27 22:00:00 to 2026-02-28 01:00:00"):
        timeline([record(hour) for hour in range(4)], FilmOptions(since="2026-05-01"))
    with pytest.raises(ResultsError, match="no plant has come up"):
        timeline([record(hour) for hour in range(4)], FilmOptions(start_at="emergence"))


def test_calm_shows_one_hour_of_each_day_and_leads_over():
    line = timeline(by_day(6), FilmOptions(calm=True))
    assert len(line.records) == 6
    assert len({frame.time[11:] for frame in line.records}) == 1
    assert len(line.moments) == 6 * line.hold
    assert {moment.mark for moment in line.moments if moment.toward > 0} == {"blended"}


def test_broadcast_rates_are_exact():
    assert exact_rate(24) == 24
    assert exact_rate(29.97) == Fraction(30000, 1001)
    assert exact_rate(12.5) == Fraction(25, 2)


def test_the_sentence_says_how_long_and_why():
    frames = [record(hour, used=hour % 24 < 16) for hour in range(336)]
    line = timeline(frames, FilmOptions())
    assert sentence(frames, line, FilmOptions()) == "336 photos, 224 by light: 9.3 s at 24 a second, nights left out"
    one = FilmOptions(seconds=1)
    assert sentence(frames[:1], timeline(frames[:1], one), one) == "1 photo: 1.0 s at 24 a second, as asked"
    few = timeline(frames[:10], FilmOptions())
    assert sentence(frames[:10], few, FilmOptions()) == "10 photos: 3.3 s at 24 a second, each photo for 8 pictures"


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"fps": 0.0}, "film pictures a second"),
        ({"fps": float("nan")}, "film pictures a second"),
        ({"fps": 240.0}, "1 to 60"),
        ({"seconds": -3.0}, "length of the film"),
        ({"height_px": 50}, "120 to 2160"),
        ({"gaps": "skip"}, '"hold" or "blend"'),
        ({"shape": "4:3"}, '"9:16" or "1:1"'),
        ({"since": "yesterday"}, '"yesterday" is no date'),
        ({"since": "3", "start_at": "emergence"}, "two places"),
        ({"calm": True, "night": "show"}, "no night to show"),
        ({"kind": "gif", "fps": 60.0}, "GIF"),
    ],
)
def test_options_that_cannot_be_are_refused_in_plain_words(wrong, said):
    with pytest.raises(ResultsError, match=said):
        FilmOptions(**wrong)
