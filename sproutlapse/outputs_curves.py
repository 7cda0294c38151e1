"""The table of growth curves for those who export: from measurements to curves.csv."""

from __future__ import annotations

import pandas as pd

from sproutlapse.growth.curves import last_break
from sproutlapse.growth.judge import stories
from sproutlapse.growth.sigmoids import curves_table
from sproutlapse.growth.turned import last_turn
from sproutlapse.tray import Tray


def growth_curves(measurements: pd.DataFrame, tray: Tray) -> pd.DataFrame:
    """Logistic and Gompertz curves of each plant since its last cut, fall or change of place (of its canopy also since
    its pot was turned), where it shows one.

    Parameters
    ----------
    measurements
        The columns of measurements.csv and `elapsed_h`, in frame order.
    tray
        What stands in view and the thresholds.
    """
    told = stories(measurements, tray)
    return curves_table([(s.track, last_break(s.drops), last_turn(s.turns)) for s in told])
