"""Pixels to millimetres at the plants' own depth, with the uncertainty that all plants of a tray share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np

from sproutlapse.errors import TrayError
from sproutlapse.tray import Plant, Tray
from sproutlapse.vision.agree import Agreed, Reading, agreed, row_contradiction
from sproutlapse.vision.lens import Lens
from sproutlapse.vision.lookdown import TYPICAL_MM, Lookdown, lookdown, tilt_share
from sproutlapse.vision.marks import (
    ASSUMED_MM,
    EDGE_SD_PX,
    LEAST_SIDE_PX,
    Corners,
    Mark,
    find_marks,
    fit_square,
    print_light,
)
from sproutlapse.vision.pose import Focal, Pose, focal_of, pose_of

__all__ = [
    "ASSUMED_MM", "LEAST_SIDE_PX", "TYPICAL_MM", "Corners", "Lookdown", "Mark", "Scale", "depth_scale", "find_marks",
    "fit_square", "lookdown", "print_light", "read_scale",
]  # fmt: skip

DEPTH_SD_MM = 2.5  # how well a grower can set pots and mark in one row, with a ruler laid along it
DEPTH_SD_SHARE = 0.008  # the same where the camera's distance is not told
LENS_SD_SHARE = 0.002  # perspective of a camera that looks down a little; distortion is counted apart
ROW_SD_MM = 2.0  # of the length of a row of pots, by a ruler and by the middles of their boxes
LYING_SD_SHARE = 0.05  # a mark that lies has another depth than the plants
TILT_UNKNOWN = (
    "How far the camera looks down cannot be read from the printed mark where it stands: heights are less sure. Stand "
    "it upright at the pots' feet."
)
SAID_SLANT_DEG = 15.0  # a mark slanted more than this is worth a word; a camera that looks down shows as much as 10


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
    distance_mm, distance_sd_mm
        From the lens to the plants' row: as told, else from the mark's size and the focal length that the camera wrote;
        None where neither is known.
    lens
        Its distortion; `mm_per_px` holds where it is undone.
    """

    mm_per_px: float | None
    sd_share: float
    camera_to_mark_mm: float | None = None
    camera_to_plants_mm: float | None = None
    camera: Lookdown | None = None
    notes: tuple[str, ...] = ()
    distance_mm: float | None = None
    distance_sd_mm: float | None = None
    lens: Lens | None = None

    def at(self, plant: Plant) -> float | None:
        """Millimetres per pixel at a plant's depth, by similar triangles.

        Where the camera is known to look down, a plant that stands above the mark is nearer to the lens by that slope.
        """
        if self.camera is not None and self.camera_to_plants_mm is not None and plant.soil_y_px is not None:
            foot = np.array([[(plant.box_px[0] + plant.box_px[2]) / 2, plant.soil_y_px]])
            soil_y = plant.soil_y_px if self.lens is None else float(self.lens.straight(foot)[0, 1])
            return self.camera.mm_per_px(soil_y, self.camera_to_plants_mm + plant.behind_mm)
        if self.mm_per_px is None or self.camera_to_mark_mm is None or self.camera_to_plants_mm is None:
            return self.mm_per_px
        return depth_scale(self.mm_per_px, self.camera_to_mark_mm, self.camera_to_plants_mm + plant.behind_mm)


def depth_scale(mm_per_px: float, camera_to_mark_mm: float, camera_to_plant_mm: float) -> float:
    """Millimetres per pixel at a plant, from those at the mark: similar triangles of a pinhole camera."""
    return mm_per_px * camera_to_plant_mm / camera_to_mark_mm


