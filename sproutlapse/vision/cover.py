"""Covers: which pots or cells of a photo are hidden by a hood or film with fog and glare on it.

Fog mixes the light of what lies behind it with its own white and blurs it, so that the soil, dark and crumbly in any
photo, turns light and smooth there, while the rest of the picture stays as it is.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision import align
from sproutlapse.vision.colour import Bytes, Floats, grey_of, to_light

# The darkest tenth of the soil in shares of white, and the mean of its fine differences over its brightness (square
# roots of light). Bare soil of ten rendered shelves and trays, dry and wet, overgrown or not, in pots of black, white
# and brown: at most 0.078, and at least 0.037. Under a veil of a third to a half of fog: 0.23 to 0.43, and 0.004 to
# 0.014. Own proposals, no published values.
VEILED_LIGHT, VEILED_SMOOTH = 0.12, 0.03
# Beside a cover that was told so, thin fog is enough.
THIN_LIGHT, THIN_SMOOTH = 0.085, 0.045
NO_SOIL_LIGHT = 0.6  # lighter, it is the board or floor where a pot was taken away
# The sharpest edges about the rim, seen from the side, in square roots of light a pixel: pots of any colour have such
# edges, with or without soil in view (0.135 and more on the same trays); fog leaves at most 0.046. Own proposal.
SHARP, SHARP_PERCENTILE, ABOUT_RIM = 0.08, 99.5, 0.25
CLEAR_LIGHT, CLEAR_SHARE = 0.09, 0.0005  # so dark a share of the picture: no fog on the lens itself
FINE_PX = 2.0  # finer differences are crumbs; of a picture that shows a pot or cell 200 pixels wide
DARKEST = 10.0  # percentile
WHITE = 90.0  # percentile of the picture


def covered_plants(picture: Bytes, tray: Tray, matrix: align.Matrix | None = None) -> tuple[bool, ...]:
    """Which plants a cover hides, in tray order.

    Parameters
    ----------
    picture
        (height, width, 3) 8-bit sRGB.
    tray
        The complete tray.
    matrix
        Takes the photo's pixels to those of the tray; None if the camera stood still.
    """
    shares = [_soil_share(picture, box, white) for box, white in _strips(picture, tray, matrix)]
    darkest = [None if one is None else float(np.percentile(one[0], DARKEST)) for one in shares]
    if not any(light is not None and VEILED_LIGHT < light < NO_SOIL_LIGHT for light in darkest):
        return (False,) * len(shares)  # nearly every photo
    looks = [
        None if one is None or light is None else (light, _roughness(*one))
        for one, light in zip(shares, darkest, strict=True)
    ]
    if not any(_hidden(look, VEILED_LIGHT, VEILED_SMOOTH) for look in looks):
        return (False,) * len(looks)
    clear = [_sharp_rim(picture, plant, tray, matrix) for plant in tray.plants]
    sure = [_hidden(look, VEILED_LIGHT, VEILED_SMOOTH) and not sharp for look, sharp in zip(looks, clear, strict=True)]
    if not any(sure):
        return tuple(sure)
    thin = [_hidden(look, THIN_LIGHT, THIN_SMOOTH) and not sharp for look, sharp in zip(looks, clear, strict=True)]
    return tuple(a or b for a, b in zip(sure, thin, strict=True))


def something_clear(picture: Bytes) -> bool:
    """Whether some part of the picture is as dark as no fog on the lens would leave it."""
    light = to_light(np.ascontiguousarray(picture[::2, ::2]))
    share = light.mean(axis=-1) / max(float(np.percentile(light.mean(axis=-1), WHITE)), 1e-4)
    return bool(np.count_nonzero(share < CLEAR_LIGHT) >= CLEAR_SHARE * share.size)


def soil_strip(plant: Plant, *, above: bool) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of where a plant's soil is seen, in the tray's pixels.

    From the side a low strip about the soil line, without the pot's corners; from above the inside of the cell.
    """
    left, top, right, bottom = plant.box_px
    wide = right - left
    if above or plant.soil_y_px is None:
        edge = 0.12 * wide
        return left + edge, top + edge, right - edge, bottom - edge
    return left + wide / 6, plant.soil_y_px - 0.04 * wide, right - wide / 6, plant.soil_y_px + 0.06 * wide


