"""Radial distortion of a lens: straight lines that the picture shows bowed, and points put where they belong.

Pictures are never resampled for it; only places, lengths and areas go through it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

NEWTON_STEPS = 12


@dataclass(frozen=True)
class Lens:
    """One coefficient about the picture's centre: a point at radius r of the straight picture is seen at
    r (1 + bend r^2), with r in half diagonals of the picture. Negative: a barrel, as of wide lenses.

    This is the camera model of OpenCV with k1 alone; k1 = bend (focal length / half diagonal)^2.

    Attributes
    ----------
    size
        (width, height) of the picture in pixels.
    bend
        0 where none was measured.
    sd
        Standard deviation of `bend`, or what is usual where it could not be measured.
    """

    size: tuple[int, int]
    bend: float = 0.0
    sd: float = 0.0

    @property
    def centre(self) -> Points:
        """(2,) x and y of the picture's centre."""
        return (np.array(self.size, float) - 1) / 2

    @property
    def unit_px(self) -> float:
        """Half the diagonal, in pixels."""
        return hypot(*self.size) / 2

    def straight(self, points: Points) -> Points:
        """(n, 2) points of the picture where a lens without distortion would show them."""
        if self.bend == 0.0:
            return points
        seen = (points - self.centre) / self.unit_px
        true = seen * self._shrink(np.hypot(seen[:, 0], seen[:, 1]))[:, None]
        return np.asarray(true * self.unit_px + self.centre, dtype=np.float64)

    def bowed(self, points: Points) -> Points:
        """(n, 2) points of the straight picture where this lens shows them; undoes `straight`."""
        there = (points - self.centre) / self.unit_px
        seen = there * (1 + self.bend * (there**2).sum(axis=1))[:, None]
        return np.asarray(seen * self.unit_px + self.centre, dtype=np.float64)

    def area(self, points: Points) -> NDArray[np.float64]:
        """(n,) how many pixels of the straight picture one pixel at each of (n, 2) points stands for."""
        if self.bend == 0.0:
            return np.ones(len(points))
        seen = (points - self.centre) / self.unit_px
        radius = np.hypot(seen[:, 0], seen[:, 1])
        true = radius * self._shrink(radius)
        return np.asarray(1 / ((1 + self.bend * true**2) * (1 + 3 * self.bend * true**2)), dtype=np.float64)

    def upright(self, points: Points) -> NDArray[np.float64]:
        """(n,) what one unit of `bend` changes of a short upright length at each of (n, 2) points, as a share."""
        seen = (points - self.centre) / self.unit_px
        return np.asarray((seen**2).sum(axis=1) + 2 * seen[:, 1] ** 2, dtype=np.float64)

    def _shrink(self, radius: NDArray[np.float64]) -> NDArray[np.float64]:
        """True radius over the radius seen: r (1 + bend r^2) = seen, by Newton's steps."""
        true = radius.copy()
        for _ in range(NEWTON_STEPS):
            power = self.bend * true**2
            step = (true * (1 + power) - radius) / np.maximum(1 + 3 * power, 0.1)
            true -= step
            if float(np.abs(step).max(initial=0.0)) < 1e-14:  # the last digits of a number
                break
        return np.where(radius > 1e-9, true / np.maximum(radius, 1e-9), 1.0)
