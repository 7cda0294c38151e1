"""A curve through emergence known only between photos, and how sure a share is.

Each seed came up in (last photo without it, first photo with it], or had not by the last one: the likelihood holds just
that, so that nights, covers and rare photos widen the result and shift nothing. What never comes up has its own share
(McNair, Sunkara & Forbish 2013 in handbook 3.3 on why: least squares on the summed counts would promise too much).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize
from scipy.special import betaincinv, expit, logit, ndtr, ndtri

Floats = NDArray[np.float64]
Kind = Literal["log-normal", "log-logistic"]
# Of the logarithm of time: share up by a standardised time, and back; both symmetric. `scipy.stats` fits censored times
# itself (`CensoredData`), but without a share that never comes up; its fit and its exact interval serve in the tests.
_OF_LOG: dict[Kind, tuple[Any, Any]] = {"log-normal": (ndtr, ndtri), "log-logistic": (expit, logit)}
CONFIDENCE = 0.95
# Fewer that came up bear no curve with two or three figures of its own. Own proposal.
LEAST_UP, LEAST_GAPS = 5, 3
# A share above this is taken for all: the photos then do not tell that any stay away.
ALL_SHARE = 0.9995


@dataclass(frozen=True)
class TimeFit:
    """Days to emergence as a distribution of log time.

    Attributes
    ----------
    median_days, log_sd
        Half of those that ever come up are up by then; spread of the natural logarithm of days (for the log-logistic
        its scale, one over the slope).
    final_share
        Share of those sown that ever come up.
    median_sd_days
        Standard deviation of the median, from the curvature of the likelihood; NaN where that is not defined.
    """

    kind: Kind
    median_days: float
    log_sd: float
    final_share: float
    median_sd_days: float

    def time_to(self, share: float, *, of_sown: bool = False) -> float:
        """Days until a share of those that ever come up is up, or of those sown; NaN if so many never are."""
        share = share / self.final_share if of_sown else share
        if not 0 < share < 1:
            return math.nan
        return float(self.median_days * math.exp(self.log_sd * _OF_LOG[self.kind][1](share)))

    def share_by(self, days: ArrayLike) -> Floats:
        """Share of those sown that is up by some days after sowing; 0 at and before sowing."""
        with np.errstate(divide="ignore"):
            z = (np.log(np.maximum(np.asarray(days, dtype=np.float64), 0)) - math.log(self.median_days)) / self.log_sd
        return np.asarray(self.final_share * _OF_LOG[self.kind][0](z), dtype=np.float64)

    @property
    def mean_days(self) -> float:
        """Mean of those that ever come up; NaN for a log-logistic without one."""
        if self.kind == "log-normal":
            return self.median_days * math.exp(self.log_sd**2 / 2)
        s = math.pi * self.log_sd
        return self.median_days * s / math.sin(s) if self.log_sd < 1 else math.nan


def share_interval(up: int, of: int) -> tuple[float, float]:
    """Lowest and highest share that such seed may have, 95 %, exact (Clopper & Pearson 1934); NaN if none was sown."""
    if of <= 0:
        return math.nan, math.nan
    tail = (1 - CONFIDENCE) / 2
    low = float(betaincinv(up, of - up + 1, tail)) if up > 0 else 0.0
    return low, float(betaincinv(up + 1, of - up, 1 - tail)) if up < of else 1.0


def fit_times(
    after: ArrayLike,
    by: ArrayLike,
    count: ArrayLike | None = None,
    *,
    kind: Kind = "log-normal",
    final_share: float | None = None,
) -> TimeFit | None:
    """Fit days to emergence to intervals by maximum likelihood.

    Parameters
    ----------
    after, by
        (n,) days after sowing, emergence in (after, by]. `after` 0 where nothing bounds it from below, `by` infinite
        for what had not come up by `after`.
    count
        (n,) how many share each interval; one each if not given.
    kind
        Distribution of the logarithm of time: normal or logistic.
    final_share
        Share that ever comes up, where it is known; fitted if not given.

    Returns
    -------
    TimeFit
        None where of fewer than five, or in fewer than three intervals, both ends are known: the spread is then not.
    """
    a, b = np.asarray(after, dtype=np.float64), np.asarray(by, dtype=np.float64)
    n = np.ones(len(a)) if count is None else np.asarray(count, dtype=np.float64)
    told = (n > 0) & (np.isfinite(b) | (a > 0))
    a, b, n = a[told], b[told], n[told]
    up = np.isfinite(b)
    # What was up when first seen may have been for days: it counts in the curve, but bears none.
    bounded = up & (a > 0)
    if n[bounded].sum() < LEAST_UP or len(np.unique(b[bounded])) < LEAST_GAPS:
        return None
    if final_share is None and up.all():
        final_share = 1.0
    middle = np.log(np.where(a[up] > 0, (a[up] + b[up]) / 2, b[up]))
    start = [float(np.average(middle, weights=n[up]))]
    start.append(math.log(max(float(np.sqrt(np.average((middle - start[0]) ** 2, weights=n[up]))), 0.02)))
    if final_share is None:
        share = float(n[up].sum() / n.sum())
        start.append(math.log(share / (1 - share)))
    fixed = final_share

    def loss(p: Floats) -> float:
        return _minus_log_likelihood(p, a, b, n, kind=kind, final_share=fixed)

    best = minimize(loss, start, method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 4000})
    if not best.success:
        return None
    if fixed is None and _share(best.x[2]) > ALL_SHARE:
        return fit_times(a, b, n, kind=kind, final_share=1.0)
    sd = math.exp(best.x[0]) * _sd_of_first(loss, best.x)
    return TimeFit(
        kind, math.exp(best.x[0]), math.exp(best.x[1]), _share(best.x[2]) if fixed is None else fixed, float(sd)
    )


def _share(logit: float) -> float:
    return float(1 / (1 + math.exp(-min(max(logit, -700), 700))))


def _minus_log_likelihood(
    p: Floats, a: Floats, b: Floats, n: Floats, *, kind: Kind, final_share: float | None
) -> float:
    up_by = _OF_LOG[kind][0]
    share = _share(p[2]) if final_share is None else final_share
    with np.errstate(divide="ignore"):
        low, high = ((np.log(days) - p[0]) / math.exp(p[1]) for days in (a, b))
    up = np.isfinite(b)
    # From whichever end is nearer, so that small differences of nearly one do not vanish.
    between = np.where(low > 0, up_by(-low) - up_by(-high), up_by(high) - up_by(low))
    chance = np.where(up, share * between, 1 - share * up_by(low))
    return -float((n * np.log(np.maximum(chance, 1e-300))).sum())


def _sd_of_first(loss: Any, best: Floats) -> float:
    """Standard deviation of the first figure, from the second differences of the likelihood; NaN if they tell none."""
    step, k = 1e-4, len(best)
    steps = step * np.eye(k)
    curved = np.zeros((k, k))
    for i, j in product(range(k), range(k)):
        signs = ((1, 1), (1, -1), (-1, 1), (-1, -1))
        curved[i, j] = sum(s * t * loss(best + s * steps[i] + t * steps[j]) for s, t in signs) / (4 * step**2)
    try:
        variance = float(np.linalg.inv(curved)[0, 0])
    except np.linalg.LinAlgError:
        return math.nan
    return math.sqrt(variance) if variance > 0 and math.isfinite(variance) else math.nan