def read_scale(
    tray: Tray,
    marks: Sequence[Mark],
    size: tuple[int, int],
    *,
    film_mm: float | None = None,
    lens: Lens | None = None,
) -> Scale:
    """The scale from what tray.toml says and the marks that were seen.

    Parameters
    ----------
    tray
        What stands in view.
    marks
        As `find_marks` gives them, in pixels of the reference.
    size
        (width, height) of the picture.
    film_mm
        The lens's focal length as on 36 x 24 mm film, as EXIF gives it; None if it does not.
    lens
        Distortion of the lens; None for none.

    Raises
    ------
    TrayError
        If a depth is given that cannot be used without the camera's distance.
    """
    _check_depths(tray)
    lens = lens or Lens(size)
    told, far = tray.scale, tray.view.camera_to_plants_mm
    to_mark = far + told.behind_plants_mm if far is not None else None
    row = _row(tray, lens)
    depth = DEPTH_SD_MM / far if far else DEPTH_SD_SHARE
    if told.from_px is not None and told.to_px is not None and told.length_mm is not None:
        ends = lens.straight(np.array([told.from_px, told.to_px], float))
        length = float(np.linalg.norm(ends[1] - ends[0]))
        own = Agreed(told.length_mm / length, hypot(sqrt(2) / length, depth, _told_sd(told.length_mm, tray)), ())
        return _whole(own, tray, lens, ends, [])
    side_mm = told.marker_mm or ASSUMED_MM
    seen, notes = _readable(marks, tray, film_mm, lens, to_mark)
    if not seen:
        if row is None:
            return Scale(None, 0.0, notes=(*notes, "No scale mark was found, so sizes are in pixels only."), lens=lens)
        return _whole(Agreed(row[0], row[1], ()), tray, lens, None, [*notes, "The scale was taken from row_mm."])
    if told.marker_mm is None:
        notes.append(
            f"The printed mark's black square was taken as {ASSUMED_MM:g} mm: measure yours and write it "
            "into marker_mm."
        )
    readings = [
        Reading(mark.number, side_mm / pose.side_px, _side_sd(pose), LYING_SD_SHARE if pose.lies else depth)
        for mark, pose in seen
    ]
    at_marks = None if row is None else (row[0] * to_mark / far if far and to_mark else row[0], row[1])
    own = agreed(readings, side_mm, at_marks)
    own = replace(own, sd_share=hypot(own.sd_share, _told_sd(side_mm, tray)))
    notes += own.notes
    if at_marks is not None and (word := row_contradiction(own.mm_per_px, own.sd_share, at_marks)):
        notes.append(word)
        own = replace(own, sd_share=hypot(own.sd_share, abs(own.mm_per_px / at_marks[0] - 1) / 2))
    mark, pose = next(one for one in seen if one[0].number in own.used)
    scale = _whole(own, tray, lens, mark.corners, notes)
    if to_mark is not None and tray.view.from_ == "side" and not pose.lies:
        camera = lookdown(mark, side_mm, to_mark, size[1], side_mm / own.mm_per_px)
        tilt = tilt_share(camera, mark, side_mm=side_mm, distance_mm=to_mark, height_px=size[1], plants=tray.plants)
        scale = replace(scale, camera=camera, sd_share=hypot(scale.sd_share, tilt))
        if camera is None:
            scale = replace(scale, notes=(*scale.notes, TILT_UNKNOWN))
    if far is None and film_mm is not None:
        away, sd = pose.distance_mm(side_mm)
        scale = replace(scale, distance_mm=away - told.behind_plants_mm, distance_sd_mm=sd)
    return scale


def _check_depths(tray: Tray) -> None:
    behind, far = tray.scale.behind_plants_mm, tray.view.camera_to_plants_mm
    if far is None and (behind != 0 or any(plant.behind_mm for plant in tray.plants)):
        raise TrayError(
            "a depth is given (behind_plants_mm or behind_mm), but not how far the camera stands.",
            where="tray.toml: [view] camera_to_plants_mm",
            remedy="Measure from the lens to the plants' row in mm and write camera_to_plants_mm.",
        )
    if far is not None and far + behind <= 0:
        raise TrayError(
            "the mark would stand behind the camera.",
            where="tray.toml: [scale] behind_plants_mm",
            remedy="Check camera_to_plants_mm and behind_plants_mm; both are in mm.",
        )


