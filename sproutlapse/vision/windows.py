"""The parts of a picture in which something may have come up: only they are looked at closely."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np

from sproutlapse.vision.colour import Mask

TILE_PX = 8
WORTH_SHARE = 0.7  # of the picture: parts that make up more are not worth cutting out

Window = tuple[slice, slice]
Box = tuple[int, int, int, int]  # left, top, right, bottom in tiles


def windows(seen: Mask, margin_px: float) -> list[Window]:
    """Rows and columns of rectangles that hold all marked pixels with a margin round them, none over another.

    Parameters
    ----------
    seen
        (height, width) bool.
    margin_px
        What lies no further off than this from a marked pixel is in the same rectangle.
    """
    height, width = seen.shape
    down, across = -(-height // TILE_PX), -(-width // TILE_PX)
    padded = np.zeros((down * TILE_PX, across * TILE_PX), np.uint8)
    padded[:height, :width] = seen
    tiles = padded.reshape(down, TILE_PX, across, TILE_PX).max(axis=(1, 3))
    reach = int(np.ceil(margin_px / TILE_PX))
    wide = cv2.dilate(tiles, np.ones((2 * reach + 1, 2 * reach + 1), np.uint8))
    count, _, stats, _ = cv2.connectedComponentsWithStats(wide, connectivity=8)
    boxes = _apart([(int(x), int(y), int(x + w), int(y + h)) for x, y, w, h, _ in stats[1:count]])
    if sum((right - left) * (bottom - top) for left, top, right, bottom in boxes) > WORTH_SHARE * down * across:
        return [(slice(0, height), slice(0, width))]
    return [
        (slice(top * TILE_PX, min(height, bottom * TILE_PX)), slice(left * TILE_PX, min(width, right * TILE_PX)))
        for left, top, right, bottom in boxes
    ]


def _apart(boxes: list[Box]) -> list[Box]:
    """Boxes (left, top, right, bottom), those that lie over one another joined."""
    joined: list[Box] = []
    for box in boxes:
        own = box
        for other in _over(own, joined):
            joined.remove(other)
            own = min(own[0], other[0]), min(own[1], other[1]), max(own[2], other[2]), max(own[3], other[3])
        joined.append(own)
    return joined if len(joined) == len(boxes) else _apart(joined)


def _over(box: Box, others: list[Box]) -> Iterator[Box]:
    left, top, right, bottom = box
    for other in list(others):
        if other[0] < right and left < other[2] and other[1] < bottom and top < other[3]:
            yield other
