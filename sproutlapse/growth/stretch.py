"""Stretching: a plant too tall for its leaf on too long a bare stem, long enough that it is no passing leaf movement.

Two figures are read, height-to-leaf and the bare stem's share of the height, against the band of the plant's habit.
Grass-like, climbing and feathery kinds have no such band and are not judged.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Floats, Track
from sproutlapse.tray import Habit, Judge

Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Band:
    """Where a habit's plants count as stretched.

    Attributes
    ----------
    ratio, stem_share
        Beyond both, a plant is stretched.
    ratio_alone
        Beyond this height-to-leaf it is where the stem was not measured.
    near_ratio
        From here on (with `stem_share`) a plant is near the band: stretching. A leggy plant is leggy until it is below.
    """

    ratio: float
    stem_share: float
    ratio_alone: float
    near_ratio: float


@dataclass(frozen=True)
class Spell:
    """A time of being leggy: first row of the run, row at which it was said, row at which it was over (or None)."""

    since: int
    known: int
    until: int | None


def band(habit: Habit | None, judge: Judge) -> Band | None:
    """The band of a habit, or None for kinds that are not judged."""
    if habit == "broadleaf":
        return Band(judge.leggy_ratio, judge.leggy_stem_share, judge.leggy_ratio_alone, judge.stretching_ratio)
    if habit == "rosette":
        f = judge.rosette_share
        return Band(
            f * judge.leggy_ratio, judge.leggy_stem_share, f * judge.leggy_ratio_alone, f * judge.stretching_ratio
        )
    return None


def judgeable(track: Track, judge: Judge) -> Bools:
    """(n,) Rows in which legginess can be judged: a ratio was measured on a whole plant that is tall enough.

    Without a scale the height is in pixels, and a few of them bear no ratio.
    """
    known = np.isfinite(track.ratio) & (track.ratio > 0) & ~track.cut_off
    with np.errstate(invalid="ignore"):
        return known & (track.height >= (judge.leggy_from_mm if track.in_mm else judge.leggy_from_px))


def beyond(track: Track, limits: Band) -> Bools:
    """(n,) Rows in which a plant is beyond the band: in both figures, or in the stricter ratio without a stem."""
    share = stem_share(track)
    with np.errstate(invalid="ignore"):
        both = (track.ratio >= limits.ratio) & (share >= limits.stem_share)
        return np.where(np.isfinite(share), both, track.ratio >= limits.ratio_alone).astype(np.bool_)


def stem_share(track: Track) -> Floats:
    """(n,) The bare stem's share of the height; NaN where the stem was not seen or there is no scale."""
    share = np.full(len(track.time), np.nan)
    if track.in_mm:
        np.divide(track.stem_mm, track.height, out=share, where=track.height > 0)
    return share


def leggy_spells(track: Track, judge: Judge) -> list[Spell]:
    """The times of being leggy, each held for `leggy_hours` and `leggy_frames`, and over after as long a time back.

    Back is below `near_ratio`, so that a plant at the edge of the band does not go in and out.

    Rows in which nothing can be judged neither make nor break a run. A plant below the height from which on it is
    judged is not leggy there, so a run starts anew.
    """
    limits = band(track.habit, judge)
    if limits is None:
        return []
    judged = judgeable(track, judge)
    into = beyond(track, limits) & judged
    with np.errstate(invalid="ignore"):
        back = ~(judged & (track.ratio >= limits.near_ratio))
    rows = np.flatnonzero(np.isfinite(track.ratio) & np.isfinite(track.height) & ~track.cut_off)
    spells: list[Spell] = []
    leggy, run_from, count = False, 0, 0
    for row in rows:
        if not (back[row] if leggy else into[row]):
            count = 0
            continue
        run_from, count = (int(row), 1) if count == 0 else (run_from, count + 1)
        long_enough = track.elapsed_h[row] - track.elapsed_h[run_from] >= judge.leggy_hours
        if count < judge.leggy_frames or not long_enough:
            continue
        if leggy:
            spells[-1] = Spell(spells[-1].since, spells[-1].known, int(row))
        else:
            spells.append(Spell(run_from, int(row), None))
        leggy, count = not leggy, 0
    # Before the habit is known nothing is said, and what was over by then is past.
    said = track.habit_row
    return [replace(s, known=max(s.known, said)) for s in spells if s.until is None or s.until > said]


def grade(track: Track, spells: list[Spell], judge: Judge) -> str:
    """sturdy, stretching or leggy at the end of the track; empty where it is not judged.

    Stretching is read from the median over the last day that could be judged, so that it does not follow the leaves
    up and down. It is said once a plant could be judged for as long as a leggy one is watched: one that has just
    reached the height from which on it is judged has shown too little, and gets no word of either kind.
    """
    limits = band(track.habit, judge)
    rows = np.flatnonzero(judgeable(track, judge))
    if limits is None or len(rows) == 0:
        return ""
    if spells and spells[-1].until is None:
        return "leggy"
    day = rows[track.elapsed_h[rows] > track.elapsed_h[rows[-1]] - 24]
    ratio = float(np.median(track.ratio[day]))
    shares = stem_share(track)[day]
    share = float(np.median(shares[np.isfinite(shares)])) if np.isfinite(shares).any() else np.nan
    near = ratio >= limits.ratio if np.isnan(share) else ratio >= limits.near_ratio and share >= limits.stem_share
    if not near:
        return "sturdy"
    watched = track.elapsed_h[rows[-1]] - track.elapsed_h[rows[0]]
    return "stretching" if watched >= judge.leggy_hours and len(rows) >= judge.leggy_frames else ""


def leggy_events(track: Track, spells: list[Spell]) -> list[Event]:
    """One `leggy` event a spell, with the numbers of the time since when it holds, which stands beside them."""
    share = stem_share(track)
    found = []
    for spell in spells:
        row = spell.since
        tall = f"{track.height[row]:.0f} mm tall, " if track.in_mm else ""
        stem = f", bare stem {100 * share[row]:.0f} % of the height" if np.isfinite(share[row]) else ""
        detail = f"{tall}height to leaf {track.ratio[row]:.1f}{stem}"
        found.append(Event(track, row, spell.known, "leggy", detail))
    return found
