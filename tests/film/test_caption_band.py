"""The caption's band: readable on a phone, and a line that tells the time."""

from __future__ import annotations

import numpy as np

from sproutlapse.film.caption import BAND, GROWN, Band


def test_letters_are_nine_pixels_high_on_a_phone_and_do_not_meet():
    band = Band(360, round(360 * BAND)).drawn("Day 128", "28 Feb 2026, 22:30", 0.5)
    bright = band.astype(int).sum(2) > 330
    words = bright[4:]
    rows = np.flatnonzero(words.any(1))
    assert 9 <= rows[-1] - rows[0] + 1 <= 18
    columns = np.flatnonzero(words.any(0))
    assert np.diff(columns).max() > 40
    assert columns[0] >= 4
    assert columns[-1] <= 355


def test_the_line_grows_to_the_right_edge():
    for share in (0.25, 1.0):
        band = Band(800, 54).drawn("Day 1", "1 Mar 2026, 09:00", share)
        grown = (band[0] == GROWN).all(1).sum()
        assert abs(grown - 800 * share) <= 1
