"""The label picture of a photo as it is kept: packed as PNG, read, and brought to the photo's size."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.colour import Floats
from sproutlapse.vision.share import Labels

# Runs of equal labels pack well without any filter, and in a fraction of the time.
_HOW = [
    *(cv2.IMWRITE_PNG_COMPRESSION, 1),
    *(cv2.IMWRITE_PNG_STRATEGY, cv2.IMWRITE_PNG_STRATEGY_RLE),
    *(cv2.IMWRITE_PNG_FILTER, cv2.IMWRITE_PNG_FILTER_NONE),
]
HALF = 0.5  # a pixel belongs to a plant when half of it is covered


def labels_png(labels: Labels, coverage: Floats | None = None) -> bytes:
    """The label picture as PNG bytes.

    Parameters
    ----------
    labels
        (height, width) uint8: 0 = not plant, k = k-th plant in tray order.
    coverage
        (height, width) covered share of each pixel, where the picture is smaller than the photo and outlines are to be
        enlarged; it goes into the upper byte of 16.
    """
    packed = labels
    if coverage is not None:
        share = np.round(np.clip(coverage, 0.0, 1.0) * 255).astype(np.uint16)
        # Away from outlines it says nothing more than the labels.
        near = cv2.dilate(labels, np.ones((3, 3), np.uint8)) > 0
        packed = np.where(near, share << 8, 0).astype(np.uint16) | labels
    ok, data = cv2.imencode(".png", packed, _HOW)
    if not ok:
        raise RuntimeError("the label picture could not be packed as PNG")
    return bytes(data)


def read_labels(data: bytes) -> Labels:
    """The label picture of `labels_png`, at the size that it was measured at."""
    return np.asarray(_packed(data) & 255, dtype=np.uint8)


def relabelled(data: bytes, table: Labels) -> bytes:
    """The packed label picture with each of 256 labels replaced by that of a table; covered shares stay."""
    packed = _packed(data)
    labels = table[packed & 255]
    if packed.dtype == np.uint8:
        return labels_png(labels)
    return labels_png(labels, np.asarray((packed >> 8) / 255, dtype=np.float32))


def labels_enlarged(data: bytes, size: tuple[int, int]) -> bytes:
    """The packed label picture in the photo's own pixels, 8 bits each, whatever size it was measured at.

    Outlines are drawn where half of a pixel is covered, from the covered shares of the larger pixels.

    Parameters
    ----------
    data
        See `labels_png`.
    size
        (width, height) of the photo.
    """
    packed = _packed(data)
    if packed.dtype == np.uint8:
        return data
    labels = (packed & 255).astype(np.uint8)
    height, width = labels.shape
    step = max(-(-size[0] // width), -(-size[1] // height))
    out = np.zeros((size[1], size[0]), np.uint8)
    if not labels.any():
        return labels_png(out)
    rows, columns = np.flatnonzero(labels.any(axis=1)), np.flatnonzero(labels.any(axis=0))
    top, left = max(0, rows[0] - 3), max(0, columns[0] - 3)
    part = slice(top, rows[-1] + 4), slice(left, columns[-1] + 4)
    share = cv2.resize(
        (packed[part] >> 8).astype(np.float32) / 255, None, fx=step, fy=step, interpolation=cv2.INTER_CUBIC
    )
    # A pixel beside an outline belongs to the plant there; where two meet, each keeps its own.
    own = np.where(labels[part] > 0, labels[part], cv2.dilate(labels[part], np.ones((3, 3), np.uint8)))
    fine = np.where(share > HALF, np.repeat(np.repeat(own, step, axis=0), step, axis=1), 0).astype(np.uint8)
    there = out[top * step :, left * step :][: fine.shape[0], : fine.shape[1]]
    there[:] = fine[: there.shape[0], : there.shape[1]]
    return labels_png(out)


def _packed(data: bytes) -> NDArray[np.integer[Any]]:
    return np.asarray(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED))
