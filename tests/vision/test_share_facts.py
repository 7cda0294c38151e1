"""In a whole photo leaves over a neighbour's pot and loose parts go to the plant they belong to."""

from functools import cache

import pytest
from drawing import SOIL_Y, bare_shelf, seedling, shelf_tray

from sproutlapse.vision.measure import measure
from sproutlapse.vision.reference import make_reference

TRAY = shelf_tray()


@cache
def reference():
    return make_reference([bare_shelf().photo(seed=k) for k in range(4)], TRAY, "bare")


def measured(stage, seed):
    found = measure(stage.photo(seed=seed), reference(), TRAY).plants
    return [plant.tissue_px for plant in found], [float(stage.coverage(k).sum()) for k in (1, 2, 3)]


def test_two_neighbours_that_touch_are_shared_out_by_their_feet():
    pair = [seedling(x, 60, plant=k, rise=2, reach=88) for k, x in ((1, 120), (2, 290))]
    found, true = measured(bare_shelf().with_(*pair), 31)
    assert found == pytest.approx(true, rel=0.05)


def test_a_leaf_over_the_neighbours_empty_pot_stays_its_own():
    found, true = measured(bare_shelf().with_(seedling(120, 60, reach=200, rise=15)), 32)
    assert found == pytest.approx(true, rel=0.03)


@pytest.mark.parametrize(("gap", "adopted"), [(5, True), (40, False)])
def test_a_loose_patch_is_adopted_within_reach_only(gap, adopted):
    def with_a_loose_patch(stage):
        stage.stem(120, SOIL_Y, 220, 5.0)
        stage.box(122.5 + gap, 250, 134.5 + gap, 260, (70, 135, 50), plant=1 if adopted else 0)

    found, true = measured(bare_shelf().with_(with_a_loose_patch), 33)
    assert found == pytest.approx(true, rel=0.05)
