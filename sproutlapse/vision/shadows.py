"""Cast shadows on the plain board: where they lie in a photo, and what the board looks like in them.

A leaf ends in a sharp line. A shadow is the same board with less light, whatever the tint of the lamps that are left,
and runs out softly: it can be walked into from the lit board without ever stepping over a sharp line.
"""

from __future__ import annotations

import cv2
import numpy as np

from sproutlapse.vision.colour import Floats, Mask, to_lab

# Own proposals. Shadows of leaves lying on paper, by a window and a lamp, fade out by at most 2 CIELAB units a pixel;
# the outlines of the same leaves step by 3.5 and more along 95 % of their length.
SOFT_LAB_PER_PX = 2.0
SMOOTHING_PX = 1.5  # before the steps are read: noise and the grain of paper are no lines
ON_BOARD = 6.0  # CIELAB distance: plainly lit board
# In a shadow the board keeps this share of its light in each channel at least, and gains none.
LEAST_LIGHT, MOST_LIGHT = 0.12, 1.08
OTHER_LAMP = 26.0  # CIELAB chroma that the light of another lamp may lend to a shadow: daylight kept off, warm room
NECK_PX = 5  # no shadow is walked into through a narrower gap: that is a worn place in an outline
KEEP_OFF_PX = 4.0  # blur of an outline: this near to tissue the board is not read
REACH_SHARE = 1 / 40  # of the picture's width: how far around the board is read to go on behind tissue
COARSE = 8  # pixels a pixel for that
# Weights of what lies so far off, and of the plainly lit board where nothing of it is seen at all.
FAR, NOWHERE = np.float32(1e-3), np.float32(1e-5)


def shaded_board(light: Floats, board: Floats) -> Floats:
    """The board with the shadows that lie on it, continued behind what hides it.

    Parameters
    ----------
    light
        (height, width, 3) linear light of the photo.
    board
        (height, width, 3) linear light of the board alone, see `bare.smooth_board`.

    Returns
    -------
    ndarray
        (height, width, 3) float32: the photo itself in a shadow, `board` where it is plainly lit, and behind what
        hides it the board in the shade seen around.
    """
    height, width = light.shape[:2]
    seen, shadow = board_seen(light, board)
    sure = cv2.erode(seen.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(np.float32)
    share = np.where(shadow[..., None], light / np.maximum(board, 1e-4), np.float32(1.0)) * sure[..., None]
    near, near_weight = (cv2.GaussianBlur(part, (0, 0), KEEP_OFF_PX) for part in (share, sure))
    # Where nothing is near, what is farther counts; a shade changes too little over such lengths to need each pixel.
    small = max(1, width // COARSE), max(1, height // COARSE)
    wide = [
        cv2.GaussianBlur(cv2.resize(part, small, interpolation=cv2.INTER_AREA), (0, 0), small[0] * REACH_SHARE)
        for part in (share, sure)
    ]
    far, far_weight = (cv2.resize(part, (width, height), interpolation=cv2.INTER_LINEAR) for part in wide)
    weight = near_weight + FAR * far_weight + NOWHERE
    behind = board * ((near + FAR * far + NOWHERE) / weight[..., None])
    plain = np.where(shadow[..., None], light, board)
    return np.where(sure[..., None] > 0, plain, behind).astype(np.float32)


def board_seen(light: Floats, board: Floats) -> tuple[Mask, Mask]:
    """Where the board is seen at all, and where it lies in a shadow.

    Parameters
    ----------
    light, board
        See `shaded_board`.

    Returns
    -------
    seen
        (height, width) bool: the board as far as one can walk on it from where it is plainly lit. The last few pixels
        before an outline are not reached.
    shadow
        (height, width) bool: the part of it that differs from the lit board.
    """
    lab, board_lab = to_lab(light), to_lab(board)
    smooth = cv2.GaussianBlur(lab, (0, 0), SMOOTHING_PX)
    steps = [cv2.Sobel(smooth, cv2.CV_32F, dx, 1 - dx, scale=1 / 8) for dx in (1, 0)]
    soft = np.sqrt((steps[0] ** 2 + steps[1] ** 2).sum(axis=-1)) < SOFT_LAB_PER_PX
    share = cv2.GaussianBlur(light, (0, 0), SMOOTHING_PX) / np.maximum(board, 1e-4)
    shade = (smooth[..., :1] + 16.0) / (board_lab[..., :1] + 16.0)
    tint = np.linalg.norm(smooth[..., 1:] - board_lab[..., 1:] * shade, axis=-1)
    dimmed = (share.min(axis=-1) > LEAST_LIGHT) & (share.max(axis=-1) < MOST_LIGHT) & (tint < OTHER_LAMP)
    lit = np.linalg.norm(smooth - board_lab, axis=-1) < ON_BOARD
    way = cv2.erode((soft & (dimmed | lit)).astype(np.uint8), np.ones((NECK_PX, NECK_PX), np.uint8))
    count, label = cv2.connectedComponents(way, connectivity=4)
    from_lit = np.bincount(label[lit & (way > 0)], minlength=count) > 0
    from_lit[0] = False
    seen = cv2.dilate(from_lit[label].astype(np.uint8), np.ones((NECK_PX, NECK_PX), np.uint8)) > 0
    return np.asarray(seen), np.asarray(seen & ~lit)
