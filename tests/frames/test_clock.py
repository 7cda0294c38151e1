"""The camera order of a folder, and what is said of a clock that was set back."""

from __future__ import annotations

import random
from datetime import datetime, timedelta

import pytest

from sproutlapse.frames.clock import Taken, duration_text, gaps, in_order

START = datetime(2026, 3, 1, 9)
Item = tuple[str, Taken]


def at(hours: float, name: str, offset: str = "", source: str = "exif") -> Item:
    return name, Taken(START + timedelta(hours=hours), offset, source)  # type: ignore[arg-type]


def hourly(count: int, first: int = 1, start_h: float = 0.0) -> list[Item]:
    return [at(start_h + k, f"IMG_{first + k:04d}.JPG") for k in range(count)]


def test_a_clock_that_runs_on_needs_no_correction() -> None:
    dated, messages = in_order(hourly(20))
    assert [one.shift_s for one in dated] == [0.0] * 20
    assert messages == []


def test_a_change_of_battery_is_bridged_by_the_usual_interval() -> None:
    items = hourly(10) + hourly(10, first=11, start_h=-9000)
    dated, messages = in_order(items)
    assert [one.frame for one in dated] == [name for name, _ in items]
    assert [one.shift_s for one in dated] == [0.0] * 10 + [9010 * 3600.0] * 10
    assert dated[10].taken.text < dated[9].taken.text
    assert gaps(dated) == (3600.0, [])
    assert "IMG_0011.JPG" in messages[0]
    assert "What to do" in messages[0]


def test_daylight_saving_ending_is_an_hour() -> None:
    items = [at(k / 6, f"IMG_{k:04d}.JPG") for k in range(1, 13)]
    items += [at(k / 6 - 1, f"IMG_{k:04d}.JPG") for k in range(13, 25)]
    dated, messages = in_order(items)
    assert [round(one.shift_s) for one in dated] == [0] * 12 + [3600] * 12
    assert "daylight saving" in messages[0]


def test_several_falls_add_up() -> None:
    items = hourly(8) + hourly(8, 9, -100) + hourly(8, 17, -200)
    dated, messages = in_order(items)
    assert [one.frame for one in dated] == [name for name, _ in items]
    assert gaps(dated)[1] == []
    assert len(messages) == 2


def test_the_first_frames_are_told_the_same_without_the_later_ones() -> None:
    items = hourly(8) + hourly(8, 9, -100) + hourly(8, 17, -50) + hourly(8, 25, -300)
    whole = in_order(items)[0]
    for count in range(1, len(items) + 1):
        assert in_order(items[:count])[0] == whole[:count]


def test_the_order_of_the_files_given_does_not_matter() -> None:
    items = hourly(12) + hourly(12, 13, -100)
    mixed = items[:]
    random.Random(3).shuffle(mixed)
    assert in_order(mixed) == in_order(items)


def test_numbers_running_over_are_no_fall_within_a_folder_or_into_the_next() -> None:
    for folders in (("", ""), ("100CAM/", "101CAM/")):
        names = [f"{folders[0]}IMG_{n}.JPG" for n in (9997, 9998, 9999)]
        names += [f"{folders[1]}IMG_{n:04d}.JPG" for n in (1, 2, 3)]
        dated, messages = in_order([at(k, name) for k, name in enumerate(names)])
        assert [one.frame for one in dated] == names
        assert [one.shift_s for one in dated] == [0.0] * 6
        assert messages == []


def test_a_correction_holds_on_after_numbers_ran_over() -> None:
    names = [f"IMG_{n}.JPG" for n in (9996, 9997, 9998, 9999)] + ["IMG_0001.JPG", "IMG_0002.JPG"]
    dated, _ = in_order([at(h, name) for h, name in zip((0, 1, -50, -49, -48, -47), names, strict=True)])
    assert [one.frame for one in dated] == names
    assert [one.shift_s for one in dated] == [0, 0] + [52 * 3600.0] * 4


def test_a_fall_at_the_change_of_folder_is_seen() -> None:
    items = [at(k, f"100CAM/IMG_{997 + k:04d}.JPG") for k in range(3)]
    items += [at(-80 + k, f"101CAM/IMG_{1000 + k}.JPG") for k in range(3)]
    assert [one.shift_s for one in in_order(items)[0]] == [0.0] * 3 + [83 * 3600.0] * 3


def test_numbers_that_skip_are_ordered_by_time_alone() -> None:
    items = [at(0, "IMG_0001.JPG"), at(2, "IMG_0005.JPG"), at(1, "IMG_0009.JPG")]
    dated, _ = in_order(items)
    assert [one.frame for one in dated] == ["IMG_0001.JPG", "IMG_0009.JPG", "IMG_0005.JPG"]
    assert {one.shift_s for one in dated} == {0.0}


def test_random_numbers_are_ordered_by_time() -> None:
    numbers = random.Random(5).sample(range(0, 9999, 3), 60)
    dated, _ = in_order([at(k, f"P{number}.jpg") for k, number in enumerate(numbers)])
    assert [one.frame for one in dated] == [f"P{number}.jpg" for number in numbers]


