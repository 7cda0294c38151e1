"""How far a camera looks down, from an upright printed mark, and what that does to heights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import acos, atan, cos, hypot, sin, sqrt, tan

from sproutlapse.tray import Plant
from sproutlapse.vision.marks import EDGE_SD_PX, Mark

TYPICAL_MM = 40.0  # above the soil: where most of a young plant's tissue is
STEEPEST = (-0.03, 0.35)  # radians; beyond this a mark leans rather than the camera looks down
UNKNOWN_DOWN = 0.1  # radians by which a camera may look down where nothing tells. Own proposal


@dataclass(frozen=True)
class Lookdown:
    """A pinhole camera before upright things: focal length in pixels, how far it looks down in radians, the row of the
    picture's centre, and the standard deviation of the looking down."""

    focal_px: float
    down: float
    centre_y: float
    sd: float = 0.0

    def mm_per_px(self, soil_y: float, distance_mm: float) -> float:
        """Millimetres per pixel at the middle of a young plant on a soil line in a plane at a horizontal distance."""
        own = distance_mm / self.focal_px
        beta = atan((soil_y - TYPICAL_MM / own - self.centre_y) / self.focal_px)
        return distance_mm * cos(beta) / cos(self.down + beta) / self.focal_px

    def levelled_px(self, foot_y: float, tip_y: float, mm_per_px: float) -> float:
        """An upright length between two rows of the picture, in pixels of the scale that holds for a plant's widths.

        A camera that looks down shows upright things short, the more the steeper it sees them.
        """
        beta = atan((foot_y - TYPICAL_MM / mm_per_px - self.centre_y) / self.focal_px)
        return (self.slope(foot_y) - self.slope(tip_y)) * self.focal_px * cos(self.down + beta) / cos(beta)

    def height_mm(self, foot_y: float, tip_y: float, distance_mm: float) -> float:
        """An upright length between two rows of the picture, in a plane at a horizontal distance."""
        own = self.mm_per_px(foot_y, distance_mm)
        return own * self.levelled_px(foot_y, tip_y, own)

    def slope(self, row: float) -> float:
        """Tangent of the angle by which the line of sight through a row of the picture falls."""
        return tan(self.down + atan((row - self.centre_y) / self.focal_px))


def lookdown(
    mark: Mark, side_mm: float, distance_mm: float, height_px: int, side_px: float | None = None
) -> Lookdown | None:
    """How far the camera looks down on an upright mark: its height looks short by the slope of the line of sight.

    Parameters
    ----------
    mark
        A mark that stands upright and faces the camera.
    side_mm, distance_mm
        Its side, and its horizontal distance from the lens.
    height_px
        Height of the picture.
    side_px
        The side that the mark would show facing the camera; None if only the camera's looking down slants it.

    Returns
    -------
    Lookdown or None
        None where the mark leans or is turned too much to tell.
    """
    across = side_px or mark.across_px
    short = min(1.0, mark.upright_px / across)
    focal = across / side_mm * distance_mm / short
    centre = (height_px - 1) / 2
    beta = atan((float(mark.corners[:, 1].mean()) - centre) / focal)
    angle = acos(min(1.0, short * cos(beta)))
    # Level with the mark its height hardly changes with the angle: there the angle is known worst.
    short_sd = sqrt(2) * EDGE_SD_PX / across
    sd = short_sd / max(sin(angle), sqrt(2 * short_sd))
    possible = [down for down in (angle - beta, -angle - beta) if STEEPEST[0] - 2 * sd <= down <= STEEPEST[1] + 2 * sd]
    if len(possible) == 2:  # above the picture's middle a mark may be seen from above or from below, and looks the same
        return Lookdown(across / side_mm * distance_mm * cos(beta), -beta, centre, hypot(angle, sd))
    return Lookdown(focal, possible[0], centre, sd) if possible else None


def tilt_share(
    camera: Lookdown | None, mark: Mark, *, side_mm: float, distance_mm: float, height_px: int, plants: Sequence[Plant]
) -> float:
    """Standard deviation of heights, as a share, from not knowing exactly how far the camera looks down.

    Found by looking at a young plant on each soil line with a camera tilted by a standard deviation more and less. It
    grows with the distance in the picture between the mark and the plants.

    Parameters
    ----------
    camera
        As `lookdown` gives it; None stands for a level camera that may look down by `UNKNOWN_DOWN`.
    mark, side_mm, distance_mm, height_px
        As for `lookdown`.
    plants
        With their soil lines; of several the root of the mean square counts.
    """
    centre = (height_px - 1) / 2
    down, sd = (camera.down, camera.sd) if camera is not None else (0.0, UNKNOWN_DOWN)
    level = mark.side_px / side_mm * distance_mm
    beta = atan((float(mark.corners[:, 1].mean()) - centre) / level)
    low, high = (Lookdown(level * cos(beta) / cos(tilted + beta), tilted, centre) for tilted in (down - sd, down + sd))
    off = []
    for plant in plants:
        if plant.soil_y_px is not None:
            far = distance_mm + plant.behind_mm
            tip_y = plant.soil_y_px - TYPICAL_MM * level / distance_mm
            heights = [one.height_mm(plant.soil_y_px, tip_y, far) for one in (low, high)]
            off.append((heights[1] - heights[0]) / (heights[1] + heights[0]))
    return sqrt(sum(share**2 for share in off) / len(off)) if off else 0.0
