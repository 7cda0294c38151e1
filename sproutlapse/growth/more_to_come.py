"""How likely it is that more of a sowing come up, when some are up and the rest stay away.

Each seed has the same chance to come up at all, and those that do take times that are log-logistic about one middle,
but for a few stragglers; share, middle and spread are unknown. Beforehand every share is as likely as another, the
middle lies about the table's days (`usual`, if a table knows them) and the spread about a quarter of it; what the
photos saw then weighs all combinations. This assumes seeds of one kind that go on being kept as they were. It does not
hold for seed that waits (for cold, or that sprouts in flushes), nor after a cold week. Own model; tried on made-up
sowings by `scripts/partial_sowings.py` and on published counts in the tests.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.special import expit

from sproutlapse.growth.tracks import Floats

# More are called unlikely from this chance down. Own proposal: one in twenty is wrong then, if the model holds.
UNLIKELY = 0.05
# The middle beforehand: so many times the table's days (tables are fast for some crops: onion has 5 days in one print
# and 7 to 8 in another), give or take as a standard deviation of the logarithm. Own proposals.
LATER_THAN_TABLE, TABLE_LOG_SD = 1.2, 0.4
# The spread of log days beforehand: middle, and standard deviation of its own logarithm. Twelve published dishes (table
# `germination` of the R package drc) have 0.12 to 0.39. Own proposal.
LOG_SD, LOG_SD_LOG_SD = 0.25, 0.6
# A few come late by so many times, and unevenly. Of those dishes, each of 20 seeds, two had a single one that came days
# after all others. Own proposals.
STRAGGLERS, STRAGGLE_TIMES, STRAGGLE_LOG_SCALE = 0.03, 2.0, 0.2
# The grids: spreads, middles in spreads from the mean of those up, shares by Gauss and Legendre.
_SPREADS = np.geomspace(0.03, 1.2, 13)
_SCALES = _SPREADS * math.sqrt(3) / math.pi  # of a logistic with such a standard deviation
_STEPS = np.linspace(-8.0, 8.0, 97)
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(32)
_SHARES, _SHARE_WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2


def chance_of_more(after: Floats, by: Floats, *, usual: tuple[float, float] | None = None) -> float:
    """Chance that at least one more comes up.

    Parameters
    ----------
    after, by
        (n,) days after sowing: each unit came up in (after, by]; `by` infinite for one that was not up at `after`.
    usual
        Fewest and most days that are usual for the crop; None where nothing is known.

    Returns
    -------
    0 to 1; 0 where all are up and 1 where none is, since then nothing tells this seed from dead seed.
    """
    up = np.isfinite(by)
    missing = int((~up).sum())
    if missing == 0:
        return 0.0
    if missing == len(by):
        return 1.0
    low, high = np.maximum(after[up], 0.0), by[up]
    centre = float(np.mean(np.log(np.where(low > 0, (low + high) / 2, high))))
    middle = centre + _SPREADS[:, None] * _STEPS
    weight = _log_prior(middle, usual) + _log_times(low, high, middle)
    days, count = np.unique(after[~up], return_counts=True)
    not_yet = np.zeros((*middle.shape, len(_SHARES)))
    for day, n in zip(days, count, strict=True):
        not_yet += n * np.log1p(-_SHARES * _up_by(float(day), middle)[..., None])
    whole = weight[..., None] + int(up.sum()) * np.log(_SHARES) + np.log(_SHARE_WEIGHTS)
    top = float((whole + not_yet).max())
    none_more = float(np.exp(whole + missing * np.log1p(-_SHARES) - top).sum())
    return float(min(max(1.0 - none_more / float(np.exp(whole + not_yet - top).sum()), 0.0), 1.0))


def _up_by(day: float, middle: Floats) -> Floats:
    """Share of those that ever come up that is up by a day, for each combination of spread and middle."""
    if day <= 0:
        return np.zeros_like(middle)
    z = (math.log(day) - middle) / _SCALES[:, None]
    late = (math.log(day / STRAGGLE_TIMES) - middle) / np.hypot(_SCALES, STRAGGLE_LOG_SCALE)[:, None]
    return np.asarray((1 - STRAGGLERS) * expit(z) + STRAGGLERS * expit(late), dtype=np.float64)


def _log_prior(middle: Floats, usual: tuple[float, float] | None) -> Floats:
    # Steps of the middle are wider for wider spreads, so each point stands for so much more.
    spread = np.log(_SPREADS[:, None])
    out = spread - 0.5 * ((spread - math.log(LOG_SD)) / LOG_SD_LOG_SD) ** 2
    if usual is None:
        return np.asarray(np.broadcast_to(out, middle.shape), dtype=np.float64)
    fewest, most = (math.log(days) for days in usual)
    sd = math.hypot(TABLE_LOG_SD, (most - fewest) / 2)
    return np.asarray(out - 0.5 * ((middle - (fewest + most) / 2 - math.log(LATER_THAN_TABLE)) / sd) ** 2)


def _log_times(low: Floats, high: Floats, middle: Floats) -> Floats:
    """Logarithm of the chance of the times of those up, for each combination of spread and middle."""
    out = np.zeros_like(middle)
    pairs, count = np.unique(np.column_stack([low, high]), axis=0, return_counts=True)
    for (a, b), n in zip(pairs, count, strict=True):
        out += n * np.log(np.maximum(_up_by(float(b), middle) - _up_by(float(a), middle), 1e-12))
    return out


def chance_words(chance: float) -> str:
    """`about 3 in 100`, never none and never more than the number bears."""
    hundred = round(100 * chance)
    return "less than 1 in 100" if hundred < 1 else f"about {hundred} in 100"
