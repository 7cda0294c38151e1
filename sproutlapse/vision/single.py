"""One photo of plant tissue before a plain board in, the tissue out: no bare stage, no tray, no earlier photo.

It goes the way of plants that stand in a run's very first photo: the board is continued behind them, and tissue is what
differs from it.
"""

from __future__ import annotations

import numpy as np

from sproutlapse.vision.bare import smooth_board
from sproutlapse.vision.colour import Bytes, to_lab, to_light
from sproutlapse.vision.light import NoLightError, still_surfaces
from sproutlapse.vision.reference import DARK_L, white_balance
from sproutlapse.vision.shadows import shaded_board
from sproutlapse.vision.tissue import Tissue, find_tissue


def tissue_on_board(picture: Bytes) -> Tissue:
    """Tissue before a plain bright board, or lying on it.

    Parameters
    ----------
    picture
        (height, width, 3) 8-bit sRGB. Everything in it that is not board or its shadow counts as tissue.

    Raises
    ------
    NoLightError
        If no bright even board is seen.
    """
    seen = to_light(picture)
    if not still_surfaces(seen).any():
        raise NoLightError("no bright even board in view")
    light = seen * np.asarray(white_balance(seen, [], "side"), np.float32)
    board = shaded_board(light, smooth_board(light))
    lab = to_lab(board)
    nowhere = np.zeros(lab.shape[:2], bool)
    return find_tissue(
        light, board, lab, dark=lab[..., 0] < DARK_L, ground=nowhere, tolerance=np.zeros(lab.shape[:2], np.float32)
    )
