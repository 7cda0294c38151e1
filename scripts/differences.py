"""The interval of the difference of two plants, or of two trays: held against planted errors by `planted.py`.

The scale stretches both of two plants of a tray alike, so that of their difference only its share is left, while two
trays have a scale each.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, hypot, sqrt

from sproutlapse.growth.intervals import Figure, Interval


def of_two_plants(one: Figure, other: Figure, scale_sd: float) -> Interval:
    """The interval of `one` less `other`, two plants of one tray.

    Parameters
    ----------
    one, other
        Of different plants.
    scale_sd
        Standard deviation of their tray's scale as a share.
    """
    less = one.value - other.value
    return Interval(less, hypot(one.own_sd, other.own_sd, scale_sd * less))


def of_two_trays(one: Sequence[Figure], other: Sequence[Figure], scale_sds: tuple[float, float]) -> Interval:
    """The interval of the mean over one tray's plants less that over another's.

    It says how well these plants were measured, not how far others of their kind would differ.

    Parameters
    ----------
    one, other
        At least one plant each.
    scale_sds
        Standard deviations of the two trays' scales as shares.
    """
    sides = [_mean(figures) for figures in (one, other)]
    scaled = [scale * side.value for side, scale in zip(sides, scale_sds, strict=True)]
    return Interval(sides[0].value - sides[1].value, hypot(*(side.own_sd for side in sides), *scaled))


def _mean(figures: Sequence[Figure]) -> Figure:
    """The mean of plants whose own errors have nothing to do with each other."""
    count = len(figures)
    return Figure(fsum(f.value for f in figures) / count, sqrt(fsum(f.own_sd**2 for f in figures)) / count)
