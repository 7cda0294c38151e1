"""Photos that are passed over when cuts and falls are looked for could have been none."""

import numpy as np
import pytest

from sproutlapse.growth.cuts import CONFIRM_FRAMES, LOOK_BACK, _low_enough
from sproutlapse.tray import Judge


@pytest.mark.parametrize("seed", range(4))
def test_no_loss_is_passed_over(seed):
    chance, judge = np.random.default_rng(seed), Judge()
    heights = np.maximum(1.0, 40 + np.cumsum(chance.normal(0.1, 1.5, 300)))
    for at in chance.integers(20, 280, 6):
        heights[at:] *= chance.choice([0.5, 0.75, 0.9])
    hours = np.cumsum(chance.choice([0.5, 1.0, 6.0], 300))
    near = np.searchsorted(hours, hours - judge.fall_hours)
    told = _low_enough(heights, near, judge)
    share = min(judge.trim_least_loss, judge.trim_drop_share, judge.fall_share)
    losses = 0
    for first in range(LOOK_BACK, len(heights) - CONFIRM_FRAMES + 1):
        low = heights[first : first + CONFIRM_FRAMES].min()
        for since in range(min(int(near[first]), first - LOOK_BACK), first):
            highest = heights[since:first].max()
            if highest - low > share * highest:
                losses += 1
                assert told[first]
    assert losses
    assert not all(told[LOOK_BACK:-CONFIRM_FRAMES])
