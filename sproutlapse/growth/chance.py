"""What chance alone would do: exact tests of counts, times of emergence, differences with their interval, and how much
so many seeds can show.

All of it is textbook; `scipy.stats` does the arithmetic wherever it has the test. Blocks are what the compared plants
share (tray, lamp, place): plants are held against others of their own block only.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special, stats

Floats = NDArray[np.float64]
Labels = NDArray[np.intp]
CONFIDENCE = 0.95
# Chances are compared with this much slack, as sums of floating numbers differ in their last digits.
SLACK = 1e-7
# A difference of which the blocks and places leave less than this share is theirs as much as the groups'.
LEFT_TO_TELL = 1e-6


@dataclass(frozen=True)
class Counts:
    """How many came up of how many, on either side of one block."""

    up: int
    of: int
    other_up: int
    other_of: int


@dataclass(frozen=True)
class Effect:
    """A difference, first less second, with its interval of 95 % and how often chance alone goes so far."""

    difference: float
    low: float
    high: float
    chance: float


NO_EFFECT = Effect(math.nan, math.nan, math.nan, math.nan)


def counts_by_chance(blocks: Sequence[Counts]) -> float:
    """How often equal seed differs at least so much in its counts, two-sided, exact.

    For one block this is Fisher's exact test. With several the counts of all are summed under the condition that each
    block keeps its own numbers (the exact form of the test of Mantel & Haenszel 1959), so that a block in which little
    came up at all speaks for neither side.
    """
    chances, seen = np.ones(1), 0
    for b in blocks:
        all_up, all_of = b.up + b.other_up, b.of + b.other_of
        least = max(0, all_up - b.other_of)
        ways = np.arange(least, min(all_up, b.of) + 1)
        chances = np.convolve(chances, stats.hypergeom.pmf(ways, all_of, all_up, b.of))
        seen += b.up - least
    return float(min(chances[chances <= chances[seen] * (1 + SLACK)].sum(), 1.0))


def counts_difference(up: int, of: int, other_up: int, other_of: int) -> tuple[float, float, float]:
    """The difference of two shares and the ends of its interval of 95 %; NaN where nothing was sown.

    Each share's own interval (Wilson's) is set together as in Newcombe 1998, Statistics in Medicine 17, 873-890
    (method 10), which holds its promise also for few seeds.
    """
    if not of or not other_of:
        return math.nan, math.nan, math.nan
    one, other = up / of, other_up / other_of
    a, b = (stats.binomtest(k, n).proportion_ci(CONFIDENCE, "wilson") for k, n in ((up, of), (other_up, other_of)))
    less = one - other
    return (
        less,
        less - math.hypot(one - a.low, b.high - other),
        less + math.hypot(a.high - one, other - b.low),
    )


def so_few_by_chance(up: int, of: int, percent: float) -> float:
    """How often seed that comes up to `percent` % gives so few or fewer; NaN where none was sown (exact binomial)."""
    return float(stats.binomtest(up, of, percent / 100, alternative="less").pvalue) if of else math.nan


def found_by(of: int, share: float, other_of: int, other_share: float, *, limit: float = 0.05) -> float:
    """How often a true difference of two shares is found by Fisher's exact test, summed over all outcomes.

    Parameters
    ----------
    of, other_of
        Seeds of either lot.
    share, other_share
        True shares that come up, 0 to 1.
    limit
        Chance below which a difference is claimed.
    """
    ups, others = np.arange(of + 1), np.arange(other_of + 1)
    chance = np.outer(stats.binom.pmf(ups, of, share), stats.binom.pmf(others, other_of, other_share))
    # Under equal shares, how often of so many that came up in all so many are of the one lot; in logarithms.
    given = _log_ways(of)[:, None] + _log_ways(other_of)[None, :]
    found = 0.0
    for all_up in range(of + other_of + 1):
        ways = np.arange(max(0, all_up - other_of), min(all_up, of) + 1)
        own = np.exp(given[ways, all_up - ways] - given[ways, all_up - ways].max())
        own /= own.sum()
        two_sided = (own[None, :] * (own[None, :] <= own[:, None] * (1 + SLACK))).sum(axis=1)
        told = ways[two_sided <= limit]
        found += float(chance[told, all_up - told].sum())
    return found


def _log_ways(of: int) -> Floats:
    """Logarithm of how many ways there are to choose 0, 1, ... of so many."""
    k = np.arange(of + 1)
    return np.asarray(special.gammaln(of + 1) - special.gammaln(k + 1) - special.gammaln(of - k + 1), np.float64)


def stricter(chances: Sequence[float]) -> list[float]:
    """Chances counted stricter because several were looked at (Holm 1979), in the order given; NaN stays NaN."""
    out = [math.nan] * len(chances)
    known = sorted((p, i) for i, p in enumerate(chances) if not math.isnan(p))
    worst = 0.0
    for rank, (p, i) in enumerate(known):
        worst = max(worst, min(1.0, (len(known) - rank) * p))
        out[i] = worst
    return out


def emergence_scores(days: ArrayLike, up: ArrayLike, block: ArrayLike) -> Floats:
    """How much sooner each came up than its block let expect: 1 for those that came up, less what was to be expected
    by then (Nelson's sum). Their sum over one side is what the log-rank test looks at.

    Parameters
    ----------
    days
        (n,) days until it came up, or until it was last looked at.
    up
        (n,) whether it came up.
    block
        (n,) its block.
    """
    t, came, where = np.asarray(days, np.float64), np.asarray(up, np.bool_), np.asarray(block)
    scores = came.astype(np.float64)
    for one in np.unique(where):
        own = np.flatnonzero(where == one)
        for when in np.unique(t[own][came[own]]):
            there = own[t[own] >= when]
            scores[there] -= (came[there] & (t[there] == when)).sum() / len(there)
    return scores


def times_by_chance(days: ArrayLike, up: ArrayLike, other: ArrayLike, block: ArrayLike) -> float:
    """How often equal seed differs so much in when and whether it came up: the log-rank test within blocks.

    A time is known between two photos only; its middle stands for it. Within a block all are looked at in the same
    photos, so that nothing of their order is lost by that. In one block this is `scipy.stats.logrank`.

    Returns
    -------
    The two-sided chance, NaN where nothing came up or one side is empty.
    """
    t, came, second = np.asarray(days, np.float64), np.asarray(up, np.bool_), np.asarray(other, np.bool_)
    where = np.asarray(block)
    excess, variance = 0.0, 0.0
    for one in np.unique(where):
        own = where == one
        for when in np.unique(t[own & came]):
            there = own & (t >= when)
            n, m, d = there.sum(), (there & second).sum(), (there & came & (t == when)).sum()
            excess += (there & second & came & (t == when)).sum() - d * m / n
            variance += d * (m / n) * (1 - m / n) * (n - d) / (n - 1) if n > 1 else 0.0
    if variance <= 0:
        return math.nan
    return float(2 * stats.norm.sf(abs(excess) / math.sqrt(variance)))


def difference(values: ArrayLike, other: ArrayLike, block: ArrayLike, places: ArrayLike) -> Effect:
    """The mean difference of two groups within blocks, with what place does along a straight line taken out.

    Parameters
    ----------
    values
        (n,) one a pot.
    other
        (n,) true for those of the second group.
    block
        (n,) its block.
    places
        (n, k) where it stands; k may be 0.

    Returns
    -------
    Effect
        By least squares and Student's t, with a scatter of its own for each plant, so that a lot that grows unevenly
        does not borrow the evenness of the other (MacKinnon & White 1985, HC2; freedom by Bell & McCaffrey 2002). Two
        groups alone give about Welch's test, pairs as blocks the paired t test. NaN where blocks and places leave
        nothing to tell the groups apart by, or nothing to tell the scatter from.
    """
    y, second = np.asarray(values, np.float64), np.asarray(other, np.bool_).astype(np.float64)
    own, left = _free_of(second, block, places), _freedom(block, places) - 1
    spread = float(own @ own)
    if left < 1 or spread < LEFT_TO_TELL * max(float(second.sum()), 1.0):
        return NO_EFFECT
    weights = own / spread
    slope = float(weights @ y)
    design = np.column_stack([_design(block, places), own])
    free = np.eye(len(y)) - design @ np.linalg.pinv(design)
    kept = np.diag(free)
    # One alone in its block tells nothing of the scatter, nor of the difference.
    parts = np.where(kept > LEFT_TO_TELL, weights / np.sqrt(np.maximum(kept, LEFT_TO_TELL)), 0.0)[:, None] * free
    sd = float(np.sqrt(((parts @ y) ** 2).sum()))
    crossed = parts @ parts.T
    freedom = float(np.trace(crossed) ** 2 / (crossed**2).sum())
    half = float(stats.t.ppf((1 + CONFIDENCE) / 2, freedom)) * sd
    if sd <= SLACK * max(1.0, abs(slope)):
        chance = 1.0 if abs(slope) <= SLACK else 0.0
    else:
        chance = float(2 * stats.t.sf(abs(slope) / sd, freedom))
    return Effect(-slope, -slope - half, -slope + half, chance)


def without_place(values: ArrayLike, other: ArrayLike, block: ArrayLike, places: ArrayLike) -> Floats:
    """The values with what place does along a straight line taken out, as `difference` takes it out."""
    y, second = np.asarray(values, np.float64), np.asarray(other, np.bool_).astype(np.float64)
    levels, where = _design(block, np.zeros((len(y), 0))), np.asarray(places, np.float64).reshape(len(y), -1)
    design = np.column_stack([levels, second, where])
    told, *_ = np.linalg.lstsq(design, y, rcond=1e-9)
    return np.asarray(y - where @ told[levels.shape[1] + 1 :], np.float64)


def any_difference(values: ArrayLike, group: ArrayLike, block: ArrayLike, places: ArrayLike) -> tuple[float, float]:
    """Whether several groups differ at all, within blocks and with place taken out: F and its chance.

    Parameters as of `difference`; `group` (n,) any labels. NaN where there is nothing to tell it from.
    """
    y, labels = np.asarray(values, np.float64), np.asarray(group)
    kinds = np.unique(labels)
    columns = np.column_stack([_free_of((labels == k).astype(np.float64), block, places) for k in kinds[1:]])
    rest = _free_of(y, block, places)
    fitted, _, rank, _ = np.linalg.lstsq(columns, rest, rcond=1e-9)
    left = _freedom(block, places) - int(rank)
    within = float(((rest - columns @ fitted) ** 2).sum())
    if rank < 1 or left < 1 or within <= 0:
        return math.nan, math.nan
    ratio = (float((rest**2).sum()) - within) / rank / (within / left)
    return ratio, float(stats.f.sf(ratio, rank, left))


def over_trays(differences: Sequence[float]) -> Effect:
    """Trays taken as wholes: the mean of their own differences, from how far these differ (Student's t)."""
    d = np.asarray(differences, np.float64)
    if len(d) < 2:
        return NO_EFFECT
    if _alike(d):  # chance would have to take the same side each time
        nothing = abs(float(d[0])) <= SLACK
        return Effect(float(d.mean()), math.nan, math.nan, 1.0 if nothing else 2 * 0.5 ** len(d))
    told = stats.ttest_1samp(d, 0.0)
    ends = told.confidence_interval(CONFIDENCE)
    return Effect(float(d.mean()), float(ends.low), float(ends.high), float(told.pvalue))


def between_trays(one: Sequence[float], other: Sequence[float]) -> Effect:
    """Trays taken as wholes, each of one group alone: the difference of the trays' means.

    Welch's test as `scipy.stats.ttest_ind` has it, which does not take trays that are all alike.
    """
    sides = [np.asarray(side, np.float64) for side in (one, other)]
    if min(len(side) for side in sides) < 2:
        return NO_EFFECT
    less = float(sides[0].mean() - sides[1].mean())
    parts = [0.0 if _alike(side) else float(side.var(ddof=1)) / len(side) for side in sides]
    if not any(parts):
        return Effect(less, math.nan, math.nan, 1.0 if abs(less) <= SLACK else math.nan)
    sd = math.sqrt(sum(parts))
    freedom = sum(parts) ** 2 / sum(v**2 / (len(side) - 1) for v, side in zip(parts, sides, strict=True))
    half = float(stats.t.ppf((1 + CONFIDENCE) / 2, freedom)) * sd
    return Effect(less, less - half, less + half, float(2 * stats.t.sf(abs(less) / sd, freedom)))


def _alike(values: Floats) -> bool:
    """Whether they differ by no more than the last digits of floating numbers."""
    return bool(np.ptp(values) <= SLACK * max(1.0, float(np.abs(values).max())))


def ahead(place: ArrayLike, other: ArrayLike, block: ArrayLike) -> float:
    """Of all pairs of one block, one of each group: the share in which the second group's stands farther along.

    0 or 1: the groups stand apart; 0.5: mixed. NaN without a pair.
    """
    x, second, where = np.asarray(place, np.float64), np.asarray(other, np.bool_), np.asarray(block)
    wins, pairs = 0.0, 0
    for one in np.unique(where):
        a, b = x[(where == one) & ~second], x[(where == one) & second]
        if len(a) and len(b):
            wins += float((b[:, None] > a).sum() + (b[:, None] == a).sum() / 2)
            pairs += len(a) * len(b)
    return wins / pairs if pairs else math.nan


def _design(block: ArrayLike, places: ArrayLike) -> Floats:
    """A column for each block's level, and the places as far as they differ within blocks."""
    labels = np.asarray(block)
    levels = (labels[:, None] == np.unique(labels)[None, :]).astype(np.float64)
    where = np.asarray(places, np.float64).reshape(len(labels), -1)
    within = where - levels @ (levels.T @ where / levels.sum(axis=0)[:, None])
    told = np.abs(within).max(axis=0, initial=0.0) > SLACK
    return np.column_stack([levels, within[:, told]])


def _free_of(y: Floats, block: ArrayLike, places: ArrayLike) -> Floats:
    """What blocks and places leave of some values."""
    design = _design(block, places)
    return np.asarray(y - design @ np.linalg.lstsq(design, y, rcond=1e-9)[0], np.float64)


def _freedom(block: ArrayLike, places: ArrayLike) -> int:
    design = _design(block, places)
    return len(design) - int(np.linalg.matrix_rank(design, tol=1e-9))
