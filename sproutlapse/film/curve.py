"""The growth curve below the picture: it draws itself in step with the film, on the caption's line of time."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.film.look import GROUND, MARGIN, QUIET, SMALL, TO_COME, Colour, colour_of, stamp, word_mask
from sproutlapse.film.told import Course

Floats = NDArray[np.float64]

# As a share of the film's width.
HIGH = 0.19
# More plants than this are one colour, and the middle one stands out: more colours are not told apart.
MOST_COLOURS = 6
MANY: Colour = (110, 140, 112)
# Steps of the scale, in units.
NICE = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000)


class Curve:
    """The panel, `width` by `height` pixels, of plants' courses over the film's time.

    Parameters
    ----------
    courses
        Each plant's figures.
    hours, progress
        The film's time (hours as in the tables) and where each lies in the film, 0 to 1; both rising.
    unit
        Unit of the values.
    """

    def __init__(
        self, size: tuple[int, int], courses: Sequence[Course], hours: Floats, progress: Floats, unit: str
    ) -> None:
        self._width, self._height = size
        self._unit = unit
        self._letters = max(8, round(0.82 * SMALL * size[0]))
        parts = [(course, *_within(course, hours, progress)) for course in courses]
        self._lines = [part for part in parts if part[1].size]
        top = max((float(values.max()) for _course, _xs, values in self._lines), default=1.0)
        self._top = 1.12 * max(top, 1e-6)
        self._ground = self._drawn_ground()

    def _y(self, value: Floats | float) -> NDArray[np.float64]:
        room = self._height - 0.10 * self._height
        return np.asarray(self._height - 1 - np.asarray(value) / self._top * room, dtype=np.float64)

    def _drawn_ground(self) -> NDArray[np.float32]:
        picture = np.empty((self._height, self._width, 3), np.float32)
        picture[:] = GROUND
        step = next((nice for nice in NICE if self._top / nice <= 3.2), NICE[-1])
        for number in range(1, int(self._top / step) + 1):
            y = int(self._y(number * step))
            picture[y : y + max(1, self._width // 640)] = TO_COME
            word = word_mask(f"{number * step} {self._unit}", self._letters)
            stamp(picture, word, MARGIN * self._width, y - word.shape[0] - 2, QUIET)
        return picture

    def drawn(self, progress: float) -> NDArray[np.uint8]:
        """The panel with the curves up to `progress`, 0 to 1; (height, width, 3) uint8."""
        picture = self._ground.copy()
        thick = max(2, round(0.004 * self._width))
        many = len(self._lines) > MOST_COLOURS
        for course, xs, values in self._lines:
            colour = MANY if many else colour_of(course.number)
            self._line(picture, (xs, values), progress, colour, max(1, thick // 2) if many else thick)
        if many:
            self._line(picture, self._middle(progress), progress, colour_of(0), thick)
        else:
            self._names(picture, progress)
        return np.clip(np.round(picture), 0, 255).astype(np.uint8)

    def _middle(self, progress: float) -> tuple[Floats, Floats]:
        xs = np.linspace(0, max(progress, 1e-3), 120)
        values = [np.interp(xs, own, value, left=0.0) for _c, own, value in self._lines]
        return xs, np.median(np.array(values), axis=0)

    def _line(
        self, picture: NDArray[np.float32], line: tuple[Floats, Floats], progress: float, colour: Colour, thick: int
    ) -> None:
        xs, values = line
        here = xs <= progress
        if not here.any():
            return
        x, y = xs[here], values[here]
        if here.sum() < len(xs):
            x, y = np.append(x, progress), np.append(y, np.interp(progress, xs, values))
        points = np.column_stack([x * (self._width - 1), self._y(y)])
        mask = np.zeros(picture.shape[:2], np.uint8)
        fine = np.round(points * 16).astype(np.int32).reshape(-1, 1, 2)
        cv2.polylines(mask, [fine], False, 255, thick, cv2.LINE_AA, 4)
        stamp(picture, mask, 0, 0, colour)

    def _names(self, picture: NDArray[np.float32], progress: float) -> None:
        """Each plant's name at the tip of its line, pushed apart where tips lie close."""
        tips = []
        for course, xs, values in self._lines:
            if xs[0] <= progress:
                tips.append((float(self._y(float(np.interp(progress, xs, values)))), course))
        tips.sort(key=lambda tip: tip[0])
        last = -1e9
        for y, course in tips:
            word = word_mask(course.plant, self._letters, "-Bold")
            place = max(y - word.shape[0] / 2, last + 1.05 * word.shape[0], 0.0)
            last = min(place, self._height - word.shape[0] - 1.0)
            beyond = progress * self._width + 0.4 * self._letters
            # Letters keep the caption's distance from the edge, which some screens round off.
            x = min(beyond, (1 - MARGIN) * self._width - word.shape[1])
            # At the panel's end the names stand over the lines, on a rim that sets them off.
            rim = self._letters // (10 if x == beyond else 4)
            stamp(picture, word, x, last, colour_of(course.number), halo=max(1, rim))


def _within(course: Course, hours: Floats, progress: Floats) -> tuple[Floats, Floats]:
    """The part of a course that the film shows: places on its line of time, 0 to 1, and values there."""
    inside = (course.hours >= hours[0]) & (course.hours <= hours[-1] + 1e-6)
    xs, values = np.interp(course.hours[inside], hours, progress), course.value[inside]
    if course.hours.size and course.hours[0] < hours[0] <= course.hours[-1]:
        # It was up before the film begins: its line comes in from the left.
        xs, values = np.append(0.0, xs), np.append(np.interp(hours[0], course.hours, course.value), values)
    return xs, values