def in_photo(
    box: tuple[float, float, float, float], matrix: align.Matrix | None, shape: Sequence[int]
) -> tuple[slice, slice]:
    """Rows and columns of a photo in which a box of the tray's pixels lies, cut off at the picture's edge."""
    corners = np.array([[box[0], box[1]], [box[2], box[1]], [box[0], box[3]], [box[2], box[3]]], float)
    if matrix is not None:
        corners = align.move(align.inverse(matrix), corners)
    (left, top), (right, bottom) = np.floor(corners.min(axis=0)), np.ceil(corners.max(axis=0))
    rows = slice(int(np.clip(top, 0, shape[0])), int(np.clip(bottom + 1, 0, shape[0])))
    return rows, slice(int(np.clip(left, 0, shape[1])), int(np.clip(right + 1, 0, shape[1])))


def _strips(picture: Bytes, tray: Tray, matrix: align.Matrix | None) -> list[tuple[tuple[slice, slice, float], Floats]]:
    above = tray.view.from_ == "above"
    sample = to_light(np.ascontiguousarray(picture[::4, ::4])).reshape(-1, 3)
    white = np.maximum(np.percentile(sample, WHITE, axis=0), 1e-3).astype(np.float32)
    out = []
    for plant in tray.plants:
        rows, columns = in_photo(soil_strip(plant, above=above), matrix, picture.shape)
        out.append(((rows, columns, (plant.box_px[2] - plant.box_px[0]) / 200), white))
    return out


def _sharp_rim(picture: Bytes, plant: Plant, tray: Tray, matrix: align.Matrix | None) -> bool:
    """Whether the pot's rim is seen sharply, from the side: then nothing hides it, however light and smooth it is."""
    if tray.view.from_ == "above" or plant.soil_y_px is None:
        return False
    left, _, right, _ = plant.box_px
    wide = right - left
    about = left + wide / 6, plant.soil_y_px - ABOUT_RIM * wide, right - wide / 6, plant.soil_y_px + 0.06 * wide
    rows, columns = in_photo(about, matrix, picture.shape)
    part = picture[rows, columns]
    if min(part.shape[:2]) < 3:
        return False
    root = np.sqrt(to_light(np.ascontiguousarray(part)).mean(axis=-1))
    steps = np.hypot(cv2.Sobel(root, cv2.CV_32F, 1, 0), cv2.Sobel(root, cv2.CV_32F, 0, 1)) / 8
    return bool(np.percentile(steps, SHARP_PERCENTILE) > SHARP)


def _soil_share(picture: Bytes, where: tuple[slice, slice, float], white: Floats) -> tuple[Floats, float] | None:
    """The light of a plant's soil in shares of white, and the size that it is seen at; None where it lies out of
    view."""
    rows, columns, size = where
    part = picture[rows, columns]
    if min(part.shape[:2]) < 3:
        return None
    return grey_of(to_light(np.ascontiguousarray(part)) / white), size


def _roughness(share: Floats, size: float) -> float:
    """How rough soil looks, see `VEILED_SMOOTH`."""
    root = np.sqrt(share)
    fine = np.abs(root - cv2.GaussianBlur(root, (0, 0), FINE_PX * max(size, 0.5)))
    return float(fine.mean() / max(float(root.mean()), 1e-3))


def _hidden(look: tuple[float, float] | None, light: float, smooth: float) -> bool:
    return look is not None and light < look[0] < NO_SOIL_LIGHT and look[1] < smooth
