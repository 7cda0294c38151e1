"""Medians of many short runs of figures at once, of what is known of each: a season has thousands of them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def known_medians(values: Floats) -> Floats:
    """The median along the last axis of what is not NaN; NaN where nothing is.

    The same as `numpy.nanmedian`, bit for bit, which takes a hundred times as long for runs of a few values.
    """
    if not values.shape[-1]:
        return np.full(values.shape[:-1], np.nan)
    ordered = np.sort(values, axis=-1)  # NaN comes last
    count = np.count_nonzero(~np.isnan(values), axis=-1)[..., None]
    low = np.take_along_axis(ordered, np.maximum(count - 1, 0) // 2, axis=-1)
    high = np.take_along_axis(ordered, np.minimum(count // 2, values.shape[-1] - 1), axis=-1)
    return np.asarray(np.where(count > 0, (low + high) / 2.0, np.nan)[..., 0], dtype=np.float64)
