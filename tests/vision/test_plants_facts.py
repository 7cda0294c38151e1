"""Heights of tops of several shapes, also when the camera was bumped."""

from functools import cache

import pytest
from drawing import PURPLE_BLACK, SOIL_Y, STILL, bare_shelf, bump, shelf_tray

from sproutlapse.vision.measure import measure
from sproutlapse.vision.plants import POINT_PX
from sproutlapse.vision.reference import make_reference

TRAY = shelf_tray()
BUMPS = {"stood still": STILL, "bumped": bump((9, -6), 1.0), "bumped the other way": bump((-7, 5), -0.8)}


def blunt_blade(stage):
    stage.stem(290, SOIL_Y, 150, 5.0, plant=2, lean=12)


def round_leaves(stage):
    stage.stem(290, SOIL_Y, 230, 4.0, plant=2)
    for side in (-1, 1):
        stage.leaf((290, 231), (290 + side * 34, 205), 18.0, plant=2)


def dark_hook(stage):
    stage.stem(290, SOIL_Y, 316, 4.0, plant=2, colour=PURPLE_BLACK)
    stage.ellipse(294, 315, 8, 5, PURPLE_BLACK, plant=2)


def needle(stage):
    stage.add([(287, SOIL_Y), (293, SOIL_Y), (300, 150)], (70, 135, 50), 2)


@cache
def reference():
    return make_reference([bare_shelf().photo(seed=k) for k in range(4)], TRAY, "bare")


def too_tall_px(draw, bumped):
    """Height as measured over the true one, in pixels."""
    stage = bare_shelf().with_(draw)
    true = SOIL_Y - min(s.points[:, 1].min() for s in stage.shapes if s.plant == 2)
    found = measure(stage.photo(seed=21, bump=bumped), reference(), TRAY)
    assert found.fault == ""
    return found.plants[1].height_px - true


@pytest.mark.parametrize("bumped", BUMPS)
@pytest.mark.parametrize("draw", [round_leaves, dark_hook])
def test_the_height_is_true_to_six_tenths_of_a_pixel(draw, bumped):
    assert too_tall_px(draw, BUMPS[bumped]) == pytest.approx(0.0, abs=0.6)


@pytest.mark.parametrize("bumped", BUMPS)
def test_a_blunt_top_may_get_some_of_the_half_pixel_that_a_points_end_needs(bumped):
    assert -0.25 < too_tall_px(blunt_blade, BUMPS[bumped]) < POINT_PX + 0.25


def test_of_a_needle_what_is_narrower_than_a_pixel_goes_unseen_and_nothing_is_added():
    """The needle is 6 px wide at the soil and 190 px tall: its last 32 px are narrower than a pixel."""
    assert -33 < too_tall_px(needle, STILL) < 0.6
