"""Soft shadows that plants cast on labels, the board and other bright surfaces: the same surface with less light."""

from __future__ import annotations

import cv2
import numpy as np

from sproutlapse.vision.colour import Floats, Mask, grey_of, thrice

# Found on rendered trays of several kinds and light; no published values.
LEAST_LIGHT, MOST_LIGHT = 0.28, 0.93  # of the bare surface's: deeper shade is a dark leaf, less is the lamp's flicker
OWN_TINT, LEAF_TINT = 4.0, 9.0  # CIELAB chroma apart from the surface in the same shade; close to a leaf
# A lamp of strong colour leaves tinted shadows on a label: so much tint at all, and the more the deeper they are, in
# full where one colour of the light is three times another. Leaves before labels have 22 and more there.
DEEP_TINT, DEEPER_TINT, FULL_CAST = 6.0, 14.0, 3.0
NARROW_PX = 5  # on a label
WIDE_MM = 3.5  # narrower neutral things may be a stem, or the blurred edge of a dark leaf
AROUND_PX = 4.0  # as far the shade is continued under the outline of what casts it


def cast_shade(
    seen: tuple[Floats, Floats],
    bare: tuple[Floats, Floats],
    bright: Mask,
    labels: Mask,
    *,
    wide_px: float,
    cast: float = 1.0,
) -> Floats | None:
    """Share of the bare surface's red, green and blue light that is left in cast shadows; None where there are none.

    A mixed pixel at the edge of a dark leaf looks like a shadow too, but is never wide; a leaf has a tint of its own.
    A shadow on a label has some of the tint of the leaf that casts it, so that its colours lose unequally.

    Parameters
    ----------
    seen, bare
        (height, width, 3) linear light and CIELAB of the picture and of the bare stage.
    bright
        (height, width) bool: surfaces bright enough to tell a tint.
    labels
        (height, width) bool: labels; a shadow there may be narrower and tinted by the leaf that casts it.
    wide_px
        Narrower neutral things may be a stem: `WIDE_MM` in pixels.
    cast
        The strongest over the weakest colour of the light, as white balance undid it.

    Returns
    -------
    ndarray or None
        (height, width, 3) float32, 1 away from shadows.
    """
    (light, lab), (bare_light, bare_lab) = seen, bare
    grey, bare_grey = grey_of(light), np.maximum(grey_of(bare_light), np.float32(1e-4))
    share = grey / bare_grey
    dimmed = bright & (share > LEAST_LIGHT) & (share < MOST_LIGHT)
    if not dimmed.any():
        return None
    planes, bare_planes = cv2.split(lab), cv2.split(bare_lab)
    scale = (planes[0] + np.float32(16.0)) / (bare_planes[0] + np.float32(16.0))
    tint = np.hypot(*(cv2.blur(planes[k] - scale * bare_planes[k], (3, 3)) for k in (1, 2)))
    wide = _opened(dimmed & (tint < OWN_TINT), max(NARROW_PX, round(wide_px)))
    wide |= _opened(dimmed & labels & (tint < LEAF_TINT), NARROW_PX)
    deeper = DEEPER_TINT * min(1.0, (cast - 1.0) / (FULL_CAST - 1.0))
    deep = dimmed & labels & (tint < DEEP_TINT + deeper * (1.0 - share))
    core = _opened(deep, max(NARROW_PX, round(wide_px))).astype(np.uint8)
    wide |= deep & (cv2.dilate(core, np.ones((NARROW_PX, NARROW_PX), np.uint8)) > 0)
    if not wide.any():
        return None
    weight = wide.astype(np.float32)
    left = thrice(share)
    if labels.any():
        own = cv2.blur(light, (3, 3)) / np.maximum(cv2.blur(bare_light, (3, 3)), np.float32(1e-4))
        left = np.asarray(cv2.copyTo(own, labels.astype(np.uint8), left), dtype=np.float32)
    total = cv2.GaussianBlur(left * thrice(weight), (0, 0), AROUND_PX / 2)
    known = cv2.GaussianBlur(weight, (0, 0), AROUND_PX / 2)
    near = known > 0.02
    around = total / thrice(np.maximum(known, 0.02, dtype=np.float32))
    out = np.ones_like(left)
    # Where the surface beside a shadow is plainly lit, the continued shade ends.
    cv2.copyTo(around, (near & bright & (share < MOST_LIGHT) & ~wide).astype(np.uint8), out)
    cv2.copyTo(left, wide.astype(np.uint8), out)
    return np.minimum(out, np.float32(1.0))


def _opened(mask: Mask, side: int) -> Mask:
    square = np.ones((side, side), np.uint8)
    return np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, square) > 0)
