"""A camera that stood still gets no movement at all, one that was set up anew is not placed."""

import numpy as np
import pytest
from drawing import bare_shelf, bump

from sproutlapse.vision import align
from sproutlapse.vision.colour import to_light

MARKS = align.landmarks(to_light(bare_shelf().photo(seed=1)))


def test_a_camera_that_stood_still_gets_exactly_no_movement():
    placed = align.place(to_light(bare_shelf().photo(seed=2)), MARKS)
    assert placed is not None and not placed.moved
    assert np.array_equal(placed.matrix, np.eye(2, 3))


def test_without_corners_to_follow_every_photo_stays_where_it_is():
    plain = align.landmarks(np.full((480, 640, 3), 0.6, np.float32))
    assert len(plain.points) < align.LEAST_POINTS
    placed = align.place(to_light(bare_shelf().photo(seed=3)), plain)
    assert placed is not None and not placed.moved
    assert np.array_equal(placed.matrix, np.eye(2, 3))


def test_a_camera_that_was_set_up_anew_is_not_placed():
    assert align.place(to_light(bare_shelf().photo(seed=4, bump=bump((0, 0), 9.0))), MARKS) is None


@pytest.mark.parametrize("shift", [100.0, 170.0, 230.0])
def test_a_pot_is_not_taken_for_its_equal_neighbour(shift):
    """The drawn pots stand 170 pixels apart."""
    bumped = bump((shift, 0), 0.0)
    placed = align.place(to_light(bare_shelf().photo(seed=5, bump=bumped)), MARKS)
    assert placed is None or np.allclose(placed.matrix, align.inverse(bumped), atol=0.2)


def test_the_right_end_of_a_level_shelf_stands_higher_after_a_positive_turn():
    turned = bump((0, 0), 2.0)
    left, right = align.move(turned, np.array([[0.0, 240.0], [639.0, 240.0]]))
    assert right[1] < left[1]
    assert np.isclose(align.shift_and_turn(align.inverse(turned), (480, 640))[1], 2.0)
