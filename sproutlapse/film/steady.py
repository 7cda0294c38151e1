"""A steady picture: one crop for the whole film, and each photo moved into it by its matrix to the reference."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

IDENTITY = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
# A move that no eye sees and that resampling would only soften.
STILL_PX = 0.05
# A film that shows less of the picture than this is no film of the tray: the camera was put elsewhere.
SMALLEST_CROP = 0.6


class Crop(NamedTuple):
    """A rectangle in the reference's pixels, from its left and upper edge (the first pixel's outer edges are 0)."""

    left: float
    top: float
    width: float
    height: float


def common_crop(
    sizes: Sequence[tuple[int, int]], matrices: Sequence[NDArray[np.float64]], shape: tuple[int, int]
) -> Crop | None:
    """The largest rectangle of the reference's shape that lies inside every moved photo.

    Parameters
    ----------
    sizes
        (width, height) of each photo in pixels.
    matrices
        (2, 3) matrix of each photo, its pixels to the reference's.
    shape
        (width, height) of the reference.

    Returns
    -------
    Crop or None
        None if no such rectangle exists.

    Notes
    -----
    Each side of a moved photo is a line that all four corners of the rectangle must lie inside of. With centre (x, y)
    and size t (width, height) that is linear in x, y and t, so the largest t is the solution of a linear programme.
    """
    width, height = shape
    rows, bounds = [], []
    for (across, down), matrix in zip(sizes, matrices, strict=True):
        corners = np.array([[0, 0], [across, 0], [across, down], [0, down]], dtype=np.float64) - 0.5
        moved = corners @ matrix[:, :2].T + matrix[:, 2] + 0.5
        along = np.roll(moved, -1, axis=0) - moved
        outward = np.column_stack([along[:, 1], -along[:, 0]]) / np.linalg.norm(along, axis=1, keepdims=True)
        reach = np.abs(outward) @ np.array([width, height]) / 2
        rows.append(np.column_stack([outward, reach]))
        bounds.append(np.einsum("ij,ij->i", outward, moved))
    answer = linprog(
        [0.0, 0.0, -1.0], np.vstack(rows), np.concatenate(bounds), bounds=[(None, None), (None, None), (0.0, 1.0)]
    )
    if not answer.success or answer.x[2] <= 0:
        return None
    x, y, share = answer.x
    return Crop(x - share * width / 2, y - share * height / 2, share * width, share * height)


def steady_crop(
    sizes: Sequence[tuple[int, int]], matrices: Sequence[NDArray[np.float64]], shape: tuple[int, int]
) -> tuple[Crop, list[bool]]:
    """One crop for the whole film, and which photos can be moved into it.

    Photos that would leave less than 0.6 of the picture's width show another view (the camera was put elsewhere); they
    are not moved, so that the film keeps its picture.

    Returns
    -------
    (crop, follows)
        `follows` has one entry a photo, False where the photo is to be shown as it is.
    """
    whole = Crop(0.0, 0.0, float(shape[0]), float(shape[1]))
    middle = np.median(np.array(matrices), axis=0)
    moves = np.array([_corner_move(matrix, middle, shape) for matrix in matrices])
    limit = (1 - SMALLEST_CROP) * min(shape)
    while np.any(moves <= limit):
        chosen = [int(i) for i in np.flatnonzero(moves <= limit)]
        crop = common_crop([sizes[i] for i in chosen], [matrices[i] for i in chosen], shape)
        if crop is not None and crop.width >= SMALLEST_CROP * shape[0]:
            return crop, [bool(ok) for ok in moves <= limit]
        limit = 0.8 * float(moves[chosen].max())
    return whole, [False] * len(matrices)


def _corner_move(matrix: NDArray[np.float64], other: NDArray[np.float64], shape: tuple[int, int]) -> float:
    corners = np.array([[0, 0, 1], [shape[0], 0, 1], [shape[0], shape[1], 1], [0, shape[1], 1]], dtype=np.float64)
    return float(np.abs(corners @ (matrix - other).T).max())


def scaling(by_x: float, by_y: float) -> NDArray[np.float64]:
    """(2, 3) matrix that enlarges a picture by these factors, pixel centres at whole numbers."""
    return np.array([[by_x, 0.0, (by_x - 1) / 2], [0.0, by_y, (by_y - 1) / 2]])


def as_seen(matrix: NDArray[np.float64], size: tuple[int, int] | None) -> NDArray[np.float64]:
    """A photo's move without the half turn of a tray that was turned end for end: the film shows it as the camera did,
    its middle where it was.

    Parameters
    ----------
    matrix
        (2, 3) from its pixels to those of the reference.
    size
        (width, height) of the photo; None if not known.
    """
    if matrix[0, 0] + matrix[1, 1] >= 0 or size is None:
        return matrix
    middle = (np.array(size, np.float64) - 1) / 2
    return np.column_stack([-matrix[:, :2], middle + matrix[:, :2] @ middle])


def chained(after: NDArray[np.float64], first: NDArray[np.float64]) -> NDArray[np.float64]:
    """(2, 3) matrix that does `first` and then `after`."""
    return np.asarray(np.vstack([after, [0, 0, 1]])[:2] @ np.vstack([first, [0, 0, 1]]))


def to_film(crop: Crop, size: tuple[int, int]) -> NDArray[np.float64]:
    """(2, 3) matrix from the reference's pixels to those of the film's picture of `size` (width, height)."""
    by_x, by_y = size[0] / crop.width, size[1] / crop.height
    return np.array([[by_x, 0.0, (0.5 - crop.left) * by_x - 0.5], [0.0, by_y, (0.5 - crop.top) * by_y - 0.5]])


def into_crop(
    picture: NDArray[np.uint8],
    full_size: tuple[int, int],
    matrix: NDArray[np.float64],
    size: tuple[int, int],
) -> NDArray[np.uint8]:
    """One photo moved into the film's picture.

    Parameters
    ----------
    picture
        (h, w) or (h, w, 3) uint8, perhaps decoded at a reduced size.
    full_size
        (width, height) of the photo at full size.
    matrix
        (2, 3) from the photo's full-size pixels to the film's.
    size
        (width, height) of the film's picture.

    Returns
    -------
    (height, width) or (height, width, 3) uint8
        Edges that a rounding leaves open repeat the nearest pixel, so there is no black border.

    Notes
    -----
    A picture that is too large is shrunk by area first, since a warp alone would leave out pixels (aliasing); the warp
    then has a scale near one, where the Lanczos kernel keeps it sharp.
    """
    across, down = full_size
    scale = float(np.sqrt(abs(np.linalg.det(matrix[:, :2]))))
    h, w = picture.shape[:2]
    wanted = (max(1, round(across * scale)), max(1, round(down * scale)))
    flat = picture.ndim == 2  # names of plants, of which no mean can be taken
    if not flat and wanted[0] < w and wanted[1] < h:
        picture = np.asarray(cv2.resize(picture, wanted, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        h, w = picture.shape[:2]
    move = chained(matrix, scaling(across / w, down / h))
    if move_is_nothing(move, (w, h), size):
        return picture
    how = cv2.INTER_NEAREST if flat else cv2.INTER_LANCZOS4
    border = cv2.BORDER_CONSTANT if flat else cv2.BORDER_REPLICATE
    return np.asarray(cv2.warpAffine(picture, move, size, flags=how, borderMode=border), dtype=np.uint8)


def move_is_nothing(move: NDArray[np.float64], have: tuple[int, int], want: tuple[int, int]) -> bool:
    """Whether a (2, 3) matrix shifts no corner of a picture by 0.05 pixel and keeps its size."""
    return have == want and _corner_move(move, IDENTITY, have) < STILL_PX
