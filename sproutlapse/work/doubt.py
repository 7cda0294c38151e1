"""How sure a height and a canopy are: the parts of their standard deviation, new ones and those that a plant shares.

The constants were found on rendered trays of several kinds, cameras and light; there are no published values.
"""

from __future__ import annotations

from math import sqrt

from sproutlapse.vision.findings import PlantFinding

# New in each photo
TIP_SD_PX = 0.28  # where the highest tissue ends
TIP_SD_SHARE = 0.35  # of the reach of what may be tissue too above the top
DEPTH_SHARE = 0.16  # of a plant's width: how far before or behind its foot the top may be
USUAL_SLOPE = 0.08  # of the line of sight, where the camera is not known
# One error for all photos of a plant
SOIL_SD_PX, SOIL_SD_MM = 0.4, 0.15
# Canopy
EDGE_SD_PX = 0.2  # of the outline, one sided
OUTLINE = 8.0  # times the root of the area: 2.3 times that of a disc


def height_noise_mm(seen: PlantFinding, mm_per_px: float, widest_px: float = 0.0, *, step: int = 1) -> float:
    """Standard deviation of a height that is new in each photo.

    A top that is nearer to the camera than its foot looks lower to a camera that looks down on it, by the slope of the
    line of sight. A plant that now shows its narrow side reaches as far towards the camera as it reached to the sides
    before.

    Parameters
    ----------
    seen
        The plant in the photo.
    mm_per_px
        At the plant.
    widest_px
        How wide it was seen before.
    step
        How many of the photo's pixels make one of those that were measured.
    """
    width = max(seen.width_px or 0.0, widest_px) * mm_per_px
    slope = USUAL_SLOPE if seen.top_slope is None else seen.top_slope
    tip = TIP_SD_PX * mm_per_px * step
    doubt = TIP_SD_SHARE * seen.top_doubt_px * mm_per_px
    return sqrt(tip**2 + doubt**2 + (slope * DEPTH_SHARE * width) ** 2)


def height_sd_mm(
    seen: PlantFinding,
    mm_per_px: float,
    scale_sd: float,
    soil_within_mm: float | None = None,
    widest_px: float = 0.0,
    *,
    step: int = 1,
) -> float:
    """Standard deviation of a height: its noise, the plant's soil line and the tray's scale.

    Parameters
    ----------
    seen
        The plant in the photo.
    mm_per_px
        At the plant.
    scale_sd
        Standard deviation of the scale as a share.
    soil_within_mm
        Within what the person holds the soil line to be right, 19 times of 20; None where nothing is said.
    widest_px
        How wide the plant was seen before.
    """
    told = SOIL_SD_MM if soil_within_mm is None else soil_within_mm / 2
    soil = sqrt((SOIL_SD_PX * mm_per_px * step) ** 2 + told**2)
    scale = scale_sd * (seen.height_px or 0.0) * mm_per_px
    return sqrt(height_noise_mm(seen, mm_per_px, widest_px, step=step) ** 2 + soil**2 + scale**2)


def canopy_sd_mm2(seen: PlantFinding, mm_per_px: float, scale_sd: float, *, step: int = 1) -> float:
    """Standard deviation of a covered area: its outline and the scale.

    Parameters
    ----------
    seen
        The plant in the photo.
    mm_per_px
        At the plant.
    scale_sd
        Standard deviation of the scale as a share.
    step
        How many of the photo's pixels make one of those that were measured.
    """
    area = seen.tissue_px * mm_per_px**2
    edge = EDGE_SD_PX * step * mm_per_px * OUTLINE * sqrt(area)
    return sqrt(edge**2 + (2 * scale_sd * area) ** 2)
