"""Green that lies scattered over a cell seen from above: algae or moss rather than a seedling."""

from __future__ import annotations

import numpy as np

from sproutlapse.growth.tracks import Track

# A seedling is one piece, or a few where a stalk is too thin to be seen. On five rendered trays 98 of 100 looks at
# seedlings had at most 4 pieces or one that held most of it; algae on empty cells had 5 to 13. Own proposals.
PIECES, MOST_IN_ONE = 5, 0.85
OF_LAST, LOOKS = 6, 3  # of so many last photos so many must show it


def scattered(track: Track, most: float = 1.0) -> int | None:
    """The row since which what is green in a cell lies scattered; None where it does not, or nobody looked.

    Parameters
    ----------
    track
        Of a cell seen from above.
    most
        Seedlings that its seeds can give: so many times two may lie in pieces.
    """
    if len(track.patches) != len(track.time):
        return None
    rows = np.flatnonzero((track.canopy > 0) & np.isfinite(track.patches[:, 0]))[-OF_LAST:]
    count, share = track.patches[rows, 0], track.patches[rows, 1]
    lies = (count >= max(PIECES, 2 * most + 1)) & (share < MOST_IN_ONE)
    if int(lies.sum()) < LOOKS or not lies[-1]:
        return None
    return int(rows[np.flatnonzero(lies)[0]])
