"""Plants that stand in all the first photos are measured as they grow; a label and a pot's rim are no plants."""

import pytest
from drawing import INK, MM, PURPLE_BLACK, SOIL_Y, WHITE, bare_shelf, seedling, shelf_tray

from sproutlapse.vision.measure import measure
from sproutlapse.vision.reference import make_reference

TRAY = shelf_tray()
ONE_MM = 1.0 / MM


def first(*drawings):
    stage = bare_shelf().with_(*drawings)
    return make_reference([stage.photo(seed=k) for k in range(3)], TRAY, "first")


def top_of(stage, plant):
    return min(s.points[:, 1].min() for s in stage.shapes if s.plant == plant)


def label(stage):
    """A white stick with writing in the first pot."""
    stage.box(140, 250, 158, SOIL_Y, WHITE)
    for k in range(4):
        stage.box(144, 258 + 9 * k, 154 - 2 * (k % 2), 260 + 9 * k, INK)


def blades(stage):
    stage.stem(120, SOIL_Y, 200, 4.0, colour=PURPLE_BLACK, lean=18)
    stage.stem(120, SOIL_Y, 230, 4.0, colour=PURPLE_BLACK, lean=-15)


def test_dark_blades_that_stood_there_already_have_their_height_and_are_named():
    reference = first(blades)
    assert reference.occupied == (True, False, False)
    assert any("(A)" in note for note in reference.notes)
    stage = bare_shelf().with_(blades)
    found = measure(stage.photo(seed=51), reference, TRAY).plants
    assert found[0].height_px == pytest.approx(SOIL_Y - top_of(stage, 1), abs=ONE_MM)
    assert [plant.tissue_px for plant in found[1:]] == [0.0, 0.0]


def test_a_plant_that_stood_there_already_is_measured_as_it_grows():
    reference = first(seedling(120, 40, reach=22))
    stage = bare_shelf().with_(seedling(120, 110, reach=45))
    found = measure(stage.photo(seed=52), reference, TRAY).plants[0]
    assert found.height_px == pytest.approx(SOIL_Y - top_of(stage, 1), abs=ONE_MM)
    assert found.tissue_px == pytest.approx(stage.coverage(1).sum(), rel=0.05)


def test_a_seedling_that_comes_up_beside_a_label_is_measured_without_it():
    reference = first(label)
    assert reference.occupied == (False, False, False)
    stage = bare_shelf().with_(label, seedling(100, 60, reach=25))
    found = measure(stage.photo(seed=53), reference, TRAY).plants[0]
    assert found.height_px == pytest.approx(SOIL_Y - top_of(stage, 1), abs=ONE_MM)
    assert found.tissue_px == pytest.approx(stage.coverage(1).sum(), rel=0.05)


@pytest.mark.parametrize("rim", [(40, 40, 43), (150, 90, 62)], ids=["black", "terracotta"])
def test_a_pots_rim_is_no_plant(rim):
    def pots_rim(stage):
        stage.box(63, SOIL_Y - 13, 177, SOIL_Y - 8, rim)

    reference = first(pots_rim)
    assert reference.occupied == (False, False, False)
    found = measure(bare_shelf().with_(pots_rim).photo(seed=54), reference, TRAY)
    assert [plant.tissue_px for plant in found.plants] == [0.0, 0.0, 0.0]
