"""The hours in which nothing is sent."""

from datetime import datetime

import pytest

from sproutlapse.errors import SproutlapseError
from sproutlapse.watch.night import read_night


@pytest.mark.parametrize(("clock", "quiet"), [("21:59", False), ("22:00", True), ("03:00", True), ("07:00", False)])
def test_a_night_goes_over_midnight(clock, quiet):
    assert read_night("22-7").at(datetime.fromisoformat(f"2026-03-01T{clock}")) is quiet


def test_minutes_count():
    night = read_night("12:30 - 14:15")
    assert night.at(datetime(2026, 3, 1, 14, 14))
    assert not night.at(datetime(2026, 3, 1, 14, 15))


@pytest.mark.parametrize("text", ["late", "22", "22-25", "22:70-7", "-7", "22:00-07:00-08:00"])
def test_what_is_no_night_is_told_with_an_example(text):
    with pytest.raises(SproutlapseError, match="22:00-07:00"):
        read_night(text)
