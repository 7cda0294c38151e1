"""How far away each pot of a row stands that is seen at an angle, against the pinhole camera itself."""

import numpy as np
import pytest

from sproutlapse.vision.row_depth import depths, row_of

X = np.array([-122.0, -48.0, 26.0, 100.0, 174.0])  # of the pots, mm
WIDE, MARK, FAR, FOCAL = 62.0, -190.0, 900.0, 2400.0


def seen(angle_deg: float, *, stands_off: float = 0.0):
    """The row in pixels before a camera that looks at its middle at an angle, and each pot's depth over the mark's."""
    turn = np.radians(angle_deg)
    off = stands_off * np.array([1, -1, 1, -1, 1])
    depth = FAR + X * np.sin(turn) + off * np.cos(turn)
    middle = FOCAL * (X * np.cos(turn) - off * np.sin(turn)) / depth + 640
    half = FOCAL * WIDE / 2 / depth
    mark = FAR + MARK * np.sin(turn)
    rims = list(zip(middle - half, middle + half, strict=True))
    return row_of(rims, FOCAL * MARK * np.cos(turn) / mark + 640, np.ones(5)), depth / mark


def straight():
    mm = FAR / FOCAL
    rims = [(x / mm + 640 - WIDE / 2 / mm, x / mm + 640 + WIDE / 2 / mm) for x in X]
    return row_of(rims, MARK / mm + 640, [mm] * 5)


@pytest.mark.parametrize("angle", [15.0, -25.0, 40.0])
def test_a_row_at_an_angle_gives_each_pots_depth(angle):
    row, truth = seen(angle)
    assert np.abs(np.array(depths(straight(), row).factors) / truth - 1).max() < 0.004


def test_pots_that_stand_a_little_before_and_behind_the_row_cost_less_than_two_percent():
    row, truth = seen(15.0, stands_off=3.0)
    told = depths(straight(), row)
    assert np.abs(np.array(told.factors) / truth - 1).max() < 0.02
    assert 0.002 < told.sd_share < 0.03


def test_a_row_looked_at_straight_is_left_as_it_is():
    row, _ = seen(0.0)
    assert depths(straight(), row).factors == (1.0,) * 5


def test_one_pot_is_no_row():
    one = row_of([(600.0, 700.0)], 500.0, [1.0])
    assert depths(one, one).factors == (1.0,)
