"""Soft shadows that plants cast on labels, the board and other bright surfaces: the same surface with less light."""

from __future__ import annotations

import cv2
import numpy as np

from sproutlapse.vision.colour import Floats, Mask

# Found on rendered trays of several kinds and light; no published values.
LEAST_LIGHT, MOST_LIGHT = 0.28, 0.93  # of the bare surface's: deeper shade is a dark leaf, less is the lamp's flicker
OWN_TINT, LEAF_TINT = 4.0, 9.0  # CIELAB chroma apart from the surface in the same shade; close to a leaf
NARROW_PX = 5  # on a label
WIDE_MM = 3.5  # narrower neutral things may be a stem, or the blurred edge of a dark leaf
AROUND_PX = 4.0  # as far the shade is continued under the outline of what casts it


def cast_shade(
    seen: tuple[Floats, Floats], bare: tuple[Floats, Floats], bright: Mask, labels: Mask, *, wide_px: float
) -> Floats | None:
    """Share of the bare surface's light that is left in cast shadows; None where there are none.

    A mixed pixel at the edge of a dark leaf looks like a shadow too, but is never wide; a leaf has a tint of its own.

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

    Returns
    -------
    ndarray or None
        (height, width) float32, 1 away from shadows.
    """
    (light, lab), (bare_light, bare_lab) = seen, bare
    grey, bare_grey = light.mean(axis=-1), np.maximum(bare_light.mean(axis=-1), 1e-4)
    share = grey / bare_grey
    dimmed = bright & (share > LEAST_LIGHT) & (share < MOST_LIGHT)
    if not dimmed.any():
        return None
    scale = ((lab[..., 0] + 16.0) / (bare_lab[..., 0] + 16.0))[..., None]
    apart = cv2.blur(lab[..., 1:] - scale * bare_lab[..., 1:], (3, 3))
    tint = np.hypot(apart[..., 0], apart[..., 1])
    wide = _opened(dimmed & (tint < OWN_TINT), max(NARROW_PX, round(wide_px)))
    wide |= _opened(dimmed & labels & (tint < LEAF_TINT), NARROW_PX)
    if not wide.any():
        return None
    weight = wide.astype(np.float32)
    total = cv2.GaussianBlur(share.astype(np.float32) * weight, (0, 0), AROUND_PX / 2)
    known = cv2.GaussianBlur(weight, (0, 0), AROUND_PX / 2)
    near = known > 0.02
    out = np.where(wide, share, np.where(near & bright, total / np.maximum(known, 0.02), 1.0))
    # Where the surface beside a shadow is plainly lit, the continued shade ends.
    lit = bright & (share >= MOST_LIGHT)
    out[lit & ~wide] = 1.0
    return np.asarray(np.minimum(out, 1.0), dtype=np.float32)


def _opened(mask: Mask, side: int) -> Mask:
    square = np.ones((side, side), np.uint8)
    return np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, square) > 0)
