"""One photo in which no printed mark of ours was read in, words about what looks like one out."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Rgb = NDArray[np.uint8]

# Families of square marks in wide use, as OpenCV names them. Our cards bear numbers 0 to 49 of the 4 x 4 kind.
OTHER_KINDS = (
    ("4 x 4 cells, but with a number above 49", cv2.aruco.DICT_4X4_1000),
    ("5 x 5 cells", cv2.aruco.DICT_5X5_1000),
    ("6 x 6 cells", cv2.aruco.DICT_6X6_1000),
    ("7 x 7 cells", cv2.aruco.DICT_7X7_1000),
    ("6 x 6 cells of another family", cv2.aruco.DICT_APRILTAG_36h11),
    ("5 x 5 cells of another family", cv2.aruco.DICT_ARUCO_ORIGINAL),
)
LEAST_SIDE_PX = 12.0  # a smaller square holds no code that could be read for sure


def other_mark(picture: Rgb) -> str:
    """A sentence about a printed mark of a kind that gives no scale here; empty where none is seen.

    Parameters
    ----------
    picture
        (H, W, 3) RGB photo in which none of our own marks was found.
    """
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    strict = cv2.aruco.DetectorParameters()
    strict.errorCorrectionRate = 0.0  # only codes read without a fault: chance squares look like some code too easily
    for kind, family in OTHER_KINDS:
        finder = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(family), strict)
        corners, numbers, _ = finder.detectMarkers(grey)
        for mark, number in zip(corners, np.ravel(numbers) if numbers is not None else (), strict=True):
            four = np.asarray(mark, dtype=np.float64).reshape(4, 2)
            if np.linalg.norm(four - np.roll(four, 1, axis=0), axis=1).min() >= LEAST_SIDE_PX:
                x, y = four.mean(axis=0)
                return (
                    f"A printed mark of another kind was seen at x {x:.0f}, y {y:.0f} px (number {int(number)}, "
                    f"{kind}): it gives no scale. Use one that sproutlapse card prints."
                )
    return ""
