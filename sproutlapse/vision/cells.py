"""Which cell's plant each tissue pixel belongs to, seen from above."""

from __future__ import annotations

import cv2
import numpy as np

from sproutlapse.tray import Tray
from sproutlapse.vision import align
from sproutlapse.vision.colour import Mask
from sproutlapse.vision.share import Labels, flood

MOSTLY = 0.8  # share of a patch inside one cell that settles whose it is
HEART = 0.5  # the middle part of a cell, where its own plant stands
LEAST_PX = 8  # tissue in a cell's heart that shows a plant of its own


def above_labels(mask: Mask, tray: Tray, matrix: align.Matrix) -> Labels:
    """Labels of tissue seen from above.

    A patch lies mostly in one cell, and then is its plant's, or it spans several: then it is shared out along the
    tissue from the hearts of the cells in which it stands.
    """
    back = align.inverse(matrix)
    cell = np.zeros(mask.shape, np.uint8)
    heart = np.zeros(mask.shape, np.uint8)
    for k, plant in enumerate(tray.plants):
        left, top, right, bottom = plant.box_px
        for target, part in ((cell, 1.0), (heart, HEART)):
            x, y = (right - left) * (1 - part) / 2, (bottom - top) * (1 - part) / 2
            corners = np.array(
                [[left + x, top + y], [right - x, top + y], [right - x, bottom - y], [left + x, bottom - y]]
            )
            cv2.fillConvexPoly(target, np.round(align.move(back, corners) * 16).astype(np.int32), k + 1, shift=4)
    count, patch, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    labels = np.zeros(mask.shape, np.uint8)
    for k in range(1, count):
        x, y, w, h = (int(v) for v in stats[k, :4])
        window = (slice(y, y + h), slice(x, x + w))
        here = patch[window] == k
        shares = np.bincount(cell[window][here], minlength=len(tray.plants) + 1)
        hearts = np.bincount(heart[window][here], minlength=len(tray.plants) + 1)
        best = int(shares[1:].argmax()) + 1
        if shares[best] == 0:
            continue
        rivals = np.flatnonzero(hearts[1:] >= LEAST_PX) + 1
        if shares[best] >= MOSTLY * here.sum() or len(rivals) < 2:
            labels[window][here] = rivals[0] if len(rivals) == 1 and shares[best] < MOSTLY * here.sum() else best
            continue
        seeds = np.where(np.isin(heart[window], rivals), heart[window], 0).astype(np.uint8)
        labels[window][here] = flood(here, seeds)[here]
    return labels
