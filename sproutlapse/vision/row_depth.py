"""How far each pot of a row stands from the camera, where the row is seen at an angle: told by the pots themselves,
whose rims look narrower and nearer together the further away they are, against a view straight at the row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

# How sure a pot's place in the row and the width of its rim are, as shares of the spacing and of the width. Own
# proposals, from rendered rows with pots up to 4 mm before and behind it; no published values.
PLACE_SD, WIDTH_SD = 0.012, 0.008
LEAST_SHARE = 0.004  # a row whose ends differ by less is seen straight on


@dataclass(frozen=True)
class Row:
    """A row of pots as one view shows it, from left to right.

    Attributes
    ----------
    middles, widths
        (n,) middle and width of each rim; in mm in the view that looks straight at the row, in pixels in another.
    mark
        Where the printed mark stands, in the same unit.
    """

    middles: NDArray[np.float64]
    widths: NDArray[np.float64]
    mark: float


@dataclass(frozen=True)
class Depths:
    """How much further away than the printed mark each pot stands, as a factor, and the standard deviation of that."""

    factors: tuple[float, ...]
    sd_share: float = 0.0


def row_of(rims: Sequence[tuple[float, float]], mark: float, mm_per_px: Sequence[float]) -> Row:
    """The row of a view from the rims' ends and the mark's place in pixels.

    Parameters
    ----------
    rims
        Left and right end of each.
    mark
        Middle of the mark.
    mm_per_px
        One a pot; 1 to stay in pixels.
    """
    ends, mm = np.asarray(rims, np.float64), np.asarray(mm_per_px, np.float64)
    return Row(ends.mean(axis=1) * mm, (ends[:, 1] - ends[:, 0]) * mm, mark * float(np.mean(mm)))


def depths(straight: Row, now: Row) -> Depths:
    """The pots' depths in another view.

    Parameters
    ----------
    straight
        The row in mm, looked at straight.
    now
        The same pots in pixels.

    Notes
    -----
    A straight row at an angle before a pinhole camera is seen by u = (a x + b) / (1 + g x), at a depth that grows as
    1 + g x, and a rim's width shrinks by the same. Both are fitted at once by least squares.
    """
    if len(straight.middles) < 2 or len(straight.middles) != len(now.middles):
        return Depths((1.0,) * len(straight.middles))
    zero = float(straight.middles.mean())
    x = straight.middles - zero
    spacing = float(np.median(np.diff(np.sort(now.middles))))
    narrower = np.log(now.widths / straight.widths)

    def misses(values: NDArray[np.float64]) -> NDArray[np.float64]:
        a, b, g, c = values
        far = np.maximum(1 + g * x, 0.05)
        place = (now.middles - (a * x + b) / far) / (PLACE_SD * spacing)
        return np.concatenate([place, (narrower - c + np.log(far)) / WIDTH_SD])

    a, b = np.polyfit(x, now.middles, 1)
    scales = [abs(a), 100.0, 1e-4, 1.0]
    fit = least_squares(misses, [a, b, 0.0, float(narrower.mean())], x_scale=scales)
    g, mark = float(fit.x[2]), straight.mark - zero
    normal = fit.jac.T @ fit.jac
    sd_g = float(np.sqrt(np.linalg.pinv(normal)[2, 2]))
    factors = (1 + g * x) / (1 + g * mark)
    if float(np.ptp(factors)) < LEAST_SHARE:
        return Depths((1.0,) * len(x))
    away = float(np.sqrt(np.mean((x - mark) ** 2)))
    return Depths(tuple(float(f) for f in factors), sd_g * away)
