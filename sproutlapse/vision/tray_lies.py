"""Where a tray seen from above lies, which may have been taken up and put back a little off, or turned end for end."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.tray import Tray
from sproutlapse.vision import align
from sproutlapse.vision.colour import Floats
from sproutlapse.vision.half_turn import half_turn
from sproutlapse.vision.lifted import STILL_PX, evened, lifted_room

# Found on rendered trays; no published values.
TRAY_POINTS, TRAY_SHARE = 600, 0.15  # corners followed on a tray; leaves hide most of them in the end


def _even_bytes(light: Floats, grey: NDArray[np.uint8] | None = None) -> NDArray[np.uint8]:
    """Evened brightness as bytes, so that crumbs on dark soil are corners as good as the tray's rim."""
    grey = align.tracking_grey(light) if grey is None else grey
    even = evened(grey.astype(np.float32))
    return np.asarray(np.clip(128 + 45 * even, 0, 255), dtype=np.uint8)


def tray_marks(light: Floats, tray: Tray) -> align.Landmarks:
    """Corners of a tray seen from above: its rim, the walls between its cells, and crumbs on bare soil.

    Parameters
    ----------
    light
        (height, width, 3) linear light of the reference.
    """
    own = lifted_room(tray, (light.shape[1], light.shape[0]))
    grey = _even_bytes(light)
    found = cv2.goodFeaturesToTrack(grey, TRAY_POINTS, 0.02, 10, mask=own, blockSize=7)
    points = np.asarray(found if np.ndim(found) else [], dtype=np.float32).reshape(-1, 1, 2)
    return align.Landmarks(grey, points, np.zeros(len(points), np.int64))


def tray_place(
    light: Floats, placed: align.Placement, marks: align.Landmarks, grey: NDArray[np.uint8] | None = None
) -> align.Placement:
    """The photo's place on the reference as its tray lies there, which may have been lifted; the camera's place where
    too little of the tray is seen.

    Parameters
    ----------
    light
        (height, width, 3) linear light of the photo.
    placed
        Its place by what nobody lifts.
    marks
        See `tray_marks`.
    grey
        The photo's `align.tracking_grey`, where it is known.
    """
    if len(marks.points) < align.LEAST_POINTS:
        return placed
    even = _even_bytes(light, grey)
    turned = half_turn(even, marks, placed.matrix)
    if turned is not None:
        lies = align.placed_near(even, replace(marks, upright=turned), turned, least_share=TRAY_SHARE)
        if lies is not None:
            return lies
    found = align.placed_near(even, marks, placed.matrix, least_share=TRAY_SHARE)
    if found is None or placed.moved:
        return found or placed  # hundreds of corners on the tray itself tell more than those around it
    spots = marks.points.reshape(-1, 2).astype(np.float64)
    ways = align.move(found.matrix, align.move(align.inverse(placed.matrix), spots)) - spots
    return found if float(np.linalg.norm(ways, axis=1).max()) >= STILL_PX else placed
