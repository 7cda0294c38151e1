"""In a whole photo a plant of any colour keeps its area in any light; water, shadow and specks are no plant."""

from functools import cache

import numpy as np
import pytest
from drawing import GREEN, PALE, PURPLE_BLACK, SOIL_Y, bare_shelf, shelf_tray

from sproutlapse.vision.measure import measure
from sproutlapse.vision.reference import make_reference
from sproutlapse.vision.tissue import overgrown_specks

TRAY = shelf_tray()
COLOURS = {"green": GREEN, "purple-black": PURPLE_BLACK, "pale": PALE}
LIGHTS = {"dimmer": {"gain": 0.7}, "pink": {"balance": (1.15, 0.8, 1.0)}}


@cache
def reference():
    return make_reference([bare_shelf().photo(seed=k) for k in range(4)], TRAY, "bare")


def leafy(colour):
    """A function that draws a seedling with broad leaves in the first pot."""

    def draw(stage):
        stage.stem(120, SOIL_Y, 250, 5.0, colour=colour)
        for side in (-1, 1):
            stage.ellipse(120 + side * 26, 245, 28, 12, colour, turn=side * -20, plant=1)

    return draw


def areas(photo):
    return [plant.tissue_px for plant in measure(photo, reference(), TRAY).plants]


@pytest.mark.parametrize("colour", COLOURS)
def test_the_area_of_a_plant_of_any_colour_is_true(colour):
    stage = bare_shelf().with_(leafy(COLOURS[colour]))
    assert areas(stage.photo(seed=11))[0] == pytest.approx(stage.coverage(1).sum(), rel=0.03)


@pytest.mark.parametrize("light", LIGHTS)
@pytest.mark.parametrize("colour", COLOURS)
def test_another_exposure_or_white_balance_leaves_the_area_as_it_was(colour, light):
    stage = bare_shelf().with_(leafy(COLOURS[colour]))
    usual, other = (areas(stage.photo(seed=12, **how))[0] for how in ({}, LIGHTS[light]))
    assert other == pytest.approx(usual, rel=0.015)


def test_wet_soil_is_no_plant():
    assert areas(bare_shelf().photo(seed=13, wet=0.5)) == [0.0, 0.0, 0.0]


def test_a_soft_shadow_on_the_board_down_to_the_pot_is_no_plant():
    y, x = np.mgrid[:480, :640]
    shade = 1 - 0.2 * np.exp(-(((x - 140) / 50) ** 2 + ((y - 290) / 60) ** 2) / 2)
    assert areas(bare_shelf().photo(seed=14, shade=shade)) == [0.0, 0.0, 0.0]


def test_a_speck_before_the_board_is_no_plant():
    stage = bare_shelf().with_(lambda s: s.box(120, 322, 121.5, 323.5, GREEN))
    assert areas(stage.photo(seed=15)) == [0.0, 0.0, 0.0]


def test_white_specks_of_the_soil_that_a_green_film_covers_are_no_plant_but_a_leaf_over_them_is():
    ground = np.ones((80, 80), bool)
    bare = np.full((80, 80, 3), [22.0, 4.0, 8.0], np.float32)
    bare[20:25, 20:25] = bare[50:55, 50:55] = [80.0, 0.0, 2.0]
    ground[20:25, 20:25] = ground[50:55, 50:55] = False
    seen = bare.copy()
    seen[20:25, 20:25] = [40.0, -12.0, 20.0]
    seen[45:62, 45:70] = [45.0, -25.0, 30.0]
    mask = np.zeros((80, 80), bool)
    mask[20:25, 20:25] = mask[45:62, 45:70] = True
    gone = overgrown_specks(mask, ground, seen, bare)
    assert gone[20:25, 20:25].all() and gone.sum() == 25
