"""The printed marks in a picture: found by their pattern, their corners fitted to the edges of the black square."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.colour import Floats

ASSUMED_MM = 30.0  # the side of the black square when nobody measured it
EDGE_SD_PX = 0.15  # of a side, after fitting a line to each edge
LEAST_SIDE_PX = 16.0  # smaller marks are read too roughly to be a scale

Corners = NDArray[np.float64]


@dataclass(frozen=True)
class Mark:
    """A scale mark as read: `corners` (4, 2) clockwise from its own top left, in pixels of the reference."""

    number: int
    corners: Corners

    @property
    def across_px(self) -> float:
        """Mean of the upper and lower side; a mark that leans back keeps these."""
        return (self.edge_px(0) + self.edge_px(2)) / 2

    @property
    def upright_px(self) -> float:
        """Mean of the right and left side; a mark turned about its upright axis keeps these."""
        return (self.edge_px(1) + self.edge_px(3)) / 2

    @property
    def side_px(self) -> float:
        """The side without a pose: the longer of the two directions, for slant only shortens."""
        return max(self.across_px, self.upright_px)

    def edge_px(self, k: int) -> float:
        """Length of the edge from corner k to the next."""
        return float(np.linalg.norm(self.corners[k] - self.corners[(k + 1) % 4]))


def find_marks(picture: NDArray[np.uint8], light: Floats) -> list[Mark]:
    """Every DICT_4X4_50 mark in a picture, corners fitted to the edges, largest first.

    Parameters
    ----------
    picture
        (height, width, 3) 8-bit sRGB.
    light
        The same picture in linear light.
    """
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary, settings).detectMarkers(grey)
    if len(corners) == 0:
        return []
    brightness = light.mean(axis=-1)
    marks = [
        Mark(int(n), fit_square(brightness, np.asarray(c, float).reshape(4, 2)))
        for n, c in zip(np.ravel(numbers), corners, strict=True)
    ]
    return sorted(marks, key=lambda mark: -mark.side_px)


def print_light(light: Floats, mark: Mark, cells: float) -> NDArray[np.float64]:
    """Red, green and blue of a mark's paper or ink, both of them colourless: the median along a square.

    Parameters
    ----------
    light
        (height, width, 3) linear light.
    mark
        A mark in it.
    cells
        How far outside the black square's edge, in cells of the mark; negative is inside, in the ink.
    """
    middle = mark.corners.mean(axis=0)
    ring = middle + (mark.corners - middle) * (1 + cells / 3)  # a cell is a sixth of the side
    points = np.concatenate(
        [ring[k] + np.linspace(0, 1, 40)[:, None] * (ring[(k + 1) % 4] - ring[k]) for k in range(4)]
    )
    columns = np.clip(np.round(points[:, 0]).astype(int), 0, light.shape[1] - 1)
    rows = np.clip(np.round(points[:, 1]).astype(int), 0, light.shape[0] - 1)
    return np.asarray(np.median(light[rows, columns], axis=0), dtype=np.float64)


def fit_square(brightness: Floats, rough: Corners) -> Corners:
    """Corners of a dark square before white: lines fitted where linear light is half way, crossed.

    In linear light the half-way point of a blurred edge stays on the edge, while in a tone-curved picture it moves into
    the black; so the side is not read too short.

    Parameters
    ----------
    brightness
        (height, width) linear light.
    rough
        (4, 2) corners to within a few pixels, clockwise.
    """
    lines = [_edge_line(brightness, rough, k) for k in range(4)]
    seen = [line for line in lines if line is not None]
    if len(seen) < 4:
        return rough
    out = np.empty((4, 2))
    for k in range(4):
        (p, v), (q, w) = seen[k - 1], seen[k]
        along = np.linalg.solve(np.column_stack([v, -w]), q - p)
        out[k] = p + v * along[0]
    return out


def _edge_line(brightness: Floats, corners: Corners, k: int) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """A point and a direction of the edge from corner k to the next, or None if it cannot be seen."""
    start, end = corners[k], corners[(k + 1) % 4]
    side = float(np.linalg.norm(end - start))
    along = (end - start) / side
    out = np.array([along[1], -along[0]])
    if float(out @ ((start + end) / 2 - corners.mean(axis=0))) < 0:
        out = -out
    reach = min(5.0, side / 6 * 0.6)
    steps = np.arange(-reach, reach + 1e-9, 0.1)
    feet = start + np.linspace(0.08, 0.92, 60)[:, None] * (end - start)
    x, y = (feet[:, i : i + 1] + out[i] * steps for i in (0, 1))
    profile = cv2.remap(brightness, x.astype(np.float32), y.astype(np.float32), cv2.INTER_CUBIC)
    fifth = len(steps) // 5
    half = (profile[:, :fifth].mean(axis=1) + profile[:, -fifth:].mean(axis=1)) / 2
    rises = (profile[:, :-1] < half[:, None]) & (profile[:, 1:] >= half[:, None])
    rows = np.flatnonzero(rises.any(axis=1))
    if len(rows) < 20:
        return None
    first = rises[rows].argmax(axis=1)
    low, high = profile[rows, first], profile[rows, first + 1]
    place = steps[first] + 0.1 * (half[rows] - low) / np.maximum(high - low, 1e-6)
    points = feet[rows] + out * place[:, None]
    vx, vy, px, py = cv2.fitLine(points.astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01).ravel()
    return np.array([px, py], float), np.array([vx, vy], float)
