"""Tissue shared out among plants: by the foot it is rooted at, along the tissue where plants touch."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.colour import Mask

Labels = NDArray[np.uint8]

CRUMB_SHARE = 0.1  # of the pot's largest patch


def share_out(mask: Mask, feet: Labels, reach_px: float) -> Labels:
    """A label for every pixel of a mask from the labels at the feet.

    Parameters
    ----------
    mask
        (height, width) tissue.
    feet
        (height, width) uint8: k where tissue is rooted at plant k, else 0.
    reach_px
        A loose patch belongs to the nearest plant if it is no further than this.

    Returns
    -------
    ndarray
        (height, width) uint8.
    """
    labels = np.zeros(mask.shape, np.uint8)
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if len(rows):
        part = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
        labels[part] = _shared_out(mask[part], feet[part], reach_px)
    return labels


def _shared_out(mask: Mask, feet: Labels, reach_px: float) -> Labels:
    """As `share_out`, of the part that holds tissue."""
    count, found, found_stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    patch, stats = np.asarray(found, dtype=np.int32), np.asarray(found_stats, dtype=np.int32)
    roots = np.zeros((count, 256), np.int64)
    rooted = feet > 0
    np.add.at(roots, (patch[rooted], feet[rooted]), 1)
    owners = (roots > 0).sum(axis=1)
    single = np.where(owners == 1, roots.argmax(axis=1), 0).astype(np.uint8)
    single[0] = 0
    single[_crumbs(stats[:, cv2.CC_STAT_AREA], roots, single)] = 0
    labels = np.asarray(single[patch])
    for k in np.flatnonzero(owners > 1):
        if k == 0:
            continue
        x, y, w, h = (int(v) for v in stats[k, :4])
        window = (slice(y, y + h), slice(x, x + w))
        labels[window][patch[window] == k] = flood(patch[window] == k, feet[window])[patch[window] == k]
    return _adopt(labels, patch, stats, owners, reach_px)


def _crumbs(area: NDArray[np.int32], roots: NDArray[np.int64], owner: Labels) -> NDArray[np.bool_]:
    """Small patches that lie on the soil wholly, beside a much larger one of the same pot: crumbs."""
    largest = np.zeros(256, np.int64)
    np.maximum.at(largest, owner, area)
    flat = roots[np.arange(len(area)), owner] >= 0.9 * area
    return np.asarray((owner > 0) & flat & (area < CRUMB_SHARE * largest[owner]))


def flood(mask: Mask, seeds: Labels) -> Labels:
    """Every pixel of a mask gets the label of the seed that is nearest along the mask."""
    labels = np.where(mask, seeds, 0).astype(np.uint8)
    cross, square = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3)), np.ones((3, 3), np.uint8)
    step = 0
    while True:
        grown = cv2.dilate(labels, square if step % 2 else cross)
        fresh = (labels == 0) & mask & (grown > 0)
        if not fresh.any():
            return labels
        labels[fresh] = grown[fresh]
        step += 1


def _adopt(
    labels: Labels, patch: NDArray[np.int32], stats: NDArray[np.int32], owners: NDArray[np.int64], reach_px: float
) -> Labels:
    """Loose patches to the nearest plant in reach, nearest first, so that a chain of crumbs of one leaf holds."""
    loose = [int(k) for k in np.flatnonzero(owners == 0) if k != 0]  # crumbs on the soil stay out
    reach = int(np.ceil(reach_px)) + 1
    for _ in range(4):
        if not loose or not (labels > 0).any():
            break
        before = labels.copy()
        left = []
        for k in loose:
            x, y, w, h = (int(v) for v in stats[k, :4])
            window = (slice(max(0, y - reach), y + h + reach), slice(max(0, x - reach), x + w + reach))
            here = patch[window] == k
            owner = _nearest(before[window], here, reach_px)
            if owner:
                labels[window][here] = owner
            else:
                left.append(k)
        if len(left) == len(loose):
            break
        loose = left
    return labels


def _nearest(labels: Labels, here: Mask, reach_px: float) -> int:
    """The label that is nearest to a patch within reach, 0 if there is none."""
    if not labels.any():
        return 0
    far, index = cv2.distanceTransformWithLabels(
        (labels == 0).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    gaps = np.where(here, far, np.inf)
    at = int(np.argmin(gaps))
    if float(gaps.flat[at]) > reach_px:
        return 0
    return int(labels[labels > 0][np.argmax(index[labels > 0] == index.flat[at])])
