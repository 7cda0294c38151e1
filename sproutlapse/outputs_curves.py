"""The table of growth curves for those who export: from measurements to curves.csv."""

from __future__ import annotations

import pandas as pd

from sproutlapse.growth.curves import last_break
from sproutlapse.growth.cuts import drops
from sproutlapse.growth.sigmoids import curves_table
from sproutlapse.growth.tracks import tracks
from sproutlapse.tray import Tray


def growth_curves(measurements: pd.DataFrame, tray: Tray) -> pd.DataFrame:
    """Logistic and Gompertz curves of each plant since its last cut or fall, where it shows one.

    Parameters
    ----------
    measurements
        The columns of measurements.csv and `elapsed_h`, in frame order.
    tray
        What stands in view and the thresholds.
    """
    return curves_table([(track, last_break(drops(track, tray.judge))) for track in tracks(measurements, tray)])