def _readable(
    marks: Sequence[Mark],
    tray: Tray,
    film_mm: float | None,
    lens: Lens,
    to_mark: float | None,
) -> tuple[list[tuple[Mark, Pose]], list[str]]:
    """Marks that can be a scale, corners made straight, each with its pose; and what is to be said of them."""
    notes = []
    large = [mark for mark in marks if mark.side_px >= LEAST_SIDE_PX]
    if marks and not large:
        notes.append(
            f"The printed mark is too small in the picture ({marks[0].side_px:.0f} pixels wide): "
            "bring the camera nearer or print it larger."
        )
    seen = []
    for found in large:
        mark = Mark(found.number, lens.straight(found.corners))
        pose = pose_of(mark, lens.size, focal_of(lens.size, film_mm))
        if to_mark is not None:
            focal = Focal(pose.side_px / (tray.scale.marker_mm or ASSUMED_MM) * to_mark, DEPTH_SD_MM / to_mark + 0.01)
            pose = pose_of(mark, lens.size, focal)
        seen.append((mark, pose))
    if tray.view.from_ == "side":
        standing = [one for one in seen if not one[1].lies]
        notes += [_lying(mark, used=not standing) for mark, pose in seen if pose.lies]
        seen = standing or seen
    notes += [
        f"Mark {mark.number} is slanted by {pose.slant_deg:.0f} degrees; that was taken into account."
        for mark, pose in seen
        if pose.slant_deg > SAID_SLANT_DEG and not pose.lies
    ]
    return seen, notes


def _lying(mark: Mark, *, used: bool) -> str:
    end = "so lengths are rough" if used else "so it was not used"
    return f"Mark {mark.number} lies flat instead of standing among the plants, {end}: stand it upright in their row."


def _told_sd(length_mm: float, tray: Tray) -> float:
    """What the person's own measuring of a length adds, as a share."""
    return 0.0 if tray.scale.within_mm is None else tray.scale.within_mm / 2 / length_mm


def _side_sd(pose: Pose) -> float:
    return hypot(pose.sd_share, EDGE_SD_PX / pose.side_px)


def _row(tray: Tray, lens: Lens) -> tuple[float, float] | None:
    """Millimetres per pixel from the told length of the plants' row, and its standard deviation as a share."""
    row = [plant for plant in tray.plants if plant.behind_mm == 0]
    if tray.scale.row_mm is None or len(row) < 2:
        return None
    middles = np.array([[(p.box_px[0] + p.box_px[2]) / 2, _foot_y(p)] for p in (row[0], row[-1])])
    ends = lens.straight(middles)
    length = float(np.linalg.norm(ends[1] - ends[0]))
    return (tray.scale.row_mm / length, ROW_SD_MM / tray.scale.row_mm) if length > 0 else None


def _foot_y(plant: Plant) -> float:
    return plant.soil_y_px if plant.soil_y_px is not None else (plant.box_px[1] + plant.box_px[3]) / 2


def _whole(own: Agreed, tray: Tray, lens: Lens, at: Corners | None, notes: list[str]) -> Scale:
    """The scale with the parts of its uncertainty that come from the lens and from the camera's looking down."""
    far = tray.view.camera_to_plants_mm
    return Scale(
        mm_per_px=own.mm_per_px,
        sd_share=sqrt(own.sd_share**2 + LENS_SD_SHARE**2 + lens_share(tray.plants, lens, at) ** 2),
        camera_to_mark_mm=far + tray.scale.behind_plants_mm if far else None,
        camera_to_plants_mm=far,
        notes=tuple(notes),
        distance_mm=far,
        distance_sd_mm=DEPTH_SD_MM if far else None,
        lens=lens,
    )


def lens_share(plants: Sequence[Plant], lens: Lens, at: Corners | None) -> float:
    """What is not known of the lens's distortion, as a share of an upright length at the plants against the mark.

    It grows with the plants' distance from the picture's centre, and is the less the nearer the mark is to them.

    Parameters
    ----------
    plants
        One or more; of several the root of the mean square.
    lens
        With its standard deviation.
    at
        (n, 2) pixels of the mark; None for the picture's centre.
    """
    if lens.sd == 0.0 or not plants:
        return 0.0
    feet = np.array([[(p.box_px[0] + p.box_px[2]) / 2, _foot_y(p)] for p in plants])
    here = 0.0 if at is None else float(lens.upright(np.asarray(at, float)).mean())
    return lens.sd * float(np.sqrt(((lens.upright(feet) - here) ** 2).mean()))
