"""How a printed mark stands before the camera, from its four corners: its slant, its distance, and the side it would
show if it faced the camera."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import acos, degrees, exp, hypot, log, sqrt

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from sproutlapse.vision.marks import Corners, Mark

CORNER_SD_PX = 0.1  # of each coordinate of a corner, after fitting a line to each edge
# Marks set up by hand mostly face the camera within this; so the noise of corners is not read as slant. Own proposal.
SLANT_SD_DEG = 15.0
# Focal length of what people own, as on 36 x 24 mm film: phones 24 to 28 mm, cameras 35 to 80 mm. Own estimate.
USUAL_FOCAL_MM, USUAL_FOCAL_SD = 40.0, 0.45
# EXIF gives whole millimetres, by the diagonal or by the width, and phones crop a little. Own estimate.
EXIF_FOCAL_SD = 0.05
FILM_DIAGONAL_MM = 43.27  # of 36 x 24 mm (CIPA DCG-001: equivalent focal lengths go by the diagonal)
LYING_DEG = 55.0  # slanted more than this back, a mark does not stand: it lies
RIVAL = 6.0  # a second pose that fits nearly as well (difference of chi squared) is weighed in


@dataclass(frozen=True)
class Focal:
    """Focal length in pixels and its standard deviation as a share."""

    px: float
    sd_share: float


@dataclass(frozen=True)
class Pose:
    """A mark before the camera.

    Attributes
    ----------
    side_px
        The side it would show at its middle's depth if it faced the camera.
    sd_share
        Standard deviation of the side, as a share.
    back_deg
        How far it leans back (its upper edge away from the camera), in degrees.
    turned_deg
        How far it is turned about its upright axis, in degrees; the sign tells the side.
    focal
        The focal length as known after the mark was seen.
    """

    side_px: float
    sd_share: float
    back_deg: float
    turned_deg: float
    focal: Focal

    @property
    def slant_deg(self) -> float:
        """Angle between the mark's face and the camera's."""
        return degrees(acos(np.cos(np.radians(self.back_deg)) * np.cos(np.radians(self.turned_deg))))

    @property
    def lies(self) -> bool:
        """Whether the mark lies rather than stands, seen from the side."""
        return abs(self.back_deg) > LYING_DEG

    def distance_mm(self, side_mm: float) -> tuple[float, float]:
        """Distance of its middle from the lens along the line of view, in mm, and the standard deviation."""
        far = self.focal.px * side_mm / self.side_px
        return far, far * hypot(self.focal.sd_share, self.sd_share)


def focal_of(size: tuple[int, int], film_mm: float | None) -> Focal:
    """The focal length in pixels.

    Parameters
    ----------
    size
        (width, height) of the picture in pixels.
    film_mm
        EXIF's FocalLengthIn35mmFilm in mm, or None if it is not given.
    """
    diagonal = hypot(*size)
    if film_mm is None:
        return Focal(USUAL_FOCAL_MM / FILM_DIAGONAL_MM * diagonal, USUAL_FOCAL_SD)
    return Focal(film_mm / FILM_DIAGONAL_MM * diagonal, EXIF_FOCAL_SD)


def pose_of(mark: Mark, size: tuple[int, int], focal: Focal) -> Pose:
    """The pose under which a square shows these corners, the most likely one of all poses and focal lengths.

    A pinhole camera with its axis through the picture's centre. Slant and focal length are drawn to what is usual as
    weakly as they are known; what that leaves open goes into the uncertainty.

    Parameters
    ----------
    mark
        Corners in pixels, lens distortion undone.
    size
        (width, height) of the picture.
    focal
        What is known of the focal length.
    """
    found = sorted(_fits(mark.corners, size, focal), key=lambda fit: fit.cost)
    best = found[0]
    near = [fit for fit in found if fit.cost - best.cost < RIVAL]
    weights = np.array([exp((best.cost - fit.cost) / 2) for fit in near])
    weights /= weights.sum()
    sides = np.array([fit.log_side for fit in near])
    mean = float(weights @ sides)
    spread = float(weights @ (sides - mean) ** 2) + float(weights @ np.array([fit.sd**2 for fit in near]))
    return Pose(exp(mean), sqrt(spread), best.back_deg, best.turned_deg, best.focal)


@dataclass(frozen=True)
class _Fit:
    cost: float
    log_side: float
    sd: float
    back_deg: float
    turned_deg: float
    focal: Focal


def _fits(corners: Corners, size: tuple[int, int], focal: Focal) -> Iterator[_Fit]:
    """The locally best poses, from each of the two that a square allows."""
    seen = corners - (np.array(size) - 1) / 2
    for turn, place in _starts(seen, focal.px):
        start = np.concatenate([turn, place[:2] / place[2], [log(focal.px / place[2]), 0.0]])
        fit = least_squares(_misses, start, args=(seen, focal), method="lm", x_scale="jac")
        cov = np.linalg.inv(fit.jac.T @ fit.jac)
        rotation = np.asarray(cv2.Rodrigues(fit.x[:3])[0])
        facing = rotation[:, 2]  # of the square's own axis away from the camera
        back = degrees(np.arctan2(facing[1], hypot(facing[0], facing[2])))
        turned = degrees(np.arctan2(facing[0], facing[2]))
        focal_sd = min(focal.sd_share, sqrt(cov[6, 6]) * focal.sd_share)
        own = Focal(focal.px * exp(focal.sd_share * fit.x[6]), focal_sd)
        yield _Fit(2 * float(fit.cost), float(fit.x[5]), sqrt(cov[5, 5]), back, turned, own)


def _starts(seen: Corners, focal_px: float) -> Iterator[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    square = np.array([[-0.5, 0.5, 0], [0.5, 0.5, 0], [0.5, -0.5, 0], [-0.5, -0.5, 0]])
    camera = np.array([[focal_px, 0, 0], [0, focal_px, 0], [0, 0, 1.0]])
    poses = cv2.solvePnPGeneric(square, seen, camera, np.zeros(4), flags=cv2.SOLVEPNP_IPPE_SQUARE)
    flip = np.diag([1.0, -1.0, -1.0])  # from the solver's square, whose y is up, to one whose y is down
    for turn, place in zip(poses[1], poses[2], strict=True):
        rotation = np.asarray(cv2.Rodrigues(turn)[0]) @ flip
        yield np.asarray(cv2.Rodrigues(rotation)[0], np.float64).ravel(), np.asarray(place, np.float64).ravel()


def _misses(values: NDArray[np.float64], seen: Corners, focal: Focal) -> NDArray[np.float64]:
    """What is asked to be small: the corners' misses, the slant and the change of focal length, each over its sd.

    The values: turn (3), place of the middle over its depth (2), log of the side in pixels, change of the log of the
    focal length in standard deviations.
    """
    px = focal.px * exp(focal.sd_share * values[6])
    depth = px / exp(values[5])  # in sides of the square
    rotation = np.asarray(cv2.Rodrigues(values[:3])[0])
    square = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    there = square @ rotation[:, :2].T + depth * np.array([values[3], values[4], 1.0])
    miss = (px * there[:, :2] / there[:, 2:] - seen) / CORNER_SD_PX
    slant = np.degrees(np.arctan2(np.hypot(rotation[0, 2], rotation[1, 2]), rotation[2, 2]))
    return np.concatenate([miss.ravel(), [slant / SLANT_SD_DEG, values[6]]])
