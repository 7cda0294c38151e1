"""A photo with what was found in it drawn on and rulers along its edges, for a person to correct tray.toml by."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.tray import Plant, Tray

Rgb = NDArray[np.uint8]
Colour = tuple[int, int, int]

# Told apart by the colour-blind too: Okabe and Ito, Color Universal Design, 2008.
BOX: Colour = (0, 114, 178)
SOIL: Colour = (230, 159, 0)
PAPER: Colour = (255, 255, 255)
INK: Colour = (0, 0, 0)


def draw_rulers(picture: Rgb, tray: Tray) -> Rgb:
    """Draw boxes, soil lines, names and pixel rulers.

    Parameters
    ----------
    picture
        (H, W, 3) RGB photo that the tray's pixels refer to; it is left as it is.
    tray
        What was found or written.

    Returns
    -------
    ndarray
        RGB picture, larger by a white margin that carries the rulers; numbers on them are the photo's own pixels.
    """
    height, width = picture.shape[:2]
    unit = max(1.0, max(height, width) / 1280)
    margin = round(46 * unit)
    sheet = np.full((height + 2 * margin, width + 2 * margin, 3), 255, np.uint8)
    sheet[margin : margin + height, margin : margin + width] = picture
    for plant in tray.plants:
        _draw_plant(sheet, plant, margin, unit)
    _draw_ruler(sheet, width, margin, unit)
    # The upright ruler is the level one of the mirrored sheet, except for its numbers.
    upright = np.ascontiguousarray(sheet.transpose(1, 0, 2))
    _draw_ticks(upright, height, margin, unit)
    sheet = np.ascontiguousarray(upright.transpose(1, 0, 2))
    for y in range(0, height, _step(height)):
        _write(sheet, str(y), (round(2 * unit), margin + y + round(4 * unit)), 0.36 * unit, INK)
        _write(sheet, str(y), (margin + width + round(12 * unit), margin + y + round(4 * unit)), 0.36 * unit, INK)
    return sheet


def _step(length: int) -> int:
    """Distance of numbered ticks: the first of 50, 100, 200, 500 ... that gives no more than 26."""
    steps = (50, 100, 200, 500, 1000, 2000, 5000)
    return next((s for s in steps if length / s <= 26), 10_000)


def _draw_plant(sheet: Rgb, plant: Plant, margin: int, unit: float) -> None:
    left, top, right, bottom = (round(v) + margin for v in plant.box_px)
    cv2.rectangle(sheet, (left, top), (right, bottom), BOX, max(1, round(1.5 * unit)))
    _write(sheet, plant.name, (left + round(5 * unit), top + round(18 * unit)), 0.5 * unit, BOX)
    if plant.soil_y_px is not None:
        y = round(plant.soil_y_px) + margin
        cv2.line(sheet, (left, y), (right, y), SOIL, max(1, round(1.5 * unit)))
        _write(sheet, f"{plant.soil_y_px:g}", (left + round(5 * unit), y - round(5 * unit)), 0.42 * unit, INK)


def _draw_ruler(sheet: Rgb, length: int, margin: int, unit: float) -> None:
    _draw_ticks(sheet, length, margin, unit)
    for x in range(0, length, _step(length)):
        for y in (margin - round(14 * unit), sheet.shape[0] - margin + round(24 * unit)):
            _write(sheet, str(x), (margin + x - round(8 * unit), y), 0.36 * unit, INK)


def _draw_ticks(sheet: Rgb, length: int, margin: int, unit: float) -> None:
    step = _step(length)
    far = sheet.shape[0] - margin
    for x in range(0, length, step // 5):
        long = round((9 if x % step == 0 else 4) * unit)
        cv2.line(sheet, (margin + x, margin - long), (margin + x, margin - 1), INK, 1)
        cv2.line(sheet, (margin + x, far), (margin + x, far + long), INK, 1)


def _write(sheet: Rgb, text: str, at: tuple[int, int], size: float, colour: Colour) -> None:
    thick = max(1, round(1.2 * size))
    cv2.putText(sheet, text, at, cv2.FONT_HERSHEY_SIMPLEX, size, PAPER, 2 + thick, cv2.LINE_AA)
    cv2.putText(sheet, text, at, cv2.FONT_HERSHEY_SIMPLEX, size, colour, thick, cv2.LINE_AA)
