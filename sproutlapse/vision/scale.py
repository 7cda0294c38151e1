"""Pixels to millimetres at the plants' own depth, with the uncertainty that all plants of a tray share."""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, atan, cos, hypot, sqrt

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import TrayError
from sproutlapse.tray import Plant, Tray
from sproutlapse.vision.colour import Floats

ASSUMED_MM = 30.0  # the side of the black square when nobody measured it
LEAST_SIDE_PX = 16.0  # smaller marks are read too roughly to be a scale
EDGE_SD_PX = 0.15  # of a side, after fitting a line to each edge
DEPTH_SD_MM = 4.0  # how well a grower can set pots and mark in one row
LENS_SD_SHARE = 0.003  # perspective of a camera that looks down a little, and an unknown lens

TYPICAL_MM = 40.0  # above the soil: where most of a young plant's tissue is
STEEPEST = (-0.03, 0.35)  # radians; beyond this a mark leans rather than the camera looks down

Corners = NDArray[np.float64]


@dataclass(frozen=True)
class Mark:
    """A scale mark as read: `corners` (4, 2) clockwise from its own top left, in pixels of the reference."""

    number: int
    corners: Corners

    @property
    def side_px(self) -> float:
        """Mean of the upper and lower side; a mark that leans back keeps these."""
        return (_length(self.corners, 0) + _length(self.corners, 2)) / 2


@dataclass(frozen=True)
class Lookdown:
    """A pinhole camera before upright things: focal length in pixels, how far it looks down in radians, and the row of
    the picture's centre."""

    focal_px: float
    down: float
    centre_y: float

    def mm_per_px(self, soil_y: float, distance_mm: float) -> float:
        """Millimetres per pixel at the middle of a young plant on a soil line in a plane at a horizontal distance."""
        own = distance_mm / self.focal_px
        beta = atan((soil_y - TYPICAL_MM / own - self.centre_y) / self.focal_px)
        return distance_mm * cos(beta) / cos(self.down + beta) / self.focal_px


def lookdown(mark: Mark, side_mm: float, distance_mm: float, height_px: int) -> Lookdown | None:
    """How far the camera looks down on an upright mark: its height looks short by the slope of the line of sight.

    Parameters
    ----------
    mark
        A mark that stands upright and faces the camera.
    side_mm, distance_mm
        Its side, and its horizontal distance from the lens.
    height_px
        Height of the picture.

    Returns
    -------
    Lookdown or None
        None where the mark leans or is turned too much to tell.
    """
    across = mark.side_px
    upright = (_length(mark.corners, 1) + _length(mark.corners, 3)) / 2
    short = min(1.0, upright / across)
    focal = across / side_mm * distance_mm / short
    centre = (height_px - 1) / 2
    beta = atan((float(mark.corners[:, 1].mean()) - centre) / focal)
    down = acos(min(1.0, short * cos(beta))) - beta
    return Lookdown(focal, down, centre) if STEEPEST[0] <= down <= STEEPEST[1] else None


@dataclass(frozen=True)
class Scale:
    """Millimetres per pixel in the plane of the mark, and what is known of depth.

    Attributes
    ----------
    mm_per_px
        In the mark's plane; None without a scale.
    sd_share
        Standard deviation as a share; the same error for every plant of the tray.
    camera_to_mark_mm
        None if the distance is not told; then every plant is taken to stand in the mark's plane.
    camera_to_plants_mm
        Distance of the row that `behind_mm` is counted from.
    """

    mm_per_px: float | None
    sd_share: float
    camera_to_mark_mm: float | None = None
    camera_to_plants_mm: float | None = None
    camera: Lookdown | None = None
    notes: tuple[str, ...] = ()

    def at(self, plant: Plant) -> float | None:
        """Millimetres per pixel at a plant's depth, by similar triangles.

        Where the camera is known to look down, a plant that stands above the mark is nearer to the lens by that slope.
        """
        if self.camera is not None and self.camera_to_plants_mm is not None and plant.soil_y_px is not None:
            return self.camera.mm_per_px(plant.soil_y_px, self.camera_to_plants_mm + plant.behind_mm)
        if self.mm_per_px is None or self.camera_to_mark_mm is None or self.camera_to_plants_mm is None:
            return self.mm_per_px
        return depth_scale(self.mm_per_px, self.camera_to_mark_mm, self.camera_to_plants_mm + plant.behind_mm)


