"""Logistic and Gompertz curves through one plant's heights or canopies, with their uncertainty: for export alone.

No verdict stands on them: a seedling of two weeks has seldom shown the upper part of its curve, and what the three
sigmoids make of it differs. The forms and their growth rates are those of the handbook, chapter 5.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from scipy.optimize import OptimizeWarning, curve_fit

from sproutlapse.growth.curves import MOST_ROWS
from sproutlapse.growth.tracks import Floats, Track

Form = Literal["logistic", "gompertz"]

BETTER_BY = 6.0  # of Akaike's criterion, than a straight line (2 would pay for the parameter); own proposal
INSIDE = 0.8  # of the record's length, for the inflexion; own proposal
# Of 1,400 made-up records 544 showed a curve, found in 192 tries at most; who tries on finds curves that are none.
MOST_TRIES = 2_000
LEAST_ROWS = 8  # for three parameters: fewer are no curve
CURVE_COLUMNS = [
    "plant", "of", "form", "photos", "final", "final_sd", "rate_per_day", "rate_sd_per_day", "middle_days",
    "middle_sd_days", "scatter",
]  # fmt: skip


def logistic(t: Floats, a: float, b: float, k: float) -> Floats:
    """a / (1 + exp(b - k t)): final size a, rate k per unit of time, inflexion at b / k."""
    return np.asarray(a / (1.0 + np.exp(np.clip(b - k * t, -500, 500))))


def gompertz(t: Floats, a: float, b: float, k: float) -> Floats:
    """a exp(-exp(b - k t)): final size a, rate k per unit of time, inflexion at b / k."""
    return np.asarray(a * np.exp(-np.exp(np.clip(b - k * t, -500, 500))))


@dataclass(frozen=True)
class Fit:
    """A curve through n points.

    Attributes
    ----------
    parameters, covariance
        In the order of the curve's arguments; the covariance is scaled by the scatter about the curve.
    residual_sum, residual_sd
        Sum of the squared residuals, and its root over the degrees of freedom, n less the parameters.
    """

    parameters: Floats
    covariance: Floats
    residual_sum: float
    residual_sd: float
    points: int

    @property
    def sd(self) -> Floats:
        """Standard deviation of each parameter."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))


def fitted(curve: Callable[..., Floats], t: Floats, y: Floats, start: Floats, most_tries: int = 20_000) -> Fit | None:
    """Least squares of a curve through points (t, y) from a start; None where it finds no curve in so many tries.

    Raises
    ------
    ValueError
        If there are no more points than parameters.
    """
    if len(t) <= len(start):
        raise ValueError(f"a curve of {len(start)} parameters needs more points than {len(t)}")
    try:
        with np.errstate(all="ignore"), warnings.catch_warnings():
            warnings.simplefilter("ignore", OptimizeWarning)  # a covariance that is not finite is looked at below
            found, covariance = curve_fit(curve, t, y, p0=start, method="lm", maxfev=most_tries, ftol=1e-14, xtol=1e-14)
            rest = float(((y - curve(t, *found)) ** 2).sum())
    except RuntimeError:
        return None
    if not np.isfinite(covariance).all():
        return None
    return Fit(found, covariance, rest, float(np.sqrt(rest / (len(t) - len(start)))), len(t))


def grown(track: Track, values: Floats, form: Form, *, first: int = 0) -> tuple[Fit, float] | None:
    """The curve through a plant's heights or canopies, and the hour from which its days count.

    None with fewer than 8 values on a whole plant, or where the values show no such curve: one whose end lies beyond
    three times the largest value, whose bend lies outside the record, that is hardly better
    than a straight line, or that is not certain by half, is no finding.

    Parameters
    ----------
    values
        (n,) heights or canopies of the track's rows.
    first
        Row from which on growth may be read (`curves.last_break`).
    """
    rows = np.flatnonzero(np.isfinite(values) & (values > 0) & ~track.cut_off)
    rows = rows[rows >= first]
    if len(rows) < LEAST_ROWS:
        return None
    if len(rows) > MOST_ROWS:
        rows = rows[np.linspace(0, len(rows) - 1, MOST_ROWS).round().astype(np.intp)]
    hour = float(track.elapsed_h[rows[0]])
    days, y = (track.elapsed_h[rows] - hour) / 24, values[rows]
    if np.ptp(days) <= 0:
        return None
    top, middle = float(y.max()), float(days[np.argmax(y >= y.max() / 2)])
    rate = 4.0 / float(np.ptp(days))
    curve = logistic if form == "logistic" else gompertz
    fit = fitted(curve, days, y, np.array([1.1 * top, rate * middle, rate]), MOST_TRIES)
    if fit is None or not (0 < fit.parameters[0] <= 3 * top and fit.parameters[2] > 0):
        return None
    # A straight line has no bend: the inflexion must lie within the record, for the curve to be one.
    if not 0 < fit.parameters[1] / fit.parameters[2] < INSIDE * float(days[-1]):
        return None
    straight = y - np.polyval(np.polyfit(days, y, 1), days)
    bent = fit.residual_sd**2 * (fit.points - 3)
    # Akaike's criterion: one parameter more than a line must pay for itself.
    if fit.points * np.log(max(float((straight**2).sum()), 1e-12) / max(float(bent), 1e-12)) < BETTER_BY:
        return None
    return (fit, hour) if fit.sd[0] <= fit.parameters[0] / 2 else None


def curves_table(found: list[tuple[Track, int, int]]) -> pd.DataFrame:
    """The curves of all plants that show one: a row per plant, figure (height or canopy) and form.

    `final` is the curve's end in mm or mm2 (in pixels without a scale), `rate_per_day` its rate, `middle_days` the days
    from the first value to the inflexion, `scatter` the standard deviation about the curve; `_sd` are their own.

    Parameters
    ----------
    found
        Each track with the row from which on its growth may be read, and that from which on the same side is seen.
    """
    rows: list[tuple[object, ...]] = []
    forms: tuple[Form, ...] = ("logistic", "gompertz")
    for track, first, same_side in found:
        for of, values, since in (("height", track.height, first), ("canopy", track.canopy, max(first, same_side))):
            for form in forms:
                got = grown(track, values, form, first=since)
                if got is None:
                    continue
                fit = got[0]
                (a, b, k), sd = fit.parameters, fit.sd
                # Inflexion b / k, by the first order of both errors and what they share.
                slope = np.array([0.0, 1 / k, -b / k**2])
                middle_sd = float(np.sqrt(max(slope @ fit.covariance @ slope, 0.0)))
                rows.append(
                    (track.plant, of, form, fit.points, a, sd[0], k, sd[2], b / k, middle_sd, fit.residual_sd)
                )  # fmt: skip
    return pd.DataFrame(rows, columns=CURVE_COLUMNS)
