"""Dates that cannot be are said: before the sowing, long after it, or in a year in which unset clocks begin."""

from datetime import datetime, timedelta

import pytest

from sproutlapse.outputs_dates import dates_in_words
from sproutlapse.tray import Tray

SOWN = Tray.model_validate({"sowing": [{"name": "pepper", "sown": "2026-02-01T09:00:00+01:00"}, {"name": "onion"}]})


@pytest.mark.parametrize(("first", "tray", "words"), [
    (datetime(2026, 2, 3), SOWN, ""),
    (datetime(2026, 1, 25), SOWN, ""),  # the bare tray before it was sown
    (datetime(2025, 2, 3), SOWN, "363 days before pepper was sown (2026-02-01)"),
    (datetime(2027, 2, 3), SOWN, "366 days after pepper was sown"),
    (datetime(2026, 2, 3), Tray(), ""),
    (datetime(2000, 1, 1), Tray(), "never set"),
])  # fmt: skip
def test_what_is_said_of_two_weeks_of_photos(first: datetime, tray: Tray, words: str):
    told = dates_in_words(first, first + timedelta(days=14), tray)
    assert len(told) == bool(words)
    assert words in "".join(told)
    assert all("What to do" in one for one in told)
