"""Medians of many short runs at once are those of each alone."""

import warnings

import numpy as np
import pytest

from sproutlapse.growth.middles import known_medians


@pytest.mark.parametrize("photos", [1, 2, 3, 6, 7, 24, 49])
def test_the_same_to_the_last_bit_as_one_by_one(photos):
    chance = np.random.default_rng(photos)
    values = chance.normal(100.0, 30.0, (40, 5, photos))
    values[chance.random(values.shape) < 0.4] = np.nan
    values[chance.random(values.shape) < 0.1] = 0.0
    values[7] = np.nan  # never seen
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        alone = np.nanmedian(values, axis=-1)
    assert known_medians(values).tobytes() == alone.tobytes()


def test_no_photo_has_no_median():
    assert np.isnan(known_medians(np.zeros((2, 0)))).all()
