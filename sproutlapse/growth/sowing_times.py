"""How fast and how evenly a sowing came up: the published figures of emergence, and what the gaps between photos leave
open.

No estimate without a model stands beside the curve, since the counts are that already: with all places in every photo
no two gaps overlap, and then Turnbull's estimate (1976) is the stairs of the chart, with the bounds of the first and
the middle one. Where gaps overlap, as after pots were taken out, its middle lies within those bounds too (tests hold
both).

Every figure is in days after sowing. Where it is not known since when something was up, nothing is made up: the figures
that need the time stay empty, and only the fitted curve, which can use "by then", still counts it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri, stdtrit

from sproutlapse.growth.emergence import (
    maguire_rate,
    mean_emergence_time,
    spread_10_90,
    synchrony,
    t50,
    time_to,
    time_variance,
    uncertainty_bits,
)
from sproutlapse.growth.sown_units import Pair, sown_h, units_sown, units_up
from sproutlapse.growth.time_fit import TimeFit, fit_times, share_interval
from sproutlapse.growth.tracks import Floats
from sproutlapse.tray import Judge, Sowing

FIGURES = (
    "share_low", "share_high", "first_after_days", "first_by_days", "median_after_days", "median_by_days",
    "t50_coolbear_days", "t50_farooq_days", "half_of_sown_days", "mean_days", "speed_per_day", "t10_t90_days",
    "synchrony", "uncertainty_bits", "fit_median_days", "fit_median_sd_days", "fit_log_sd", "fit_final_share",
    "times_of",
)  # fmt: skip
LATER_FIGURES = ("time_sd_days",)  # columns that came later, at the very end of the table

# Days without a new sprout, over the days from a tenth to nine tenths up, from which on a curve has flattened; and how
# much wider the band must be, since a lull is now and then taken for the end. Own proposals: of 360 sowings made up by
# chance (12 to 50 seeds, 70 to 100 % come up, half by day 6) the band holds the true median in 96 % of all days told,
# in 96 % on the first day on which it is told, in 95 % on day 9 and in 84 % on days 7 and 8, where only those are told
# that are all up by then.
FLAT_SPREADS = 0.75
LULL = 1.25


@dataclass(frozen=True)
class Times:
    """When each unit of a sowing came up, in days after sowing.

    Attributes
    ----------
    after, by
        (n,) emergence lies in (after, by]. `after` 0 where no photo bounds it from below; `by` infinite for a unit that
        had not come up when its place was last seen, at `after`.
    dated
        Whether it is known of each unit that came up between which two photos it did.
    looked
        Days of all photos since the sowing, in order: when somebody would have counted.
    """

    after: Floats
    by: Floats
    dated: bool
    looked: Floats


def times_of(pairs: list[Pair], sowing: Sowing, judge: Judge) -> Times | None:
    """The intervals of a sowing's units; None without a date of sowing, or one that lies after the first sprout."""
    after, by, dated = [], [], True
    looked: Floats = np.zeros(0)
    for track, first in pairs:
        sown = sown_h(track, sowing)
        if sown is None:
            return None
        days = (track.elapsed_h - sown) / 24
        looked = np.union1d(looked, days[days > 0])
        units = units_up(track, first, sowing, judge)
        after += [0.0 if u.after_row is None else max(float(days[u.after_row]), 0.0) for u in units]
        by += [float(days[u.by_row]) for u in units]
        dated = dated and all(u.after_row is not None for u in units)
        missing = units_sown([(track, first)], sowing) - len(units)
        seen = np.flatnonzero(np.isfinite(track.canopy))
        after += [max(float(days[seen[-1]]), 0.0) if len(seen) else 0.0] * missing
        by += [math.inf] * missing
    if any(d <= 0 for d in by):
        return None
    return Times(np.asarray(after, dtype=np.float64), np.asarray(by, dtype=np.float64), dated, looked)


