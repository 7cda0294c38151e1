"""How light and rough soil looks tells of water, and of neither exposure, leaves, bumps nor pots set elsewhere."""

import numpy as np
import pytest
from drawing import CENTRES, GREEN, SOIL_Y, bare_shelf, bump, seedling, shelf_tray

from sproutlapse.vision.measure import measure
from sproutlapse.vision.reference import make_reference

DRY, WET = 1.0, 0.55


@pytest.fixture(scope="module")
def reference():
    return make_reference([bare_shelf().photo(seed=s) for s in range(7)], shelf_tray(), "test")


def soil(reference, stage=None, **photo):
    """Light and roughness of each pot's soil, None where it is not told."""
    found = measure((stage or bare_shelf()).photo(seed=11, **photo), reference, shelf_tray())
    return [None if p.soil_light is None else (p.soil_light, p.soil_rough) for p in found.plants]


def test_dry_soil_looks_as_it_did(reference):
    assert np.array(soil(reference)) == pytest.approx(np.ones((3, 2)), abs=0.04)


def test_watered_soil_is_darker_and_its_crumbs_fade(reference):
    for light, rough in soil(reference, wet=WET):
        assert WET < light < 0.75  # a part of the strip is rim, which takes no water
        assert rough < 0.9


@pytest.mark.parametrize("photo", [{"gain": 0.7}, {"balance": (1.1, 1.0, 0.85)}, {"bump": bump((6.0, -4.0), 0.5)}])
def test_exposure_white_balance_and_a_bump_change_little(reference, photo):
    told = soil(reference, **photo)
    assert all(light == pytest.approx(1.0, abs=0.06) and rough > 0.85 for light, rough in told)


def test_leaves_over_the_soil_are_no_part_of_it(reference):
    stage = bare_shelf().with_(
        seedling(CENTRES[0], 60), lambda s: s.ellipse(CENTRES[0], SOIL_Y - 4, 22, 5, GREEN, plant=1)
    )
    hidden, free = soil(reference, stage)[:2]
    assert free == pytest.approx((1.0, 1.0), abs=0.04)
    assert hidden is None or hidden[0] == pytest.approx(1.0, abs=0.08)


def test_soil_that_is_hidden_altogether_tells_nothing(reference):
    stage = bare_shelf().with_(
        seedling(CENTRES[0], 60), lambda s: s.ellipse(CENTRES[0], SOIL_Y - 2, 64, 16, GREEN, plant=1)
    )
    assert soil(reference, stage)[0] is None


def test_of_a_pot_that_was_taken_out_nothing_is_told(reference):
    stage = bare_shelf()
    other = type(stage)().table(410)
    for x in CENTRES[:2]:
        other.pot(x, SOIL_Y)
    told = soil(reference, other)
    assert told[2] is None
    assert told[0] is not None and told[1] is not None
