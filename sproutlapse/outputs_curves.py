"""The table of growth curves for those who export: from the plants' stories to curves.csv."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from sproutlapse.growth.curves import last_break
from sproutlapse.growth.judge import Story
from sproutlapse.growth.sigmoids import curves_table
from sproutlapse.growth.turned import last_turn


def growth_curves(told: Sequence[Story]) -> pd.DataFrame:
    """Logistic and Gompertz curves of each plant since its last cut, fall or change of place (of its canopy also since
    its pot was turned), where it shows one.

    Parameters
    ----------
    told
        The stories of a judgement, in tray order.
    """
    return curves_table([(s.track, last_break(s.drops), last_turn(s.turns)) for s in told])
