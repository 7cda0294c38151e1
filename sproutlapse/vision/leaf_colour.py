"""The colour of each plant's leaves against the board: the middle of what the unmixed pixels of a photo show.

Told only under light that lets a leaf show its colour: under a lamp of red and blue no white board helps, as little
green comes back from a leaf of any health.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from sproutlapse.vision.colour import Floats, to_lab
from sproutlapse.vision.light import Lighting
from sproutlapse.vision.share import Labels

# Side of the square round a pixel that must lie on one and the same plant: nearer to an edge the lens mixes colours,
# and most JPEGs keep them at half the picture's size. Stems are left out thereby.
CORE_PX = 5
LEAST_PX = 40  # fewer such pixels are stalks and edges, whose colour changes with every leaf that moves
ENOUGH_PX = 4000  # of a larger plant only about as many are read
# Green of the board below this share of the mean of its red and blue, as the camera saw it: a lamp of red and blue
# (0.56 on a rendered one; warm, white and bluish lamps 0.9 to 1.05). Own proposal.
PINK = 0.75
# Beyond these limits, in shares of the board's brightness, its white cannot be made grey again (see
# `reference.BALANCE_LIMITS`): a warm lamp before a camera that is set to daylight leaves no blue.
FAINTEST, STRONGEST = 0.34, 2.45
_BRIGHTNESS = np.array([0.2126, 0.7152, 0.0722])  # IEC 61966-2-1

LeafColour = tuple[float, float, float] | None  # L, a and b of CIELAB


def shows_colour(cast: Sequence[float]) -> bool:
    """Whether light allows the colour of leaves to be told.

    Parameters
    ----------
    cast
        Red, green and blue of the white board in the photo, in linear light, to any common scale.
    """
    red, green, blue = (float(v) for v in cast)
    share = np.asarray(cast, dtype=np.float64) / max(float(_BRIGHTNESS @ np.asarray(cast)), 1e-6)
    return bool(green >= PINK * (red + blue) / 2 and share.min() >= FAINTEST and share.max() <= STRONGEST)


def leaf_colours(
    light: Floats, labels: Labels, lighting: Lighting, balance: Sequence[float], count: int
) -> tuple[LeafColour, ...]:
    """Median CIELAB colour of each plant's unmixed pixels, the light of the reference's board taken for white.

    Parameters
    ----------
    light
        (height, width, 3) linear light of the photo, balanced.
    labels
        (height, width) label picture, 0 = not plant.
    lighting
        The photo's light over the reference's.
    balance
        The factors of red, green and blue that `light` was balanced with.
    count
        Number of plants.

    Returns
    -------
    tuple
        In tray order; None where too little leaf is seen or the light does not allow it.
    """
    if not shows_colour(np.asarray(lighting.gains) / np.asarray(balance)):
        return (None,) * count
    square = np.ones((CORE_PX, CORE_PX), np.uint8)
    core = (labels > 0) & (cv2.erode(labels, square) == cv2.dilate(labels, square))
    rows, columns = np.nonzero(core)
    of = labels[rows, columns]
    order = np.argsort(of, kind="stable")
    ends = np.searchsorted(of[order], np.arange(1, count + 2))
    out: list[LeafColour] = []
    for k in range(count):
        own = order[ends[k] : ends[k + 1]]
        if len(own) < LEAST_PX:
            out.append(None)
            continue
        own = own[:: max(1, len(own) // ENOUGH_PX)]
        even = light[rows[own], columns[own]] / lighting.at(rows[own], columns[own], labels.shape)
        lab = to_lab(np.ascontiguousarray(even[:, None, :]))[:, 0]
        tone, red, yellow = (round(float(v), 3) for v in np.median(lab, axis=0))
        out.append((tone, red, yellow))
    return tuple(out)
