"""How sure a length or a growth is: shared errors counted where they are shared.

Photos' own errors and a plant's soil line are new for each plant. The scale is one error for a whole tray, so it counts
for one plant and not among the plants of a tray.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt

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
