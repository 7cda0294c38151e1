"""Emergence statistics and growth rates against worked values from outside (source beside each)."""

import math

import numpy as np
import pytest

from sproutlapse.growth.curves import doubling_days, mean_of_logs_rate
from sproutlapse.growth.emergence import (
    maguire_rate,
    mean_emergence_time,
    spread_10_90,
    synchrony,
    t50,
    time_to,
    time_variance,
    uncertainty_bits,
)

# Handbook 3.2, worked examples A to D: exact fractions worked out from the formulas of 3.1.
A = ([4, 5, 6, 7], [2, 6, 8, 4])
B = ([6, 7, 8, 9, 10, 11, 12, 13, 14], [1, 3, 8, 12, 10, 6, 0, 4, 1])
C = ([5], [12])
D = (list(range(1, 9)), [1] * 8)

VALUES = [
    (mean_emergence_time, (57 / 10, 431 / 45, 5, 4.5)),  # mean time, days
    (time_variance, (81 / 95, 1541 / 495, 0, 6)),  # variance, days squared
    (maguire_rate, (757 / 210, 694 / 143, 2.4, 761 / 280)),  # Maguire 1962
    (synchrony, (5 / 19, 163 / 990, 1, 0)),  # Z
    (uncertainty_bits, (1.846439, 2.636220, 0, 3)),  # U
    (t50, (85 / 16, 107 / 12, 109 / 24, 4.5)),  # Coolbear et al. 1984
    (spread_10_90, (2.5, 81 / 16, 0.8, 6.4)),  # T90 - T10
]


@pytest.mark.parametrize(("statistic", "expected"), VALUES, ids=lambda v: getattr(v, "__name__", ""))
def test_worked_examples_of_emergence(statistic, expected):
    for (times, new), value in zip((A, B, C, D), expected, strict=True):
        assert statistic(times, new) == pytest.approx(value, rel=5e-7, nan_ok=True)


def test_half_of_those_that_came_up_in_the_form_of_farooq():
    # Handbook 3.2, T50 Farooq 2005.
    for (times, new), value in zip((A, B, C, D), (21 / 4, 71 / 8, 4.5, 4), strict=True):
        assert t50(times, new, form="farooq") == pytest.approx(value)


def test_tenths_of_those_that_came_up():
    # Handbook 3.2, T10 and T90.
    for (times, new), t10, t90 in zip((A, B, C, D), (4, 113 / 16, 4.1, 0.8), (6.5, 97 / 8, 4.9, 7.2), strict=True):
        assert time_to(0.1 * sum(new), times, new) == pytest.approx(t10)
        assert time_to(0.9 * sum(new), times, new) == pytest.approx(t90)


def test_half_of_those_sown_is_later_than_half_of_those_up():
    # Handbook 3.1, "trap": T50 is of those emerged (n), not of those sown (N = 25 in example A).
    assert time_to(12.5, *A) > t50(*A, form="farooq")
    assert math.isnan(time_to(21, *A))


def test_relative_growth_rate_of_one_leaf():
    # Handbook 5, example 1: 2.0 to 8.0 cm2 in 7 days.
    rate = mean_of_logs_rate(np.array([2.0]), np.array([8.0]), 7)
    assert rate == pytest.approx(0.198042, abs=5e-7)
    assert doubling_days(rate) == pytest.approx(3.5)


def test_relative_growth_rate_is_the_mean_of_logarithms():
    # Handbook 5, example 2 (Hoffmann & Poorter 2002): the logarithm of the means is 29 % too high.
    w1, w2 = np.array([1.0, 2, 4]), np.array([2.0, 8, 32])
    assert mean_of_logs_rate(w1, w2, 7) == pytest.approx(0.198042, abs=5e-7)
    wrong = (math.log(w2.mean()) - math.log(w1.mean())) / 7
    assert wrong == pytest.approx(0.255966, abs=5e-7)


@pytest.mark.parametrize(("rate", "days"), [(0.1, 6.931), (0.2, 3.466), (0.3, 2.310)])
def test_doubling_time(rate, days):
    # Handbook 5, ln 2 / r (Plants in Action 6.1).
    assert doubling_days(rate) == pytest.approx(days, abs=5e-4)
