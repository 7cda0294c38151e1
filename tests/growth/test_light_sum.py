"""A day's light in mol is told only where a reading, the hours and the camera's exposures allow it."""

from datetime import date, datetime, timedelta

import pytest

from sproutlapse.growth.light_hours import LightDay
from sproutlapse.growth.light_sum import daily_light, daily_light_in_words
from sproutlapse.tray import Lamp, Tray

FIRST = date(2026, 3, 1)
TUBE = Lamp(name="left", kind="tube", lux=14_800, since=datetime(2026, 3, 2, 9))


def day_of(k, *, relative=1.0, least=15.5, most=16.5):
    return LightDay(FIRST + timedelta(days=k), 48, 32, least, most, relative)


def test_a_tube_of_14800_lux_for_16_hours_is_about_eleven_and_a_half_mol():
    bands = daily_light([day_of(k) for k in range(4)], Tray(lamp=(TUBE,)))
    assert all(band.least < 11.52 < band.most < 1.8 * band.least for band in bands)
    assert "roughly 8 to 15 mol" in daily_light_in_words(bands)


def test_a_lamp_at_half_its_light_brings_half():
    bands = daily_light([day_of(0), day_of(1), day_of(2, relative=0.5)], Tray(lamp=(TUBE,)))
    assert bands[2].least == pytest.approx(bands[1].least / 2)


@pytest.mark.parametrize(
    ("day", "lamps"),
    [
        (day_of(2, relative=None), (TUBE,)),
        (day_of(2, least=2.0, most=22.0), (TUBE,)),
        (day_of(2), (TUBE.model_copy(update={"lux": None}),)),
        (day_of(2), (TUBE, Lamp(name="right", kind="tube"))),
        (day_of(2), ()),
    ],
    ids=["no exposures", "photos too far apart", "no reading", "two lamps", "no lamp"],
)
def test_where_something_is_not_known_there_is_no_number(day, lamps):
    bands = daily_light([day_of(0), day_of(1), day], Tray(lamp=lamps))
    assert bands[2] is None
    assert daily_light_in_words([None]) == ""