def depth_scale(mm_per_px: float, camera_to_mark_mm: float, camera_to_plant_mm: float) -> float:
    """Millimetres per pixel at a plant, from those at the mark: similar triangles of a pinhole camera."""
    return mm_per_px * camera_to_plant_mm / camera_to_mark_mm


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
    if any(line is None for line in lines):
        return rough
    out = np.empty((4, 2))
    for k in range(4):
        (p, v), (q, w) = lines[k - 1], lines[k]  # type: ignore[misc]
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


def read_scale(tray: Tray, marks: list[Mark], height_px: int) -> Scale:
    """The scale from what tray.toml says and the marks that were seen.

    Parameters
    ----------
    tray
        What stands in view.
    marks
        As `find_marks` gives them, in pixels of the reference.
    height_px
        Height of the picture.

    Raises
    ------
    TrayError
        If a depth is given that cannot be used without the camera's distance.
    """
    told = tray.scale
    notes: list[str] = []
    camera: Lookdown | None = None
    far = tray.view.camera_to_plants_mm
    if told.from_px is not None and told.to_px is not None and told.length_mm is not None:
        length = hypot(told.to_px[0] - told.from_px[0], told.to_px[1] - told.from_px[1])
        own, sd = told.length_mm / length, sqrt(2) / length
    elif marks and marks[0].side_px >= LEAST_SIDE_PX:
        side_mm = told.marker_mm or ASSUMED_MM
        if told.marker_mm is None:
            notes.append(
                f"The printed mark's black square was taken as {ASSUMED_MM:g} mm: measure yours and write it "
                "into marker_mm."
            )
        own, sd = side_mm / marks[0].side_px, EDGE_SD_PX / marks[0].side_px
        notes += _contradictions(marks, side_mm)
        if far is not None and tray.view.from_ == "side" and far + told.behind_plants_mm > 0:
            camera = lookdown(marks[0], side_mm, far + told.behind_plants_mm, height_px)
    else:
        if marks:
            notes.append(
                f"The printed mark is too small in the picture ({marks[0].side_px:.0f} pixels wide): "
                "bring the camera nearer or print it larger."
            )
        notes.append("No scale mark was found, so sizes are in pixels only.")
        return Scale(None, 0.0, notes=tuple(notes))
    deep = told.behind_plants_mm != 0 or any(plant.behind_mm for plant in tray.plants)
    if deep and far is None:
        raise TrayError(
            "a depth is given (behind_plants_mm or behind_mm), but not how far the camera stands.",
            where="tray.toml: [view] camera_to_plants_mm",
            remedy="Measure from the lens to the plants' row in mm and write camera_to_plants_mm.",
        )
    if far is not None and far + told.behind_plants_mm <= 0:
        raise TrayError(
            "the mark would stand behind the camera.",
            where="tray.toml: [scale] behind_plants_mm",
            remedy="Check camera_to_plants_mm and behind_plants_mm; both are in mm.",
        )
    depth = DEPTH_SD_MM / far if far else 0.008
    return Scale(
        mm_per_px=own,
        sd_share=sqrt(sd**2 + depth**2 + LENS_SD_SHARE**2),
        camera_to_mark_mm=far + told.behind_plants_mm if far else None,
        camera_to_plants_mm=far,
        camera=camera,
        notes=tuple(notes),
    )


def _contradictions(marks: list[Mark], side_mm: float) -> list[str]:
    """A sentence for each further mark whose size disagrees with the first by more than depth explains."""
    first = marks[0]
    out = []
    for mark in marks[1:]:
        off = mark.side_px / first.side_px - 1.0
        if 0.015 < abs(off) < 0.4:
            out.append(
                f"Mark {mark.number} looks {abs(off):.1%} {'larger' if off > 0 else 'smaller'} than mark "
                f"{first.number}: one stands at another depth or is not printed at 100 %. Mark {first.number} was "
                f"used, taken as {side_mm:g} mm."
            )
    return out


def _length(corners: Corners, k: int) -> float:
    return float(np.linalg.norm(corners[k] - corners[(k + 1) % 4]))
