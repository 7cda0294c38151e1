"""The colour of leaves day by day, as figures that shade and a dimmer lamp leave alone, each with what it may be off.

Lit `k` times as strongly a leaf keeps, in CIELAB, its hue, and a and b go along with L + 16: hue and strength of colour
hardly depend on how a leaf is turned to the lamp.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sproutlapse.growth.middles import known_medians
from sproutlapse.growth.tracks import Floats, Track

DAY_H = 24.0
FEWEST = 3  # photos that make a day; where one a day is taken the last three do
LONGEST_H = 96.0  # no longer may they reach back
EVERY_H = 0.99  # photos nearer together tell nothing more of a colour
AT_ONCE = 64  # days that are looked at together, so that memory does not grow with the season
# What the correction by the board leaves undone in one day's middle, one standard deviation: hue in degrees, strength
# of colour, lightness. On rendered shelves and trays days of leaves that did not change differ by about as much; own
# proposals, no published values.
HUE_SD, STRENGTH_SD, TONE_SD = 1.0, 0.015, 1.5
# Red or blue over green may differ by this share between photos whose colours are compared: cameras that set their
# white anew and lamps that warm up; more is another light, in which leaves show other colours. Own proposal.
OTHER_LIGHT = 0.12


@dataclass(frozen=True)
class LeafDays:
    """Days that end at n rows, of p plants.

    Attributes
    ----------
    rows
        (n,) rows of the tracks at which the days end.
    hours
        (n,) of those rows.
    start
        (n,) the place within `rows` at which a day begins.
    figures
        (3, p, n) hue in degrees (90 yellow, 135 a usual green, 180 bluish green), strength of colour as a share of
        L + 16, and L; NaN where not told.
    doubts
        (3, p, n) their standard deviations.
    light
        (n, 2) logarithm of red and blue over green light of the day; NaN where the light changed within it.
    """

    rows: NDArray[np.intp]
    hours: Floats
    start: NDArray[np.intp]
    figures: Floats
    doubts: Floats
    light: Floats


def leaf_days(tracks: Sequence[Track]) -> LeafDays | None:
    """The days of all plants; None where the table tells no colours, or the plants have not the same photos."""
    if not tracks or any(len(t.leaf) != len(tracks[0].time) or len(t.lit) != len(t.leaf) for t in tracks):
        return None
    rows = _an_hour_apart(tracks[0].elapsed_h)
    hours = tracks[0].elapsed_h[rows]
    values = np.stack([_figures(track.leaf[rows]) for track in tracks], axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        lit = np.log(tracks[0].lit[rows])
    start = _starts(hours)
    middle, doubt = np.full(values.shape, np.nan), np.full(values.shape, np.nan)
    light = np.full((len(rows), 2), np.nan)
    floor = np.array([HUE_SD, STRENGTH_SD, TONE_SD])[:, None, None]
    for ends, photos in _alike(start):
        days = ends[:, None] + np.arange(1 - photos, 1)
        of_day = lit[days]
        even = np.ptp(of_day, axis=1).max(axis=1) <= math.log1p(OTHER_LIGHT)
        light[ends[even]] = np.median(of_day[even], axis=1)
        middle[..., ends], spread, count = _middle(np.take(values, days, axis=-1))
        doubt[..., ends] = np.hypot(floor, spread / np.sqrt(np.maximum(count, 1)))
    return LeafDays(rows, hours, start, middle, doubt, light)


def _an_hour_apart(hours: Floats) -> NDArray[np.intp]:
    kept: list[int] = []
    for row, hour in enumerate(hours):
        if not kept or hour - hours[kept[-1]] >= EVERY_H:
            kept.append(row)
    return np.array(kept, dtype=np.intp)


def _starts(hours: Floats) -> NDArray[np.intp]:
    """Where the day that ends at each row begins; -1 where too few photos lie near enough."""
    day = np.searchsorted(hours, hours - DAY_H, side="right")
    start = np.minimum(day, np.arange(len(hours)) - FEWEST + 1)
    far = hours - hours[np.maximum(start, 0)] > LONGEST_H
    return np.where((start < 0) | far, -1, start).astype(np.intp)


def _alike(start: NDArray[np.intp]) -> Iterator[tuple[NDArray[np.intp], int]]:
    """The places at which days of equally many photos end, and how many photos they have; never too many at once."""
    ends = np.flatnonzero(start >= 0)
    photos = ends - start[ends] + 1
    for number in np.unique(photos):
        own = ends[photos == number]
        for first in range(0, len(own), AT_ONCE):
            yield own[first : first + AT_ONCE].astype(np.intp), int(number)


def _figures(leaf: Floats) -> Floats:
    """(3, n) hue, strength and lightness of (n, 3) CIELAB colours."""
    tone, red, yellow = leaf.T
    with np.errstate(invalid="ignore"):
        return np.stack([np.degrees(np.arctan2(yellow, red)), np.hypot(red, yellow) / (tone + 16.0), tone])


def _middle(day: Floats) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Median, scatter and count of the last axis; NaN where fewer than half of a day's photos tell, or than two."""
    count = np.isfinite(day).sum(axis=-1)
    median = known_medians(day)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # plants that are not up
        spread = math.sqrt(math.pi / 2) * np.nanmean(np.abs(day - median[..., None]), axis=-1)
    told = count >= max(2, math.ceil(day.shape[-1] / 2))
    # A median scatters more than a mean: by the root of half of pi, for errors that are normal.
    return np.where(told, median, np.nan), math.sqrt(math.pi / 2) * np.asarray(spread), count
