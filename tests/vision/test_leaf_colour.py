"""The colour of leaves is that of their unmixed pixels against a white board, under light that shows colour at all."""

import numpy as np
import pytest
from drawing import CENTRES, GREEN, SOIL_Y, bare_shelf, light_of, seedling, shelf_tray

from sproutlapse.vision.colour import to_lab
from sproutlapse.vision.leaf_colour import leaf_colours, shows_colour
from sproutlapse.vision.light import Lighting
from sproutlapse.vision.measure import measure
from sproutlapse.vision.reference import make_reference

YELLOW = (176, 170, 40)


def leafy(k: int, colour: tuple[int, int, int]):
    """A seedling with broad leaves, the k-th from the left."""

    def draw(stage):
        seedling(CENTRES[k], 80, plant=k + 1, colour=colour)(stage)
        stage.ellipse(CENTRES[k] + 20, SOIL_Y - 60, 26, 14, colour, plant=k + 1)

    return draw


@pytest.fixture(scope="module")
def reference():
    return make_reference([bare_shelf().photo(seed=s) for s in range(7)], shelf_tray(), "test")


def colours(reference, stage, **photo):
    found = measure(stage.photo(seed=9, **photo), reference, shelf_tray())
    return [None if p.leaf_l is None else np.array([p.leaf_l, p.leaf_a, p.leaf_b]) for p in found.plants]


STAGE = bare_shelf().with_(leafy(0, GREEN), leafy(1, YELLOW))


def test_a_green_and_a_yellow_plant_are_told_apart_and_an_empty_pot_has_no_colour(reference):
    green, yellow, none = colours(reference, STAGE)
    assert none is None
    hue = [float(np.degrees(np.arctan2(c[2], c[1]))) for c in (green, yellow)]
    lab = to_lab(np.float32([[light_of(GREEN), light_of(YELLOW)]]))[0]
    assert hue == pytest.approx(np.degrees(np.arctan2(lab[:, 2], lab[:, 1])), abs=3.0)


@pytest.mark.parametrize(
    "photo", [{"gain": 0.7}, {"balance": (1.1, 1.0, 0.85)}, {"gain": 0.8, "balance": (0.9, 1, 1.1)}]
)
def test_exposure_and_white_balance_of_the_camera_do_not_change_it(reference, photo):
    usual, other = colours(reference, STAGE), colours(reference, STAGE, **photo)
    for one, two in zip(usual[:2], other[:2], strict=True):
        assert np.abs(one - two).max() < 2.0


def test_a_thin_stalk_alone_has_no_colour(reference):
    stage = bare_shelf().with_(lambda s: s.stem(CENTRES[0], SOIL_Y, SOIL_Y - 60, 3.0))
    assert colours(reference, stage)[0] is None


@pytest.mark.parametrize(("cast", "shows"), [
    ((1.0, 1.0, 1.0), True), ((1.3, 1.0, 0.7), True), ((0.9, 1.0, 1.1), True),
    ((1.6, 1.0, 2.0), False), ((1.5, 1.0, 1.3), False),  # lamps of red and blue
    ((1.75, 1.0, 0.26), False),  # no blue left
])  # fmt: skip
def test_which_light_shows_colours(cast, shows):
    assert shows_colour(cast) is shows
    labels = np.zeros((40, 40), np.uint8)
    labels[5:35, 5:35] = 1
    light = np.ones((40, 40, 3), np.float32) * np.float32([0.05, 0.2, 0.03])
    found = leaf_colours(light, labels, Lighting((1.0, 1.0, 1.0), (0.0, 0.0)), 1 / np.array(cast), 1)
    assert (found[0] is not None) is shows


def test_pixels_where_two_plants_touch_count_for_neither():
    labels = np.ones((20, 20), np.uint8)
    labels[:, 10:] = 2
    light = np.full((20, 20, 3), 0.2, np.float32)
    light[:, 8:12] = 0.9
    left, right = leaf_colours(light, labels, Lighting((1.0, 1.0, 1.0), (0.0, 0.0)), (1, 1, 1), 2)
    assert left == right


def test_the_light_at_some_pixels_is_that_of_the_whole_field():
    lighting = Lighting((1.1, 1.0, 0.9), (0.1, -0.2), (8.0, 0.02, 0.03, 0.004, 0.001))
    rows, columns = np.array([0, 7, 29]), np.array([0, 39, 12])
    assert np.allclose(lighting.at(rows, columns, (30, 40)), lighting.field(30, 40)[rows, columns], rtol=1e-5)
