"""The look of plants that stand already: thin upright blades, or leaves."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sproutlapse.tray import Habit, Plant, Tray
from sproutlapse.vision.scout_surfaces import Mask, Surfaces

# Below this height in pixels a blade and a seed leaf look alike.
TELLING_HEIGHT_PX = 30
# Share of a plant that lies (wider than tall where it is). Rendered onion blades: 0.00 half of the time, 0.08 nine
# times in ten; leggy broad-leaved seedlings with their leaves on edge: 0.16 and more nine times in ten.
LYING_SHARE = 0.09
# Colour (CIELAB chroma difference to what lies behind) from which on something above the soil is called plant.
PLANT_CHROMA = 10.0


def habit_from_labels(label_picture: NDArray[np.uint8], tray: Tray) -> dict[str, Habit]:
    """Tell grass-like plants from broad-leaved ones by their outlines.

    Parameters
    ----------
    label_picture
        (H, W) numbers: 0 = no plant, k = the k-th plant of the tray.
    tray
        The plants' names and order.

    Returns
    -------
    dict
        Habit by plant name, for the plants that are tall enough to tell.
    """
    found: dict[str, Habit] = {}
    for number, plant in enumerate(tray.plants, start=1):
        habit = _habit(label_picture == number)
        if habit is not None:
            found[plant.name] = habit
    return found


def _habit(mask: Mask) -> Habit | None:
    rows = np.flatnonzero(mask.any(axis=1))
    if not len(rows) or rows[-1] - rows[0] + 1 < TELLING_HEIGHT_PX:
        return None
    columns = np.flatnonzero(mask.any(axis=0))
    own = mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    lying = (_run_lengths(own) >= _run_lengths(own.T).T)[own]
    return "grasslike" if float(lying.mean()) < LYING_SHARE else "broadleaf"


def _run_lengths(mask: Mask) -> NDArray[np.intp]:
    """Length of the level run of true pixels that each true pixel belongs to; 0 elsewhere."""
    steps = np.diff(np.pad(mask.astype(np.int8), ((0, 0), (1, 1))), axis=1)
    lengths = np.flatnonzero(steps == -1) - np.flatnonzero(steps == 1)
    number = np.cumsum(steps == 1).reshape(steps.shape)[:, : mask.shape[1]]
    found = np.zeros(mask.shape, dtype=np.intp)
    found[mask] = lengths[number[mask] - 1]
    return found


def looks_of(plants: tuple[Plant, ...], seen: Surfaces, shrink: float) -> dict[str, Habit]:
    """Habit by name of the plants that stand already in a side view, from coloured tissue above the soil line."""
    chroma = seen.lab[..., 1:]
    behind = np.median(chroma[~seen.standing], axis=0) if (~seen.standing).any() else np.zeros(2)
    coloured = (np.linalg.norm(chroma - behind, axis=2) > PLANT_CHROMA) & seen.standing
    found: dict[str, Habit] = {}
    for plant in plants:
        left, top, right, _ = (round(v / shrink) for v in plant.box_px)
        soil = round((plant.soil_y_px or 0) / shrink)
        clear = round(0.06 * (right - left))
        habit = _habit(np.asarray(coloured[top : max(top, soil - clear), left : right + 1]))
        if habit is not None:
            found[plant.name] = habit
    return found
