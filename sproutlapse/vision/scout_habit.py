"""The look of a plant seen from the side in one photo: thin upright blades, or leaves on a stem."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.scout_surfaces import Mask

Look = Literal["blades", "leaves", "between"]

# Below this height in pixels a blade and a seed leaf look alike.
TELLING_HEIGHT_PX = 30
# Share of a plant that lies (wider than tall where it is), and share of it in its upper third. Rendered onions, once
# unfolded: 0.00 to 0.05 lying and 0.12 to 0.31 above; nearly all photos of broad-leaved seedlings: more than 0.16
# lying, or, leggy ones with leaves on edge, 0.05 to 0.16 with 0.32 and more above. Own proposals.
BLADES_LYING, LEAVES_LYING = 0.06, 0.16
LEAST_LYING, TOP_HEAVY = 0.05, 0.32


def looks_from_labels(label_picture: NDArray[np.uint8], numbers: list[int]) -> list[Look | None]:
    """How plants look by their outlines.

    Parameters
    ----------
    label_picture
        (H, W) numbers: 0 = no plant, k = the k-th plant of the tray.
    numbers
        Which plants to look at, as they are numbered there.

    Returns
    -------
    list
        One a number: blades, leaves, something between, or None for what is too small to tell.
    """
    return [look_of(label_picture == number) for number in numbers]


def look_of(mask: Mask) -> Look | None:
    """The look of one plant from its (H, W) outline; None while it is too small to tell."""
    rows = np.flatnonzero(mask.any(axis=1))
    if not len(rows) or rows[-1] - rows[0] + 1 < TELLING_HEIGHT_PX:
        return None
    columns = np.flatnonzero(mask.any(axis=0))
    own = mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    lying = float((_run_lengths(own) >= _run_lengths(own.T).T)[own].mean())
    above = float(own[: len(own) // 3].sum() / own.sum())
    if lying < BLADES_LYING and above < TOP_HEAVY:
        return "blades"
    leafy = lying >= LEAVES_LYING or (lying >= LEAST_LYING and above >= TOP_HEAVY)
    return "leaves" if leafy else "between"


def _run_lengths(mask: Mask) -> NDArray[np.intp]:
    """Length of the level run of true pixels that each true pixel belongs to; 0 elsewhere."""
    steps = np.diff(np.pad(mask.astype(np.int8), ((0, 0), (1, 1))), axis=1)
    lengths = np.flatnonzero(steps == -1) - np.flatnonzero(steps == 1)
    number = np.cumsum(steps == 1).reshape(steps.shape)[:, : mask.shape[1]]
    found = np.zeros(mask.shape, dtype=np.intp)
    found[mask] = lengths[number[mask] - 1]
    return found
