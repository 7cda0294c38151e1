"""A bumped camera is undone from what stands still, never from what grows."""

from functools import cache

import numpy as np
import pytest
from drawing import Stage, bare_shelf, bump, seedling, shelf_tray

from sproutlapse.vision.align import inverse, landmarks, move, place, shift_and_turn, warped
from sproutlapse.vision.colour import to_light
from sproutlapse.vision.reference import growing_room

CORNERS = np.array([[0, 0], [639, 0], [0, 479], [639, 479], [320, 240]], float)


@cache
def marks():
    return landmarks(to_light(bare_shelf().photo(seed=1)), ~growing_room(shelf_tray(), (640, 480)))


def miss(placed, moved):
    """How far the worst of corners and centre ends from where it was, after bump and its undoing."""
    return float(np.linalg.norm(move(placed.matrix, move(moved, CORNERS)) - CORNERS, axis=1).max())


def grown(stage):
    seedling(120, 250, reach=90, rise=40)(stage)
    seedling(120, 180, reach=110, rise=-40)(stage)
    seedling(290, 230, plant=2, reach=90, rise=30)(stage)


@pytest.mark.parametrize(("shift", "turn"), [((9, -6), 1.0), ((-15, 3), -1.5), ((4.3, 0.4), 0.0)])
def test_a_bump_is_undone_to_a_fifth_of_a_pixel(shift, turn):
    moved = bump(shift, turn)
    placed = place(to_light(bare_shelf().photo(seed=2, bump=moved)), marks())
    assert placed is not None and placed.moved
    assert miss(placed, moved) < 0.2


def test_a_bump_with_grown_plants_and_dimmer_light_is_undone_as_well():
    moved = bump((9, -6), 1.0)
    placed = place(to_light(bare_shelf().with_(grown).photo(seed=2, bump=moved, gain=0.7)), marks())
    assert placed is not None
    assert miss(placed, moved) < 0.2


def test_growth_in_half_of_the_picture_moves_nothing():
    placed = place(to_light(bare_shelf().with_(grown).photo(seed=2)), marks())
    assert placed is not None and not placed.moved
    assert np.array_equal(placed.matrix, np.eye(2, 3))


def test_shift_and_turn_are_those_of_the_photos_contents():
    shift, turn = shift_and_turn(inverse(bump((3, 4), 2.0)), (480, 640))
    assert (shift, turn) == pytest.approx((5.0, 2.0), abs=0.01)


def test_another_view_has_no_place():
    other = Stage().table(300, seed=5).pot(200, 250, half=40).pot(420, 270, half=80)
    assert place(to_light(other.photo(seed=2)), marks()) is None


def test_a_picture_taken_through_a_matrix_and_back_is_the_same_away_from_its_rim():
    light = to_light(bare_shelf().with_(grown).photo(seed=2))
    there = bump((5, 2), 0.0)
    again = warped(warped(light, there), inverse(there))
    assert np.abs(again - light)[20:-20, 20:-20].max() < 1e-4
