"""The parts of a picture that are looked at closely hold all that differs, with the margin asked for."""

import numpy as np
import pytest

from sproutlapse.vision.windows import windows


@pytest.mark.parametrize("seed", range(8))
def test_every_marked_pixel_has_its_margin_and_no_pixel_is_looked_at_twice(seed: int):
    rng = np.random.default_rng(seed)
    shape, margin = (301, 403), 11.0
    seen = np.zeros(shape, bool)
    seen[rng.integers(0, shape[0], 5), rng.integers(0, shape[1], 5)] = True
    looked = np.zeros(shape, int)
    for here in windows(seen, margin):
        looked[here] += 1
    assert looked.max() == 1
    for row, column in np.argwhere(seen):
        around = looked[
            max(0, row - int(margin)) : row + int(margin) + 1, max(0, column - int(margin)) : column + int(margin) + 1
        ]
        assert around.min() == 1


def test_nothing_is_looked_at_where_nothing_differs_and_all_where_much_does():
    assert windows(np.zeros((200, 300), bool), 10) == []
    assert windows(np.ones((200, 300), bool), 10) == [(slice(0, 200), slice(0, 300))]


def test_one_sprout_costs_a_small_part_of_the_picture():
    seen = np.zeros((960, 1280), bool)
    seen[500:510, 600:610] = True
    (here,) = windows(seen, 26)
    assert (here[0].stop - here[0].start) * (here[1].stop - here[1].start) < 0.01 * seen.size
