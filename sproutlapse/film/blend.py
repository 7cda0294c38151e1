"""Leading over from one photo to the next: what moved goes its way, what stands still stays as it is."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Even = NDArray[np.float32]

# The motion is looked for in pictures of this width: leaves' ways are smooth, and it costs a quarter of full size.
WIDTH = 640
# A place that differs by less than this (of 255, mean of its surroundings) did not move.
DIFFERS = 2.5
# There and back again must come home to so many pixels; where not, a leaf came or went, and is faded over.
HOME_PX = 1.5


class Between:
    """The way from one picture to the next, both (h, w, 3) float32 sRGB values of 0 to 255."""

    def __init__(self, one: Even, other: Even) -> None:
        self._one, self._other = one, other
        h, w = one.shape[:2]
        scale = min(1.0, WIDTH / w)
        small = (max(16, round(w * scale)), max(16, round(h * scale)))
        first, then = (_grey(picture, small) for picture in (one, other))
        seeker = cv2.DISOpticalFlow.create(cv2.DISOPTICAL_FLOW_PRESET_MEDIUM)
        there = np.asarray(seeker.calc(first, then, np.zeros((*first.shape, 2), np.float32)), dtype=np.float32)
        back = np.asarray(seeker.calc(then, first, np.zeros((*first.shape, 2), np.float32)), dtype=np.float32)
        moved = cv2.GaussianBlur(cv2.absdiff(first, then).astype(np.float32), (0, 0), 3.0) > DIFFERS
        self._there = self._large(there, moved & _comes_home(there, back))
        self._back = self._large(back, moved & _comes_home(back, there))
        y, x = np.indices((h, w), dtype=np.float32)
        self._x, self._y = x, y

    def _large(self, flow: NDArray[np.float32], trusted: NDArray[np.bool_]) -> NDArray[np.float32]:
        h, w = self._one.shape[:2]
        kept = cv2.GaussianBlur(flow * trusted[:, :, None].astype(np.float32), (0, 0), 1.5)
        large = cv2.resize(kept, (w, h), interpolation=cv2.INTER_LINEAR)
        return np.asarray(large * np.array([w / flow.shape[1], h / flow.shape[0]], np.float32), dtype=np.float32)

    def at(self, share: float) -> Even:
        """The picture `share` of the way over, 0 to 1."""
        from_one = self._moved(self._one, self._there, share)
        from_other = self._moved(self._other, self._back, 1 - share)
        return np.asarray(cv2.addWeighted(from_one, 1 - share, from_other, share, 0.0), dtype=np.float32)

    def _moved(self, picture: Even, flow: NDArray[np.float32], share: float) -> Even:
        x, y = self._x - share * flow[:, :, 0], self._y - share * flow[:, :, 1]
        return np.asarray(cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32)


def _grey(picture: Even, size: tuple[int, int]) -> NDArray[np.uint8]:
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.cvtColor(np.clip(small, 0, 255).astype(np.uint8), cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def _comes_home(there: NDArray[np.float32], back: NDArray[np.float32]) -> NDArray[np.bool_]:
    h, w = there.shape[:2]
    y, x = np.indices((h, w), dtype=np.float32)
    returned = cv2.remap(
        back, x + there[:, :, 0], y + there[:, :, 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(np.linalg.norm(there + returned, axis=2) < HOME_PX)
