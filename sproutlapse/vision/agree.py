"""Several marks in one picture: those that agree are averaged, and of those that do not it is said which and by how
much."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

# Marks set up by hand in one row differ less than this by their depth (a few mm at half a metre). Own proposal.
AGREE_SHARE = 0.015
OTHER_PRINT_SHARE = 0.4  # marks that differ by more were printed at another size on purpose
CLEARLY = 2.0  # a third length decides if one side is so many times farther from it than the other


@dataclass(frozen=True)
class Reading:
    """What one mark says: millimetres per pixel at its depth; `sd_share` of the reading, `depth_sd_share` of its
    place."""

    number: int
    mm_per_px: float
    sd_share: float
    depth_sd_share: float

    @property
    def whole_sd(self) -> float:
        """Both together, as a share."""
        return hypot(self.sd_share, self.depth_sd_share)


@dataclass(frozen=True)
class Agreed:
    """The common scale, its standard deviation as a share, which marks made it, and what is to be said."""

    mm_per_px: float
    sd_share: float
    used: tuple[int, ...]
    notes: tuple[str, ...] = ()


def agreed(readings: Sequence[Reading], side_mm: float, row: tuple[float, float] | None = None) -> Agreed:
    """One scale from several marks.

    The largest group of marks that agree is used. Where groups are equally large, the known length of the row of pots
    decides; where there is none, the first mark is used and its uncertainty takes in the difference.

    Parameters
    ----------
    readings
        At least one, the largest mark in the picture first.
    side_mm
        What the marks' side is taken for.
    row
        Millimetres per pixel from the told length of the row of pots, and its standard deviation as a share.
    """
    alike = [r for r in readings if abs(readings[0].mm_per_px / r.mm_per_px - 1) < OTHER_PRINT_SHARE]
    groups = _groups(alike)
    most = max(len(group) for group in groups)
    best = [group for group in groups if len(group) == most]
    decided = len(best) == 1
    own = best[0]
    if len(best) > 1 and row is not None:
        by_row = sorted(best, key=lambda group: abs(_mean(group)[0] / row[0] - 1))
        off = [abs(_mean(group)[0] / row[0] - 1) for group in by_row[:2]]
        if off[1] > max(CLEARLY * off[0], row[1]):
            own, decided = by_row[0], True
    mean, sd = _mean(own)
    others = [r for r in alike if r not in own]
    if others and not decided:
        sd = hypot(sd, max(abs(r.mm_per_px / mean - 1) for r in others) / 2)
    notes = tuple(_contradiction(r, own, mean, side_mm, decided=decided) for r in others)
    return Agreed(mean, sd, tuple(r.number for r in own), notes)


def row_contradiction(mean: float, sd_share: float, row: tuple[float, float]) -> str | None:
    """A sentence where the told row of pots says another scale than the marks, by more than both may err."""
    off = mean / row[0] - 1
    if abs(off) <= max(AGREE_SHARE, 2 * hypot(sd_share, row[1])):
        return None
    more = f"{100 * abs(off):.1f} % {'more' if off > 0 else 'less'}"
    return (
        f"By the row of pots (row_mm) a pixel is {row[0]:.3f} mm, by the printed mark {mean:.3f} mm, {more}: the mark "
        "is not printed at 100 % or stands at another depth. The mark was used, and lengths are unsure by half of "
        "that. Measure its black square and write it into marker_mm."
    )


def _groups(readings: Sequence[Reading]) -> list[list[Reading]]:
    """Groups of marks that agree with one of them, each group once, that of the largest mark first."""
    out: list[list[Reading]] = []
    for one in readings:
        group = [r for r in readings if abs(r.mm_per_px / one.mm_per_px - 1) <= AGREE_SHARE]
        if group not in out:
            out.append(group)
    return out


def _mean(group: Sequence[Reading]) -> tuple[float, float]:
    """Weighted mean, and its standard deviation as a share."""
    weights = np.array([1 / r.whole_sd**2 for r in group])
    values = np.array([r.mm_per_px for r in group])
    return float(weights @ values / weights.sum()), sqrt(1 / float(weights.sum()))


def _contradiction(one: Reading, own: Sequence[Reading], mean: float, side_mm: float, *, decided: bool) -> str:
    off = mean / one.mm_per_px - 1
    several = len(own) > 1
    names = ("marks " + ", ".join(str(r.number) for r in own[:-1]) + " and " if several else "mark ") + str(
        own[-1].number
    )
    end = "" if decided else " Nothing in view tells which is right, so every length is less sure by half of that."
    return (
        f"Mark {one.number} looks {abs(off):.1%} {'larger' if off > 0 else 'smaller'} than {names}: one stands at "
        f"another depth or is not printed at 100 %. {names[0].upper()}{names[1:]} {'were' if several else 'was'} used, "
        f"taken as {side_mm:g} mm.{end}"
    )
