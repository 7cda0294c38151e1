"""Night pictures: a camera that switched to its own infrared lamp gives a picture without colour.

Leaves throw back nearly all infrared light, so they stand as white as the board behind them: such a photo tells that
the lamps were off, and nothing of the plants. It is known by its missing colour alone, never by how bright it is.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["NIGHT", "colour_share", "is_night"]

NIGHT = "night picture (infrared)"  # how the reason of such a photo begins

# Colour is asked for in cells this fine: coarse enough that the noise of single pixels is gone, fine enough for soil
# and leaves of a picture that is mostly white board and black pots.
CELLS_W, CELLS_H = 128, 96
CLIPPED = 245  # cells brighter than this in any channel have lost their tint
LEAST_CELLS = 200
# Own proposals, tried on rendered shelves and trays under white, pink and orange light, dimmed, noisy, packed to JPEG
# quality 60: the greyest good photo of any has 0.010 (grey onions in black pots), usual ones 0.02 to 0.2. The same
# photos without colour have 0.000, with a purple tint and noise as of a night camera 0.015 at most, all packed as JPEG.
WITHOUT_COLOUR = 0.0045
# A tint that is not quite even leaves a little; it counts as none only where this stand has far more by day.
OF_USUAL, TINTED_MOST = 0.28, 0.016
# The sRGB curve is nearly a power of the light, moved down by this (IEC 61966-2-1: 0.055 of 255): with it added again,
# light of one tint has one ratio of channels at any brightness.
CURVE_FOOT = 0.055 * 255


def colour_share(rgb: NDArray[np.uint8]) -> float | None:
    """How much colour a picture has beyond one tint over all of it, as a share of its white; 0 for a grey picture.

    None where that cannot be said: of a tiny, a black or a burnt picture.

    Parameters
    ----------
    rgb
        (height, width, 3) sRGB values 0..255.
    """
    if rgb.shape[0] < CELLS_H or rgb.shape[1] < CELLS_W:
        return None
    cells = cv2.resize(rgb, (CELLS_W, CELLS_H), interpolation=cv2.INTER_AREA).astype(np.float32).reshape(-1, 3)
    white = float(np.percentile(cells, 95))
    cells = cells[cells.max(axis=1) < CLIPPED] + np.float32(CURVE_FOOT)
    if len(cells) < LEAST_CELLS or white <= 0:
        return None
    bright = cells[cells[:, 1] >= 0.5 * float(np.percentile(cells[:, 1], 95))]
    tint = np.median(bright / bright[:, 1:2], axis=0)
    rest = np.hypot(cells[:, 0] - tint[0] * cells[:, 1], cells[:, 2] - tint[2] * cells[:, 1])
    return float(np.percentile(rest, 98)) / white


def is_night(share: float | None, usual: float | None) -> bool:
    """Whether a picture of this share of colour was taken by infrared light.

    Parameters
    ----------
    share
        See `colour_share`; None where nothing is known of it, then no.
    usual
        The same of the stand's usual photos, or None while there are none: then only a picture without any colour
        counts.
    """
    if share is None:
        return False
    limit = WITHOUT_COLOUR if usual is None else max(WITHOUT_COLOUR, min(OF_USUAL * usual, TINTED_MOST))
    return share < limit
