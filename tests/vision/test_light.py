"""Exposure and white balance are read from the board, whatever grows before it."""

import numpy as np
import pytest
from drawing import bare_shelf, seedling

from sproutlapse.vision.colour import to_light
from sproutlapse.vision.light import Lighting, read_lighting, still_surfaces

BARE = to_light(bare_shelf().photo(seed=1))
SURFACES = still_surfaces(BARE)


def grown(stage):
    for k, x in enumerate((120, 290, 460), 1):
        seedling(x, 150, plant=k, reach=70)(stage)


def test_the_board_is_a_still_surface_and_pots_are_not():
    assert SURFACES[50:300, 50:590].mean() > 0.95
    assert not SURFACES[370:400, 100:140].any()


@pytest.mark.parametrize("gain", [0.6, 0.7, 1.2])
def test_exposure_is_read_to_half_a_per_cent_with_grown_plants_in_view(gain):
    photo = bare_shelf().with_(grown).photo(seed=2, gain=gain)
    found = read_lighting(to_light(photo), BARE, SURFACES)
    assert np.mean(found.gains) == pytest.approx(gain, rel=0.005)


def test_white_balance_is_read_channel_by_channel():
    found = read_lighting(to_light(bare_shelf().photo(seed=2, balance=(1.1, 0.85, 1.0))), BARE, SURFACES)
    assert found.gains == pytest.approx((1.1, 0.85, 1.0), rel=0.01)


def test_light_that_falls_off_to_one_side_is_followed():
    slope = np.exp(np.linspace(-0.1, 0.1, 640))[None, :] * np.ones((480, 1))
    found = read_lighting(to_light(bare_shelf().photo(seed=2, shade=slope)), BARE, SURFACES)
    assert found.tilt == pytest.approx((0.2, 0.0), abs=0.01)
    assert np.mean(found.gains) == pytest.approx(1.0, rel=0.005)


def test_the_field_of_light_has_its_gains_at_the_centre():
    field = Lighting((0.8, 0.9, 1.0), (0.1, -0.2)).field(101, 201)
    assert field[50, 100] == pytest.approx((0.8, 0.9, 1.0), rel=1e-5)
    assert field[50, -1, 0] / field[50, 0, 0] == pytest.approx(np.exp(0.1), rel=1e-4)


def test_without_a_bright_surface_it_is_said():
    with pytest.raises(ValueError, match="no bright still surface"):
        read_lighting(BARE, BARE, np.zeros(SURFACES.shape, bool))
