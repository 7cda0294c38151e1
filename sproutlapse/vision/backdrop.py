"""Where no plain board stands behind the plants: a room, a window, a shelf. Colour alone tells no plant from it."""

from __future__ import annotations

import cv2
import numpy as np

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision.colour import Floats, Mask

# Own proposals, tried on rendered shelves with a room put in the board's place; no published values.
NOT_BOARD = 12.0  # CIELAB distance from the board
BLOCK_SHARE = 0.08  # of the picture's width: a plant has no part so large that nothing moves in it, a room has
MOSTLY = 0.5  # of a plant's place above its pot: then nothing there is judged by the board
HIGH = 0.35  # of the height above the soil: a room is seen up there, pots of a second row are not


def boardless(lab: Floats, board: Floats, moving: Mask | None, tray: Tray) -> Mask:
    """Where something else than the board is seen behind the plants: large, still, and of another colour.

    Parameters
    ----------
    lab, board
        (rows, width, 3) CIELAB of the first photo above the soil lines, and of the plain board.
    moving
        (rows, width) bool: where something moved among the first photos; None where there are too few to tell, and only
        what is larger than any canopy counts.
    tray
        What stands in view.

    Returns
    -------
    ndarray
        (rows, width) bool.
    """
    other = np.linalg.norm(lab - board, axis=-1) > NOT_BOARD
    side = max(8, round(BLOCK_SHARE * lab.shape[1]))
    if moving is None:
        side, moving = 2 * side, np.zeros_like(other)
    # Patches of a room that look like the board by chance do not break it up.
    square = np.ones((side, side), np.uint8)
    still = cv2.morphologyEx((other & ~moving).astype(np.uint8), cv2.MORPH_CLOSE, square)
    large = cv2.morphologyEx(still, cv2.MORPH_OPEN, square)
    _, label = cv2.connectedComponents(large, connectivity=8)
    high = np.setdiff1d(np.unique(label[: round(HIGH * len(label))]), [0])
    large = np.isin(label, high).astype(np.uint8)
    near = cv2.dilate(large, square).astype(bool)
    found = np.asarray(large.astype(bool) | (near & other))
    for plant in tray.plants:
        place = place_above(plant, lab.shape[:2])
        if found[place].size and (found | (other & ~moving))[place].mean() > MOSTLY:
            found[place] = True
    return found


def place_above(plant: Plant, size: tuple[int, int]) -> tuple[slice, slice]:
    """Rows and columns of a plant's place above its soil line, within a picture of (rows, width)."""
    bottom = plant.box_px[3] if plant.soil_y_px is None else plant.soil_y_px
    return (
        slice(max(0, round(plant.box_px[1])), max(0, min(size[0], round(bottom)))),
        slice(max(0, round(plant.box_px[0])), min(size[1], round(plant.box_px[2]) + 1)),
    )


def boardless_in_words(found: Mask, tray: Tray) -> tuple[str, ...]:
    """What is to be said where plants have no board behind them; nothing where they have."""
    names = []
    for plant in tray.plants:
        rows, columns = place_above(plant, found.shape[:2])
        if found[rows, columns].size and found[rows, columns].mean() > MOSTLY / 2:
            names.append(plant.name)
    if not names:
        return ()
    return (
        f"No plain bright board is seen behind {', '.join(names)}: plants there are told only by what changes, and "
        "what stood in the first photo is not seen. Heights are less sure. Stand a white board behind the whole row.",
    )
