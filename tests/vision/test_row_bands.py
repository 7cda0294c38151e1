"""Bands of a dimmed lamp are read from the board and taken out; where there are none, nothing is changed."""

import numpy as np
import pytest
from drawing import bare_shelf, seedling

from sproutlapse.vision.bands import band_gain, pieces_of, row_bands
from sproutlapse.vision.colour import to_light
from sproutlapse.vision.light import Lighting, read_lighting, still_surfaces

BARE = to_light(bare_shelf().photo(seed=1))
SURFACES = still_surfaces(BARE)
ROWS = np.arange(480)[:, None] / 480 * np.ones((1, 640))


def grown(stage):
    for plant, x in enumerate((120, 290, 460), 1):
        seedling(x, 150, plant=plant)(stage)


def wave(turns, height, phase=0.4):
    return 1 + height * np.sin(2 * np.pi * turns * ROWS + phase)


@pytest.mark.parametrize("turns", [5.3, 16.0, 31.7])
@pytest.mark.parametrize("height", [0.02, 0.05, 0.1])
def test_bands_are_read_beside_grown_plants(turns, height):
    photo = bare_shelf().with_(grown).photo(seed=2, gain=0.8, shade=wave(turns, height))
    found = read_lighting(to_light(photo), BARE, SURFACES)
    assert found.bands[0] == pytest.approx(turns, abs=0.15)
    assert np.mean(found.gains) == pytest.approx(0.8, rel=0.006)
    field = found.field(480, 640)[..., 1]
    # What bands are left in the light of the board is a fifth of what they were, or too little to matter.
    assert np.std(np.log(field / wave(turns, height))[:330]) < max(0.2 * height / np.sqrt(2), 0.004)


def test_bands_of_the_reference_and_of_the_photo_are_read_as_their_difference():
    bare = to_light(bare_shelf().photo(seed=1, shade=wave(12.0, 0.04, 0.0)))
    photo = to_light(bare_shelf().photo(seed=2, shade=wave(12.0, 0.04, 2.0)))
    found = read_lighting(photo, bare, still_surfaces(bare))
    true = np.log(wave(12.0, 0.04, 2.0) / wave(12.0, 0.04, 0.0))[:, 0]
    assert np.abs(band_gain(found.bands, (np.arange(480) + 0.5) / 480) - true)[:330].max() < 0.006


@pytest.mark.parametrize("draw", [lambda stage: None, grown])
@pytest.mark.parametrize("slope", [0.0, 0.2])
def test_even_light_and_a_slope_have_no_bands(draw, slope):
    photo = bare_shelf().with_(draw).photo(seed=3, gain=0.9, shade=np.exp(slope * (ROWS - 0.5)))
    assert read_lighting(to_light(photo), BARE, SURFACES).bands == ()


def test_a_shadow_on_one_half_of_the_board_is_no_band():
    shade = np.where(np.arange(640)[None, :] < 320, wave(9.0, 0.06), 1.0)
    assert read_lighting(to_light(bare_shelf().photo(seed=3, shade=shade)), BARE, SURFACES).bands == ()


def test_where_little_board_shows_no_bands_are_told():
    few = SURFACES.copy()
    few[60:] = False
    assert row_bands(to_light(bare_shelf().photo(seed=2, shade=wave(16, 0.05))), pieces_of(BARE, few), (0.0, 0.0)) == ()


def test_without_bands_the_field_of_light_is_what_it_was():
    plain = Lighting((0.8, 0.9, 1.0), (0.1, -0.2))
    banded = Lighting((0.8, 0.9, 1.0), (0.1, -0.2), (8.0, 0.05, 0.0, 0.0, 0.0))
    assert plain.field(96, 10).mean() == pytest.approx(banded.field(96, 10).mean(), rel=0.01)
    assert np.ptp(np.log(banded.field(96, 10) / plain.field(96, 10))) == pytest.approx(0.1, rel=0.05)
