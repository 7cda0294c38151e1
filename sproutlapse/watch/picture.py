"""A photo cropped to the plants that a message is about."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np

from sproutlapse.errors import SproutlapseError
from sproutlapse.frames.decode import Damaged, decode, read_bytes
from sproutlapse.report.pictures import jpeg_of
from sproutlapse.results import FrameRecord
from sproutlapse.tray import Tray
from sproutlapse.watch.news import MOST_SHOWN

MARGIN = 0.15  # of the plants' box, on each side
LEAST_PX = 320  # of a crop's sides, if the photo is that large: a single cell says little
LONGEST_PX = 1280  # a phone shows no more


def place_of(frame: FrameRecord, tray: Tray, plants: Sequence[str]) -> tuple[int, int, int, int] | None:
    """Left, top, right and bottom of plants in a photo's own pixels; None for all of the photo."""
    boxes = [plant.box_px for plant in tray.plants if plant.name in plants]
    if not 1 <= len(boxes) <= MOST_SHOWN or frame.to_reference is None or frame.size is None:
        return None
    sides = np.array(boxes)
    corners = np.array(
        [(x, y) for x in (sides[:, 0].min(), sides[:, 2].max()) for y in (sides[:, 1].min(), sides[:, 3].max())]
    )
    back = cv2.invertAffineTransform(frame.to_reference)
    here = corners @ back[:, :2].T + back[:, 2]
    low, high = here.min(axis=0), here.max(axis=0)
    reach = np.maximum((high - low) * (0.5 + MARGIN), LEAST_PX / 2)
    middle, size = (low + high) / 2, np.array(frame.size)
    left, top = np.clip(middle - reach, 0, size - 1).astype(int)
    right, bottom = np.clip(middle + reach, 1, size).astype(int)
    return int(left), int(top), int(right), int(bottom)


def cropped(path: Path, box: tuple[int, int, int, int] | None) -> bytes | None:
    """JPEG of a part of a photo; None where the photo cannot be read any more."""
    try:
        picture = decode(read_bytes(path), path.name)
    except (SproutlapseError, Damaged):
        return None
    if box is not None:
        left, top, right, bottom = box
        picture = picture[top:bottom, left:right]
    longest = max(picture.shape[:2])
    if longest > LONGEST_PX:
        scale = LONGEST_PX / longest
        picture = np.asarray(cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.uint8)
    return jpeg_of(picture) if picture.size else None
