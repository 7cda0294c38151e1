"""Arithmetic of the first photo against published values."""

from math import cos, radians

import pytest

from sproutlapse.first.level import MOST_DOWN_DEG
from sproutlapse.first.season import Plan, season


def test_hourly_photos_of_a_fortnight_are_337():
    """Handbook 7.3: hourly, 14 d, both ends kept: 337 frames."""
    (_interval, card) = season(Plan(every_hours=1, days=14), 3_000_000)
    assert card.says.startswith("337 photos of 3.0 MB in 14 days, 1.0 GB")


def test_looking_down_as_far_as_allowed_shortens_heights_by_3_4_percent():
    """Handbook 7.1: a tilt of 15 degrees shortens by 3.407 %."""
    assert 100 * (1 - cos(radians(MOST_DOWN_DEG))) == pytest.approx(3.407, abs=0.001)
