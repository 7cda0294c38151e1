"""Numbers and times in plain words."""

import pytest

from sproutlapse.report.words import amount, between, clock, hours, named, shortened


@pytest.mark.parametrize(
    ("value", "sd", "words"),
    [
        (41.2, 1.0, "41 mm, give or take 2"),
        (41.2, 0.3, "41.2 mm, give or take 0.6"),
        (83.0, None, "83 mm"),
        (3.44, None, "3.4 mm"),
        (5.0, 0.001, "5.0 mm, give or take 0.1"),
        (-2.0, None, "−2.0 mm"),
        (-0.01, None, "0.0 mm"),
        (None, 1.0, ""),
    ],
)
def test_lengths(value: float | None, sd: float | None, words: str) -> None:
    assert amount(value, "mm", sd) == words


def test_times_are_the_cameras_own_whatever_the_offset() -> None:
    assert clock("2026-03-01T09:05:00+01:00") == "1 Mar, 09:05"


def test_a_gap_within_a_day_names_the_day_once() -> None:
    assert between("2026-03-05T08:10:00", "2026-03-05T14:10:00") == "5 Mar, between 08:10 and 14:10"
    assert between("2026-03-05T20:10:00", "2026-03-06T02:10:00") == "between 5 Mar, 20:10 and 6 Mar, 02:10"


@pytest.mark.parametrize(
    ("span", "words"),
    [(0.25, "15 minutes"), (1.0, "60 minutes"), (6.0, "6 hours"), (2.5, "2.5 hours"), (72, "3.0 days")],
)
def test_spans(span: float, words: str) -> None:
    assert hours(span) == words


def test_names_in_a_row() -> None:
    assert named(["A", "B", "C"]) == "A, B and C"
    assert shortened("pepper, packet 2 of three", 13) == "pepper, pack…"
    assert len(shortened("x" * 40, 13)) == 13


def test_nothing_is_made_of_what_is_not_measured() -> None:
    assert amount(None, "mm") == ""
