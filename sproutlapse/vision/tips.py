"""The tips of a clump: where its outline, seen from the side, ends upwards."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.colour import Mask

APART_MM = 2.0  # a tip stands out from what lies between it and a higher one by as much. Own proposal
SHARE = 90.0  # percentile of the tips that tells how tall a clump is as a whole


def tips_of(own: Mask, mm_per_px: float) -> NDArray[np.float64]:
    """Places (n, 2) of the tips of a clump, column and row in pixels of its window, from left to right.

    A blade that bends over has its tip where it is highest; one that ends behind others has none.

    Parameters
    ----------
    own
        (height, width) the plant's pixels.
    mm_per_px
        At the plant.
    """
    columns = np.flatnonzero(own.any(axis=0))
    if not len(columns):
        return np.zeros((0, 2))
    # A quarter of all that a worker loads at its start, and only clumps need it.
    from scipy.signal import find_peaks  # noqa: PLC0415

    rows = np.full(own.shape[1] + 2, float(own.shape[0]))
    rows[columns + 1] = own.argmax(axis=0)[columns]
    peaks, _ = find_peaks(-rows, prominence=APART_MM / mm_per_px)
    return np.column_stack([peaks - 1.0, rows[peaks]])
