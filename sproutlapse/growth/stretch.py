"""Stretching: a plant too tall for its leaf on too long a bare stem, long enough that it is no passing leaf movement.

Three figures are read, height-to-leaf, the bare stem and its share of the height, against the band of the plant's
habit: leaves are seen edge-on from the side, so that the first alone would accuse sturdy plants, while the bare stem is
the same whichever way a plant faces. A run of photos decides, of which four in five must agree for half a day: that is
harder to meet than a day's middle of the best views (which the grades tell) and does not wait for the day to be over.
Kinds that are tall by nature have no such band and are not judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Floats, Track
from sproutlapse.tray import Habit, Judge

Bools = NDArray[np.bool_]

# A run is not broken by a bad photo among so many: at most this share of its photos, and one in the first few, may say
# otherwise. Own proposal.
AGAINST_SHARE = 0.2
# From this share of the height on a stem is all that is seen. Own proposal.
ALL_STEM = 0.95


@dataclass(frozen=True)
class Band:
    """Where a habit's plants count as stretched.

    Attributes
    ----------
    ratio, stem_share, stem_mm
        Beyond all three, a plant is stretched; without a scale the stem is not known in mm, nor its share.
    ratio_alone
        Beyond this height-to-leaf it is where the stem was not measured.
    near_ratio, near_stem_mm
        From here on (with `stem_share`) a plant is near the band: stretching. A leggy plant is leggy until its ratio is
        below.
    """

    ratio: float
    stem_share: float
    ratio_alone: float
    near_ratio: float
    stem_mm: float = 0.0
    near_stem_mm: float = 0.0


@dataclass(frozen=True)
class Spell:
    """A time of being leggy: first row of the run, row at which it was said, row at which it was over (or None)."""

    since: int
    known: int
    until: int | None


def band(habit: Habit | None, judge: Judge) -> Band | None:
    """The band of a habit, or None for kinds that are not judged."""
    if habit not in ("broadleaf", "rosette"):
        return None
    f = judge.rosette_share if habit == "rosette" else 1.0
    return Band(
        f * judge.leggy_ratio, judge.leggy_stem_share, f * judge.leggy_ratio_alone, f * judge.stretching_ratio,
        f * judge.leggy_stem_mm, f * judge.stretching_stem_mm,
    )  # fmt: skip


def judgeable(track: Track, judge: Judge) -> Bools:
    """(n,) Rows in which legginess can be judged: a ratio was measured on a whole plant that is tall enough.

    Without a scale the height is in pixels, and a few of them bear no ratio.
    """
    known = np.isfinite(track.ratio) & (track.ratio > 0) & ~track.cut_off
    with np.errstate(invalid="ignore"):
        return known & (track.height >= (judge.leggy_from_mm if track.in_mm else judge.leggy_from_px))


def beyond(track: Track, limits: Band) -> Bools:
    """(n,) Rows in which a plant is too tall for its leaf: by ratio and share, or by the stricter ratio alone."""
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


def with_kept_stem(track: Track, breaks: Sequence[int] = ()) -> Track:
    """The track with each bare stem at least as long as two photos up to it have shown.

    A bare stem never gets shorter, but now and then it is misread, where a leaf hangs before it. Photos in which all of
    the height seems bare stem bind no later one: a sprout under its hook shows no leaf to tell the stem from. Once a
    cut or a fall is known (the rows `breaks`) it is read anew.
    """
    with np.errstate(invalid="ignore"):
        told = np.where(track.stem_mm < ALL_STEM * track.height, np.nan_to_num(track.stem_mm), 0.0)
    kept = track.stem_mm.copy()
    edges = sorted({0, *breaks, len(kept)})
    for start, end in pairwise(edges):
        stem = told[start:end]
        if len(stem) < 2:
            continue
        highest = np.maximum.accumulate(stem)
        twice = np.maximum.accumulate(np.minimum(stem[1:], highest[:-1]))
        part = kept[start + 1 : end]
        with np.errstate(invalid="ignore"):
            longer = np.minimum(np.maximum(part, twice), track.height[start + 1 : end])
        kept[start + 1 : end] = np.where(np.isfinite(part) & (part < longer), longer, part)
    return replace(track, stem_mm=kept)


def long_stemmed(track: Track, limits: Band) -> Bools:
    """(n,) Rows in which the bare stem is not known to be short."""
    if not track.in_mm:
        return np.ones(len(track.time), np.bool_)
    with np.errstate(invalid="ignore"):
        return ~(track.stem_mm < limits.stem_mm)


def leggy_spells(track: Track, judge: Judge, kind: str = "", *, again: int | None = None) -> list[Spell]:
    """The times of being leggy, each held for `leggy_hours` and `leggy_frames`, and over after as long a time back.

    It is said at the first photo of such a run in which the bare stem is long too. Back is below `near_ratio`, so that
    a plant at the edge of the band does not go in and out.

    Rows in which nothing can be judged neither make nor break a run, nor does a bad photo. A plant below the height
    from which on it is judged is not leggy there, so a run starts anew.

    Parameters
    ----------
    kind
        How a kind grows that is tall by nature (`kinds.tall_by_nature`): such a plant is not judged.
    again
        Row from which on it is known that its bare stem lengthened again; None if it did not.
    """
    limits = band(track.habit, judge)
    if limits is None or kind:
        return []
    judged = judgeable(track, judge)
    into, near = beyond(track, limits), np.full(len(track.time), limits.near_ratio)
    if again is not None:
        less = limits.ratio / judge.leggy_ratio * judge.leggy_again_ratio
        near[again:] = limits.near_ratio / limits.ratio * less
        with np.errstate(invalid="ignore"):
            into[again:] |= ((track.ratio >= less) & (stem_share(track) >= judge.leggy_again_share))[again:]
    into &= judged
    if not into.any():
        return []
    with np.errstate(invalid="ignore"):
        back = ~(judged & (track.ratio >= near))
    rows = np.flatnonzero(np.isfinite(track.ratio) & np.isfinite(track.height) & ~track.cut_off)
    hours, long = track.elapsed_h[rows].tolist(), long_stemmed(track, limits)[rows].tolist()
    stem = track.stem_mm[rows].tolist()
    says = {False: into[rows].tolist(), True: back[rows].tolist()}
    spells: list[Spell] = []
    leggy, run = False, _Run()
    for i, row in enumerate(rows.tolist()):
        if not run.goes_on(i, says[leggy][i]) or not (leggy or long[i]):
            continue
        # A stem that lengthens is no leaf movement: two photos do that show it.
        enough = run.count - run.against >= judge.leggy_frames or (
            not leggy and stem[i] - stem[run.first] >= judge.leggy_stem_gains_mm
        )
        if not enough or hours[i] - hours[run.first] < judge.leggy_hours:
            continue
        if leggy:
            spells[-1] = Spell(spells[-1].since, spells[-1].known, row)
        else:
            spells.append(Spell(int(rows[run.first]), row, None))
        leggy, run = not leggy, _Run()
    # Before the habit is known nothing is said, and what was over by then is past.
    said = track.habit_row
    return [replace(s, known=max(s.known, said)) for s in spells if s.until is None or s.until > said]


@dataclass
class _Run:
    """A run of photos that say the same, but for a few bad ones."""

    first: int = 0
    count: int = 0
    against: int = 0

    def goes_on(self, i: int, says_so: bool) -> bool:
        """Take photo i in; whether it belongs to the run and enough of the others do."""
        if says_so:
            if self.count == 0:
                self.first = i
            self.count += 1
            return self.against <= AGAINST_SHARE * self.count
        if self.count == 0:
            return False
        self.count, self.against = self.count + 1, self.against + 1
        if self.against > max(1, AGAINST_SHARE * self.count):
            self.count = self.against = 0
        return False


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
