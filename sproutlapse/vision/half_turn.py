"""A tray seen from above that was put back turned end for end: told by its soil, rim and cells from all around it."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision import align

# Found on rendered trays that were turned and trays that were not, bare and grown over; no published values.
SMALL_PX = 400.0  # long side of the pictures that are held against each other
REACH_SHARE = 0.06  # of the tray's longer side: put back further off, it was moved to another place
# Correlations of what does not look alike from both ends: from which on a tray lies as it did; at least and by how much
# more than as it lay, where it was turned.
SAME, LEAST, CLEARLY = 0.5, 0.2, 0.2

Tile = NDArray[np.float32]


def half_turn(even: NDArray[np.uint8], marks: align.Landmarks, matrix: align.Matrix) -> align.Matrix | None:
    """About where a tray lies if it was turned end for end; None if it lies as it did, or it cannot be told.

    Parameters
    ----------
    even
        (height, width) evened brightness of the photo, of the kind of `marks.grey`.
    marks
        The tray's corners on the reference.
    matrix
        (2, 3) the photo's place by what nobody lifts.

    Returns
    -------
    ndarray or None
        (2, 3) matrix that takes the photo's pixels near to the reference's, as the tray lies.
    """
    spots = marks.points.reshape(-1, 2)
    low, high = spots.min(axis=0), spots.max(axis=0)
    size = high - low
    if float(size.min()) < 32:
        return None
    zoom = min(1.0, SMALL_PX / float(size.max()))
    reach = max(2, round(REACH_SHARE * float(size.max()) * zoom))
    own = _tile(marks.grey, np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]), (low, high), zoom, 0)
    still, _ = _agrees(own, _tile(even, matrix, (low, high), zoom, reach))
    if still >= SAME:
        return None
    turned = align.chained(np.array([[-1.0, 0.0, low[0] + high[0]], [0.0, -1.0, low[1] + high[1]]]), matrix)
    found, (dx, dy) = _agrees(own, _tile(even, turned, (low, high), zoom, reach))
    if found < max(LEAST, still + CLEARLY):
        return None
    out = turned.copy()
    out[:, 2] -= np.array([dx - reach, dy - reach]) / zoom
    return out


def _tile(
    picture: NDArray[np.uint8],
    matrix: align.Matrix,
    place: tuple[NDArray[np.float32], NDArray[np.float32]],
    zoom: float,
    reach: int,
) -> Tile:
    """The tray's place, `reach` small pixels wider all around, of a picture that a matrix brings to the reference."""
    low, high = place
    to_small = np.array([[zoom, 0.0, reach - zoom * low[0]], [0.0, zoom, reach - zoom * low[1]]])
    size = tuple(int(v) + 2 * reach for v in np.ceil((high - low) * zoom))
    blurred = cv2.GaussianBlur(np.asarray(picture, np.float32), (0, 0), max(0.3, 0.4 / zoom))
    return np.asarray(
        cv2.warpAffine(
            blurred, align.chained(to_small, matrix), size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        ),
        dtype=np.float32,
    )


def _agrees(own: Tile, seen: Tile) -> tuple[float, tuple[int, int]]:
    """Where the tray's own picture lies best within a wider one, and how well what is its own agrees there.

    Walls and rim look alike from both ends: they tell the place, and what is left when a picture is held against itself
    turned tells which end is which.
    """
    score = np.nan_to_num(cv2.matchTemplate(seen, own, cv2.TM_CCOEFF_NORMED), nan=-1.0)
    row, column = (int(v) for v in np.unravel_index(int(score.argmax()), score.shape))
    part = seen[row : row + own.shape[0], column : column + own.shape[1]]
    a, b = own - own[::-1, ::-1], part - part[::-1, ::-1]
    length = float(np.linalg.norm(a) * np.linalg.norm(b))
    return (float((a * b).sum()) / length if length > 0 else 0.0), (column, row)
