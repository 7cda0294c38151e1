"""A bare stem that lengthens again after it had come to rest: too little light, seen before the plant is leggy.

The stem below the seed leaves lengthens once, in the days after emergence, and then stays as it is while a sturdy plant
grows on above it. Leaves do not move it, nor does the way the plant faces.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sproutlapse.growth.events import Event
from sproutlapse.growth.stretch import Spell, band, stem_share
from sproutlapse.growth.tracks import Floats, Track
from sproutlapse.tray import Judge

BEFORE_H = 24.0
REST_SHARE = 0.3  # of the height
REST_FROM = 0.5  # of the height from which on legginess is judged
REST_ROWS = 3  # photos in which a stem must have been at rest
STEP_SHARE = 0.8  # of what it gained: more in one step is no lengthening


@dataclass(frozen=True)
class Lengthening:
    """A bare stem that lengthens: row since when, row at which it was said, row at which it stood still (or None).

    `from_mm` is the stem at rest, `to_mm` the one when it was said.
    """

    since: int
    known: int
    until: int | None
    from_mm: float
    to_mm: float


def lengthenings(track: Track, judge: Judge, kind: str = "") -> list[Lengthening]:
    """The times in which a bare stem lengthened again.

    A stem is at rest when it gained less than `stem_rest_mm` in a day. It lengthens again when it has been longer than
    at rest by `stem_gain_mm` and `stem_gain_share` in `leggy_frames` photos in a row, not at once (a seed leaf that
    withers makes it longer from one photo to the next), on a plant with much stem for its height and leaf; and it
    stands still when a day brings less than `stem_rest_mm`. Each is judged from photos up to it.
    """
    limits = band(track.habit, judge)
    if limits is None or kind or not track.in_mm:
        return []
    rows = np.flatnonzero(np.isfinite(track.stem_mm) & (track.stem_mm > 0) & np.isfinite(track.ratio) & ~track.cut_off)
    # The first tells nothing of the day before it; so many at rest and a longer one after it can decide.
    if len(rows) < REST_ROWS + 2:
        return []
    hours, stem = track.elapsed_h[rows], steadied(track.stem_mm[rows])
    share, ratio = stem_share(track)[rows], track.ratio[rows]
    # The stem a day before each row, from photos as far back: the nearest at least so long ago.
    ago = np.searchsorted(hours, hours - BEFORE_H, side="right") - 1
    gain = np.where(ago >= 0, stem - stem[np.maximum(ago, 0)], np.inf)
    # A stem misread at its foot is no stem at rest, nor is a sprout that waits under its hook.
    still = (gain < judge.stem_rest_mm) & (stem >= REST_SHARE * track.height[rows])
    still &= track.height[rows] >= REST_FROM * judge.leggy_from_mm
    firm = (still & (gain < judge.stem_rest_mm / 2)).tolist()
    still = still.tolist()
    much = (share >= judge.stem_gain_from_share) & (ratio >= judge.stem_gain_from_ratio)
    much &= track.height[rows] >= judge.leggy_from_mm
    found: list[Lengthening] = []
    rests: list[float] = []
    run, open_, firm_since = 0, False, np.inf
    for i, now in enumerate(stem.tolist()):
        if open_:
            if still[i]:
                found[-1] = replace(found[-1], until=int(rows[i]))
                open_, rests, run = False, [now], 0
            continue
        # At rest for a day at another length, as after a seed leaf has withered: that is its stem from now on.
        firm_since = min(firm_since, hours[i]) if firm[i] else np.inf
        if hours[i] - firm_since >= BEFORE_H and rests and now > rests[len(rests) // 4] + judge.stem_rest_mm:
            rests = [now]
        rest = rests[len(rests) // 4] if rests else now  # not the median: that would creep along with a slow gain
        if still[i] and now <= rest + judge.stem_rest_mm:
            insort(rests, now)
            run = 0
            continue
        least = max(judge.stem_gain_mm, judge.stem_gain_share * rest)
        run = run + 1 if len(rests) >= REST_ROWS and now >= rest + least and much[i] else 0
        if run < max(1, judge.leggy_frames - 2):  # a steadied stem stands on three photos itself
            continue
        # Photos in which the stem was misread as much shorter than at rest say nothing of how it came by its gain.
        told = np.flatnonzero(stem[: i + 1] >= rest - judge.stem_gain_mm)
        low = np.flatnonzero(stem[told] <= rest + (1 - STEP_SHARE) * least)
        since = int(told[low[-1]]) if len(low) else 0
        if np.diff(stem[told[told >= since]]).max() <= STEP_SHARE * (now - stem[since]):
            found.append(Lengthening(int(rows[since]), int(rows[i]), None, rest, now))
            open_, run = True, 0
    said = track.habit_row
    return [replace(s, known=max(s.known, said)) for s in found if s.until is None or s.until > said]


def not_leggy_yet(found: Sequence[Lengthening], leggy: Sequence[Spell]) -> list[Lengthening]:
    """Those of a plant that was not leggy when they could be said: of a leggy one nothing more is said."""
    return [s for s in found if not any(p.known <= s.known and (p.until is None or p.until > s.known) for p in leggy)]


def steadied(stem: Floats) -> Floats:
    """(n,) Each stem as the median of it and the two photos before, so that one misread stem is none."""
    out = stem.copy()
    if len(stem) > 2:
        out[2:] = np.median(np.stack([stem[2:], stem[1:-1], stem[:-2]]), axis=0)
    return out


def lengthening_events(track: Track, found: list[Lengthening]) -> list[Event]:
    """One `stretching` event for each time a bare stem lengthened again."""
    return [
        Event(
            track, s.since, s.known, "stretching",
            f"the bare stem lengthens again, from {s.from_mm:.0f} to {s.to_mm:.0f} mm: too little light, too few hours"
            " of it, or too warm",
        )
        for s in found
    ]  # fmt: skip