def test_names_that_spell_the_time_are_never_corrected() -> None:
    items = [at(1, "20260301_1.jpg", source="name"), at(0, "20260301_2.jpg", source="name")]
    dated, messages = in_order(items)
    assert [one.frame for one in dated] == ["20260301_2.jpg", "20260301_1.jpg"]
    assert "file's name" in messages[0]


def test_a_damaged_frame_without_a_time_does_not_hide_a_fall() -> None:
    items = [*hourly(5), at(500, "IMG_0006.JPG", source="file"), *hourly(5, 7, -40)]
    dated, messages = in_order(items)
    shifts = {one.frame: one.shift_s for one in dated}
    assert shifts["IMG_0007.JPG"] == 45 * 3600.0
    assert any("read as UTC" in message for message in messages)


def test_equal_times_are_reported_and_all_kept_in_the_order_of_names() -> None:
    dated, messages = in_order([at(0, "IMG_0001.JPG"), at(1, "IMG_0003.JPG"), at(1, "IMG_0002.JPG")])
    assert [one.frame for one in dated] == ["IMG_0001.JPG", "IMG_0002.JPG", "IMG_0003.JPG"]
    assert "IMG_0002.JPG and IMG_0003.JPG" in messages[0]


def test_the_hour_that_comes_twice_is_told_by_the_offset() -> None:
    items = [at(k, f"IMG_000{k}.JPG", "+02:00") for k in (1, 2, 3)]
    items += [at(k - 1, f"IMG_000{k}.JPG", "+01:00") for k in (4, 5)]
    assert [one.shift_s for one in in_order(items)[0]] == [0.0] * 3 + [3600.0] * 2


def test_gaps_are_the_steps_longer_than_one_and_a_half_intervals() -> None:
    dated, _ = in_order([at(h, f"IMG_{k:04d}.JPG") for k, h in enumerate((0, 1, 2, 3.4, 4.4, 9.4, 10.4))])
    assert gaps(dated) == (3600.0, [("IMG_0004.JPG", "IMG_0005.JPG", 18000.0)])
    assert gaps(dated[:1]) == (0.0, [])
    assert gaps([]) == (0.0, [])


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (45, "45 s"),
        (600, "10 min"),
        (3900, "1 h 5 min"),
        (3600, "1 h"),
        (93600 * 2, "2 days 4 h"),
        (-86400 * 3, "3 days"),
    ],
)
def test_lengths_of_time_read_plainly(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text


def test_a_clock_that_was_set_back_and_set_right_again_leaves_no_trace() -> None:
    items = hourly(10) + hourly(5, 11, 10 - 7 * 24) + hourly(10, 16, 15)
    dated, messages = in_order(items)
    assert [one.frame for one in dated] == [name for name, _ in items]
    assert [one.shift_s for one in dated] == [0.0] * 10 + [7 * 86400.0] * 5 + [0.0] * 10
    assert len(messages) == 2 and "set right again at IMG_0016.JPG" in messages[1]


def test_two_hours_back_and_later_two_hours_on_may_be_a_gap_and_is_no_setting_right() -> None:
    items = hourly(10) + hourly(10, 11, 8) + hourly(10, 21, 20)
    assert [one.shift_s for one in in_order(items)[0]][-1] == 2 * 3600.0


def test_some_photos_with_a_wrong_year_do_not_part_the_season() -> None:
    years = 10 * 365 * 24
    items = hourly(10) + hourly(4, 11, 10 + years) + hourly(10, 15, 14)
    dated, messages = in_order(items)
    assert [one.frame for one in dated] == [name for name, _ in items]
    assert [one.shift_s for one in dated] == [0.0] * 10 + [-years * 3600.0] * 4 + [0.0] * 10
    assert gaps(dated) == (3600.0, [])
    assert "another year at IMG_0011.JPG" in messages[0] and "set right again at IMG_0015.JPG" in messages[1]


def test_a_clock_that_was_only_set_after_the_first_day_is_one_season() -> None:
    items = hourly(5, 1, -25 * 365 * 24) + hourly(10, 6, 5)
    dated, _ = in_order(items)
    assert [one.frame for one in dated] == [name for name, _ in items]
    assert gaps(dated) == (3600.0, [])


def test_a_year_between_photos_whose_numbers_do_not_follow_is_a_gap() -> None:
    items = hourly(5) + hourly(5, 401, 365 * 24)
    dated, messages = in_order(items)
    assert messages == [] and len(gaps(dated)[1]) == 1


def test_years_and_days_that_are_wrong_are_told_the_same_without_the_later_frames() -> None:
    items = hourly(6) + hourly(4, 7, 6 + 9000) + hourly(5, 11, 10) + hourly(4, 16, -400) + hourly(5, 20, 19)
    whole = in_order(items)[0]
    for count in range(1, len(items) + 1):
        assert in_order(items[:count])[0] == whole[:count]
