"""How sure a growth, or the difference of two plants or of two trays, is: shared errors counted where they are shared.

Photos' own errors and a plant's soil line are new for each plant. The scale is one error for a whole tray: it stretches
both of two plants alike, so that of their difference only its share is left, while two trays have a scale each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, hypot, sqrt

from sproutlapse.figures import GIVE_OR_TAKE


@dataclass(frozen=True)
class Figure:
    """A length or a growth of one plant, with the standard deviation of all that is its own: the scale is not in it."""

    value: float
    own_sd: float


@dataclass(frozen=True)
class Interval:
    """A figure with its whole standard deviation; `low` to `high` holds about 95 %."""

    value: float
    sd: float

    @property
    def low(self) -> float:
        """The lower end."""
        return self.value - GIVE_OR_TAKE * self.sd

    @property
    def high(self) -> float:
        """The upper end."""
        return self.value + GIVE_OR_TAKE * self.sd


def own_part(value: float, sd: float, scale_sd: float) -> Figure:
    """A figure whose standard deviation holds the scale, as the table gives it, with that part taken out again.

    Parameters
    ----------
    value, sd
        In one unit, mm or mm a day.
    scale_sd
        Standard deviation of the tray's scale as a share.
    """
    return Figure(value, sqrt(max(sd**2 - (scale_sd * value) ** 2, 0.0)))


def of_plant(figure: Figure, scale_sd: float) -> Interval:
    """The interval of one plant's figure.

    Parameters
    ----------
    figure
        Of the plant.
    scale_sd
        Standard deviation of the tray's scale as a share.
    """
    return Interval(figure.value, hypot(figure.own_sd, scale_sd * figure.value))


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
