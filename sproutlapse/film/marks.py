"""What is drawn over the picture when asked for: a millimetre scale beside each plant, outlines as they come up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.figures import rounded
from sproutlapse.film import look
from sproutlapse.film.look import SMALL, STRONG, colour_of, font, stamp, word_mask
from sproutlapse.film.told import Course, Told, at, mm_per_px, unit_of
from sproutlapse.tray import Plant

Floats = NDArray[np.float64]
Even = NDArray[np.float32]

# Of a plant's place, from its left: where its scale stands.
SCALE_AT = 0.10
# A step on the scale, mm, and each how many steps a longer one.
STEP_MM, LONG = 10.0, 5
# Steps nearer than this share of the film's width are left out, but for the long ones.
NEAR = 0.006
# From above, the names of more cells than this would lie over the plants.
MOST_NAMES = 8


@dataclass(frozen=True)
class Scale:
    """One plant's scale: its course, where it stands on the reference, mm per pixel, and room to both sides, pixels."""

    course: Course
    x: float
    soil_y: float
    mm_per_px: float
    room: float


def scales(told: Told, courses: Sequence[Course]) -> list[Scale]:
    """The scale of each plant that has a soil line and was measured in mm; none where heights are in pixels."""
    if unit_of(told) != "mm":
        return []
    made = []
    for plant, course in zip(told.tray.plants, courses, strict=True):
        mm = mm_per_px(told, plant.name)
        if plant.soil_y_px is not None and mm is not None:
            left, right = plant.box_px[0], plant.box_px[2]
            made.append(Scale(course, left + SCALE_AT * (right - left), plant.soil_y_px, mm, right - left))
    return made


def draw_scales(picture: Even, all_scales: Sequence[Scale], view: Floats, hours: float, film_width: int) -> None:
    """Draw each plant's scale up to its height now, with the figure on top; changes the picture.

    Parameters
    ----------
    picture
        (h, w, 3) float32.
    view
        (2, 3) from the reference's pixels to the picture's.
    hours
        Time, as in the tables.
    film_width
        Width of the whole film, which letters and lines go by.
    """
    for scale in all_scales:
        tall = at(scale.course.hours, scale.course.value, hours)
        if np.isfinite(tall):
            _scale(picture, scale, view, tall, film_width)


def _scale(picture: Even, scale: Scale, view: Floats, tall: float, film_width: int) -> None:
    zoom = float(np.hypot(view[0, 0], view[1, 0]))
    x, foot = view @ [scale.x, scale.soil_y, 1.0]
    px_per_mm = zoom / scale.mm_per_px
    line = max(2, round(0.0032 * film_width))
    short, top = round(0.010 * film_width), foot - tall * px_per_mm
    height = max(1, round(foot - top))
    wide = 2 * short + 2
    mask = np.zeros((height + line, wide), np.uint8)
    mask[:, :line] = 255
    step = STEP_MM if STEP_MM * px_per_mm >= NEAR * film_width else STEP_MM * LONG
    for number in range(int(tall / step) + 1):
        y = round(height - number * step * px_per_mm)
        reach = wide - 2 if (number * step) % (STEP_MM * LONG) == 0 else short
        mask[max(0, y) : max(0, y) + max(1, line // 2 + 1), :reach] = 255
    mask[:line, : wide - 2] = 255
    colour = colour_of(scale.course.number)
    stamp(picture, mask, x, top, colour, halo=max(1, line // 2))
    _figure(picture, tall, (x, top), scale.room * zoom, film_width)


def _figure(picture: Even, tall: float, place: tuple[float, float], room: float, film_width: int) -> None:
    letters = max(9, round(SMALL * film_width))
    words = [f"{rounded(tall, 0)} mm"]
    if font(letters, "-Bold").getlength(words[0]) > 0.98 * room:
        words = [rounded(tall, 0), "mm"]
    bottom = place[1] - 0.25 * letters
    for word in reversed(words):
        mask = word_mask(word, letters if word != "mm" else round(0.8 * letters), "-Bold")
        # Never beyond the picture: a plant at its edge keeps its figure.
        x = min(max(place[0] - 0.1 * letters, 2.0), picture.shape[1] - mask.shape[1] - 2.0)
        y = max(bottom - mask.shape[0], 2.0)
        stamp(picture, mask, x, y, STRONG, halo=max(2, letters // 8))
        bottom = y - 0.15 * letters


def draw_outlines(picture: Even, drawn: NDArray[np.uint8] | None, plants: Sequence[Plant], film_width: int) -> None:
    """Draw a line around each plant of a label picture, in the plant's colour; changes the picture."""
    if drawn is None:
        return
    thick = max(1, round(0.0022 * film_width))
    for number in range(len(plants)):
        mine = (drawn == number + 1).astype(np.uint8)
        if not mine.any():
            continue
        left, top, width, height = cv2.boundingRect(mine)
        rim = 4 * thick + 3
        part = cv2.copyMakeBorder(
            mine[top : top + height, left : left + width], rim, rim, rim, rim, cv2.BORDER_CONSTANT
        )
        # Around and not upon the plant, so that a thin stem is still seen.
        wider = cv2.dilate((255 * part).astype(np.uint8), np.ones((2 * thick + 1, 2 * thick + 1), np.uint8))
        soft = cv2.GaussianBlur(wider, (0, 0), max(1.2, thick / 1.5))
        paths, _tree = cv2.findContours((soft > 110).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        mask = np.zeros_like(part)
        cv2.polylines(mask, [path for path in paths if len(path) > 8], True, 255, thick, cv2.LINE_AA)
        stamp(picture, mask, left - rim, top - rim, colour_of(number), halo=max(1, thick // 2))


def draw_names(picture: Even, told: Told, view: Floats, film_width: int, only: str | None = None) -> None:
    """Write each plant's name below its soil line, or in the corner of its place from above; changes the picture."""
    letters = max(9, round(SMALL * film_width))
    if told.from_above and len(told.tray.plants) > MOST_NAMES:
        return
    for number, plant in enumerate(told.tray.plants):
        if only is not None and plant.name != only:
            continue
        left, top, right, _bottom = plant.box_px
        mask = word_mask(plant.name, letters, "-Bold")
        if plant.soil_y_px is not None:
            x, y = view @ [(left + right) / 2, plant.soil_y_px, 1.0]
            x, y = x - mask.shape[1] / 2, y + 0.9 * letters
        else:
            x, y = view @ [left, top, 1.0]
            x, y = x + 0.4 * letters, y + 0.4 * letters
        if 0 <= x < picture.shape[1] - mask.shape[1] and 0 <= y < picture.shape[0] - mask.shape[0]:
            stamp(picture, mask, x, y, look.colour_of(number), halo=max(2, letters // 8))
