"""Pots that may have changed places, and trays that may stand the other way round: two plants change at once, each to
what the other was. Which is which then cannot be known without marks on the pots, so it is asked and never assumed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from sproutlapse.growth.tracks import Floats, Track
from sproutlapse.growth.turned import OTHER_SOIL

# All own proposals, tried on rendered shelves; no published values.
CONFIRM = 2  # photos that must show it
APART_LOG = 0.20  # of the heights of both: more alike, and nobody can tell
# What the other was: a plant grows meanwhile, and is seen from another side.
FITS_HEIGHT_LOG, FITS_CANOPY_LOG = 0.15, 0.6
WITH_SOIL_LOG = 0.30  # of the heights, where other soil is seen in both places too
BETTER = 0.4  # of the misfit to itself is the misfit to the other at most
TALL_MM, TALL_PX = 10.0, 25.0
FAR_MM, FAR_PX = 20.0, 50.0  # a pot that goes further than this was not put back beside its place
GAP_H = 30.0  # over a longer break between photos nothing is told


@dataclass(frozen=True)
class Pair:
    """Two plants, by their number among the tracks, that may have changed places before row `row`; `ends` where all did
    as in a tray turned end for end."""

    one: int
    other: int
    row: int
    known_row: int
    ends: bool


def pairs_that_changed(tracks: Sequence[Track]) -> list[Pair]:
    """Pairs of pots that may have changed places, in the order of time.

    Parameters
    ----------
    tracks
        All plants of a tray, side view, rows of the same photos.
    """
    side = [k for k, track in enumerate(tracks) if np.isfinite(track.height).any()]
    if len(side) < 2:
        return []
    height = np.stack([np.where(tracks[k].height > 0, tracks[k].height, np.nan) for k in side])
    canopy = np.stack([np.where(tracks[k].canopy > 0, tracks[k].canopy, np.nan) for k in side])
    hours = tracks[side[0]].elapsed_h
    least = TALL_MM if tracks[side[0]].in_mm else TALL_PX
    # A name that follows its mark stands where its pot stands: a pot so moved did not change its name.
    place = np.stack([_place(tracks[k]) for k in side])
    soil = np.stack([_other_soil(tracks[k]) for k in side])
    out: list[Pair] = []
    jumps = _jumps(hours, height)
    for row in (np.flatnonzero(jumps.sum(axis=0) >= 2)).tolist():
        if row > height.shape[1] - CONFIRM or hours[row] - hours[row - 1] > GAP_H:
            continue
        if any(row - one.row < CONFIRM for one in out) or not tracks[side[0]].one_view(row - 2, row + CONFIRM - 1):
            continue
        pairs = [
            (i, j)
            for i, j in combinations(np.flatnonzero(jumps[:, row]).tolist(), 2)
            if not place[[i, j], row].any()
            and _crossed(hours, height[[i, j]], canopy[[i, j]], row, least=least, soil=bool(soil[[i, j], row].all()))
        ]
        # Of several that fit only those that name each plant once tell anything.
        clear = [pair for pair in pairs if all(not set(pair) & set(other) for other in pairs if other != pair)]
        ends = len(clear) >= 2 and all(i + j == len(side) - 1 for i, j in clear)
        out += [Pair(side[i], side[j], row, row + CONFIRM - 1, ends) for i, j in clear]
    return out


def _jumps(hours: Floats, height: Floats) -> np.typing.NDArray[np.bool_]:
    """(plants, photos) whether a plant's height lies so far from where it would have grown that it can be one of two
    that changed places: what `_crossed` asks for, of one plant and the first photo alone."""
    with np.errstate(invalid="ignore", divide="ignore"):
        log = np.log(height)
        spans = np.diff(hours)
        grown = np.clip(np.diff(log, axis=1), 0, FITS_HEIGHT_LOG)[:, :-1]
        times = np.minimum(spans[1:] / np.maximum(spans[:-1], 1e-6), CONFIRM)
        off = np.abs(log[:, 2:] - log[:, 1:-1] - grown * times)
    # Both moved by the distance between them, less the misfit that is allowed.
    out = np.zeros(height.shape, np.bool_)
    out[:, 2:] = off >= APART_LOG / (1 + BETTER)
    return out


def _place(track: Track) -> np.typing.NDArray[np.bool_]:
    """Photos before which the pot was moved far or taken out."""
    if len(track.pot) != len(track.time):
        return np.zeros(len(track.time), np.bool_)
    step = np.hypot(*np.diff(track.pot, axis=0).T)
    return np.concatenate([[False], ~(step < (FAR_MM if track.in_mm else FAR_PX))])


def _other_soil(track: Track) -> np.typing.NDArray[np.bool_]:
    """Photos from which on other soil is seen in a plant's place."""
    if len(track.soil_same) != len(track.time):
        return np.zeros(len(track.time), np.bool_)
    other = track.soil_same < OTHER_SOIL
    return np.concatenate([[False], other[1:] & (track.soil_same[:-1] >= OTHER_SOIL)])


def _crossed(hours: Floats, height: Floats, canopy: Floats, row: int, *, least: float, soil: bool) -> bool:
    """Whether the two plants are each what the other was, from a row on; with other `soil` in both places the heights
    are enough."""
    span = slice(row, row + CONFIRM)
    if not np.isfinite(height[:, row - 2 : row + CONFIRM]).all() or height[:, row - 1].min() < least:
        return False
    if not np.isfinite(canopy[:, row - 1 : row + CONFIRM]).all():
        return False
    fits = WITH_SOIL_LOG if soil else FITS_HEIGHT_LOG
    # Each goes on growing as it did, wherever it stands now.
    grown = np.clip(np.log(height[:, row - 1] / height[:, row - 2]), 0, FITS_HEIGHT_LOG)
    spans = (hours[span] - hours[row - 1]) / max(float(hours[row - 1] - hours[row - 2]), 1e-6)
    was = np.log(height[:, row - 1])[:, None] + grown[:, None] * np.minimum(spans, CONFIRM)
    now = np.log(height[:, span])
    leaf_was, leaf_now = np.log(canopy[:, row - 1]), np.log(np.median(canopy[:, span], axis=1))
    if float(np.abs(was[0] - was[1]).min()) < APART_LOG:
        return False
    to_self = np.abs(now - was).min()
    to_other = np.abs(now - was[::-1]).max()
    leaf = float(np.abs(leaf_now - leaf_was[::-1]).max())
    leaf_self = float(np.abs(leaf_now - leaf_was).max())
    return bool(
        to_other <= fits
        and to_other <= BETTER * to_self
        and (soil or (leaf <= FITS_CANOPY_LOG and leaf <= max(leaf_self, FITS_CANOPY_LOG / 2)))
    )
