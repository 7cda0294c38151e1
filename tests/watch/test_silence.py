"""When the camera is said to have stopped."""

import pytest

from sproutlapse.watch.silence import Silence, longest_silence_s

HOUR = 3600.0


def hourly(count: int, start: float = 0.0) -> list[float]:
    return [start + k * HOUR for k in range(count)]


def test_twice_the_interval_without_a_photo():
    silence = Silence(0.0)
    assert not silence.stopped(hourly(20), 2 * HOUR - 1)
    assert silence.stopped(hourly(20), 2 * HOUR)
    assert not silence.stopped(hourly(20), 3 * HOUR)


def test_it_is_said_again_only_after_photos_came():
    silence = Silence(0.0)
    assert silence.stopped(hourly(5), 2 * HOUR)
    assert silence.came(5 * HOUR, 3 * HOUR)
    assert not silence.stopped(hourly(6), 4 * HOUR)
    assert silence.stopped(hourly(6), 5 * HOUR)


def test_a_single_photo_tells_no_interval_and_an_hour_is_taken():
    assert longest_silence_s([0.0]) == 2 * HOUR


def test_a_shorter_interval_since_yesterday_is_the_interval():
    times = hourly(20)
    assert longest_silence_s([*times, *(times[-1] + 600.0 * k for k in range(1, 8))]) == pytest.approx(1200.0)


def test_somebody_who_copies_the_card_each_evening_is_not_told_in_between():
    silence = Silence(0.0, last_s=0.0)
    for day in (1, 2):
        silence.came(day * 24 * HOUR, day * 24 * HOUR)
    assert not silence.stopped(hourly(49), (48 + 47) * HOUR)
    assert silence.stopped(hourly(49), (48 + 48) * HOUR)


def test_a_camera_that_rests_at_night_has_not_stopped_in_the_evening():
    days = [day * 24 * HOUR + hour * HOUR for day in range(3) for hour in range(7, 20)]
    assert longest_silence_s(days) == pytest.approx(13 * HOUR)
    assert longest_silence_s(days[:-3]) == pytest.approx(2 * HOUR)


def test_without_photos_nothing_is_said():
    assert not Silence(0.0).stopped([], 1e9)
