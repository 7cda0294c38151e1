"""The gains of a photo are read from the board, even when a hand is held before it."""

import pytest
from drawing import bare_shelf

from sproutlapse.vision.colour import to_light
from sproutlapse.vision.light import read_lighting, still_surfaces

BARE = to_light(bare_shelf().photo(seed=1))
SURFACES = still_surfaces(BARE)
SHIRT, SKIN = (60, 70, 110), (196, 156, 132)


def hand(stage):
    """A sleeve and a hand that reach in from the left, over more than a third of the board."""
    stage.box(-10, -10, 150, 332, SHIRT)
    stage.add([(150, 20), (235, 40), (240, 150), (215, 330), (150, 330)], SKIN)


@pytest.mark.parametrize("gain", [0.8, 1.0])
def test_a_hand_over_a_third_of_the_board_moves_the_gains_by_less_than_two_per_cent(gain):
    stage = bare_shelf().with_(hand)
    covered = (abs(stage.light() - bare_shelf().light()).max(axis=-1) > 0.02)[:332].mean()
    assert covered > 1 / 3
    found = read_lighting(to_light(stage.photo(seed=2, gain=gain, balance=(1.1, 1.0, 1.0))), BARE, SURFACES)
    assert found.gains == pytest.approx((1.1 * gain, gain, gain), rel=0.02)
