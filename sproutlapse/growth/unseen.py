"""Plants of which nothing was measured for days: what they need now is not known."""

from __future__ import annotations

import numpy as np

from sproutlapse.growth.tracks import Floats

UNSEEN_DAYS = 2.0  # own proposal: so soon a stem lengthens or a plant falls


def unseen_since(canopy: Floats, elapsed_h: Floats) -> int | None:
    """The row in which a plant was last measured, where that is days before the last photo; None where it is not, or
    where it was never measured.

    Parameters
    ----------
    canopy
        (n,) in any unit; NaN where the plant was not measured, because its pot is out, hidden, or not found again.
    elapsed_h
        (n,) hours.
    """
    rows = np.flatnonzero(np.isfinite(canopy))
    if not len(rows) or elapsed_h[-1] - elapsed_h[rows[-1]] < 24 * UNSEEN_DAYS:
        return None
    return int(rows[-1])