def fitted(times: Times | None) -> TimeFit | None:
    """The log-normal curve through a sowing's intervals, None where they do not bear one or more are still coming.

    While sprouts still come, how many ever will and when half of them are up cannot be told apart, and the median comes
    out too soon: the curve is left out until all are up, or nothing new was seen for `FLAT_SPREADS` of its own spread.
    """
    if times is None:
        return None
    fit = fit_times(times.after, times.by)
    waited = times.after[~np.isfinite(times.by)]
    if fit is None or not len(waited):
        return fit
    # Where its place was last seen may differ from pot to pot (one was taken out): the middle one tells.
    quiet = float(np.median(waited)) - float(times.by[np.isfinite(times.by)].max())
    return fit if quiet >= FLAT_SPREADS * (fit.time_to(0.9) - fit.time_to(0.1)) else None


def sowing_figures(pairs: list[Pair], sowing: Sowing, judge: Judge) -> dict[str, object]:
    """The further columns of a sowing's row, NaN where a figure is not defined or not known.

    T50, T10 and T90 count at every photo, as the published forms do, and go straight between two of them. Mean and
    speed take the middle of each unit's interval, so that a long gap between photos makes nothing late. Z and U count
    once a day, since with a photo an hour nothing would ever come up together. `times_of` says whose times these are:
    of each seed, or of each pot, which with several seeds in it is the first of them and no single seed's.
    `fit_median_sd_days` is half of the give or take that holds the median 19 times out of 20: the standard deviation
    from the likelihood, wider by Student's factor where few came up.
    """
    up = sum(len(units_up(track, first, sowing, judge)) for track, first in pairs)
    out: dict[str, object] = dict.fromkeys((*FIGURES, *LATER_FIGURES), math.nan)
    out["share_low"], out["share_high"] = share_interval(up, units_sown(pairs, sowing))
    out["times_of"] = "seed" if sowing.seeds_per_cell is not None else "pot"
    times = times_of(pairs, sowing, judge)
    if times is None or up == 0:
        return out
    out.update(_bounds(times))
    if times.dated:
        out.update(_published(times))
    fit = fitted(times)
    if fit is not None:
        out["fit_median_days"], out["fit_median_sd_days"] = fit.median_days, fit.median_sd_days * LULL * _few(up)
        out["fit_log_sd"], out["fit_final_share"] = fit.log_sd, fit.final_share
    return out


def _few(up: int) -> float:
    """How much wider twice the standard deviation must be where so few tell their own spread (Student's t)."""
    return math.sqrt(up / (up - 1)) * float(stdtrit(up - 1, 0.975) / ndtri(0.975))


def _bounds(times: Times) -> dict[str, float]:
    """Between which days the first came up, and the middle one of those that did: sorted bounds hold sorted times."""
    up = np.isfinite(times.by)
    after, by = np.sort(times.after[up]), np.sort(times.by[up])
    middle = (len(by) - 1) // 2
    return {
        "first_after_days": float(after[0]),
        "first_by_days": float(by[0]),
        "median_after_days": float(after[middle]),
        "median_by_days": float(by[middle]),
    }


def _published(times: Times) -> dict[str, float]:
    up = np.isfinite(times.by)
    after, by = times.after[up], times.by[up]
    new = np.bincount(np.searchsorted(times.looked, by), minlength=len(times.looked))
    days, per_day = np.unique(np.ceil(by), return_counts=True)
    middle, one = (after + by) / 2, np.ones(len(by))
    start = float(after.min())
    return {
        "t50_coolbear_days": t50(times.looked, new, start=start),
        "t50_farooq_days": t50(times.looked, new, form="farooq", start=start),
        "half_of_sown_days": time_to(len(times.by) / 2, times.looked, new, start=start),
        "mean_days": mean_emergence_time(middle, one),
        "time_sd_days": math.sqrt(time_variance(middle, one)) if len(by) > 1 else math.nan,
        "speed_per_day": maguire_rate(middle, one),
        "t10_t90_days": spread_10_90(times.looked, new, start=start) if len(by) > 1 else math.nan,
        "synchrony": synchrony(days, per_day),
        "uncertainty_bits": uncertainty_bits(days, per_day),
    }
