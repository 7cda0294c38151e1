"""The bare stage behind plants that stood in the very first photos."""

from functools import cache

import cv2
import numpy as np
import pytest
from drawing import INK, PURPLE_BLACK, SOIL_Y, WHITE, bare_shelf, seedling, shelf_tray

from sproutlapse.vision.bare import bare_stage, smooth_board
from sproutlapse.vision.colour import to_lab, to_light
from sproutlapse.vision.standing import pot_top

TRAY = shelf_tray()


def label(stage):
    """A white stick in the second pot, with writing."""
    stage.box(310, SOIL_Y - 70, 330, SOIL_Y, WHITE)
    for k in range(4):
        stage.box(314, SOIL_Y - 62 + 9 * k, 326 - 2 * (k % 2), SOIL_Y - 60 + 9 * k, INK)


def lights_of(*drawings, count=3):
    stage = bare_shelf().with_(*drawings)
    return [to_light(stage.photo(seed=k)) for k in range(count)]


def staged(lights):
    return bare_stage(np.median(np.stack(lights), axis=0).astype(np.float32), lights, TRAY)


@cache
def truly_bare():
    return np.median(np.stack(lights_of()), axis=0).astype(np.float32)


def difference(found, where):
    return np.linalg.norm(to_lab(found.light) - to_lab(truly_bare()), axis=-1)[where]


def test_empty_pots_are_not_occupied():
    found = staged(lights_of())
    assert found.occupied == (False, False, False) and found.notes == ()


def test_pots_in_which_plants_stand_are_occupied_and_that_is_said():
    found = staged(lights_of(seedling(120, 90), seedling(460, 60, plant=3, colour=PURPLE_BLACK)))
    assert found.occupied == (True, False, True)
    assert "A, C" in found.notes[0] and "B" not in found.notes[0].split("(")[1].split(")")[0]


def test_the_board_is_continued_behind_a_standing_plant():
    drawing = seedling(120, 90)
    found = staged(lights_of(drawing))
    leafy = bare_shelf().with_(drawing).coverage() > 0
    leafy[int(SOIL_Y) - 12 :] = False
    assert np.percentile(difference(found, leafy), 99) < 4.0


def test_where_the_stage_was_never_seen_it_is_less_sure():
    drawing = seedling(120, 90)
    found = staged(lights_of(drawing))
    leafy = cv2.erode((bare_shelf().with_(drawing).coverage() == 1).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    assert found.tolerance[leafy].min() > found.tolerance[100:200, 250:600].max()


def test_a_label_with_writing_is_not_a_plant():
    found = staged(lights_of(label))
    assert found.occupied == (False, False, False)


def test_a_plant_beside_a_label_is_one():
    assert staged(lights_of(label, seedling(290, 80, plant=2))).occupied == (False, True, False)


def test_the_board_is_fitted_without_what_stands_before_it():
    light = lights_of(seedling(120, 250, reach=90), label, count=1)[0][:330]
    board = smooth_board(light)
    assert np.abs(board[:320, 20:620] / truly_bare()[:320, 20:620] - 1).mean() < 0.01


def test_the_pots_top_is_its_back_rim():
    lab = to_lab(truly_bare())
    covered = np.linalg.norm(lab - to_lab(smooth_board(truly_bare()[:330])).mean(axis=(0, 1)), axis=-1) > 12
    assert pot_top(covered, TRAY.plants[0]) == pytest.approx(SOIL_Y - 8, abs=2)
